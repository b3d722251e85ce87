"""The planner's loops are compiled once for a state of the code, not at each start."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.management import call_command

from jobs.planning import warm
from jobs.planning.compiled import HERE, state_of
from tests.servers import wait_for


def test_what_is_kept_already_is_not_made_again(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    made: list[str] = []
    monkeypatch.setattr(warm, "compile_all", lambda: made.append("all of it"))
    monkeypatch.setenv("NUMBA_CACHE_DIR", os.environ["NUMBA_CACHE_DIR"])  # put back afterwards
    monkeypatch.setenv("CUREWRIGHT_COMPILED", str(tmp_path))

    call_command("warm_planner")
    call_command("warm_planner")
    assert len(made) == 1

    told = tmp_path / state_of(HERE) / "warm"
    told.write_text(told.read_text().replace("numba ", "numba 1000."))  # another one's
    call_command("warm_planner")
    assert len(made) == 2

    told.unlink()
    call_command("warm_planner")
    assert len(made) == 3


def test_what_broke_off_is_made_again(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def broken() -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(warm, "compile_all", broken)
    monkeypatch.setenv("NUMBA_CACHE_DIR", os.environ["NUMBA_CACHE_DIR"])
    monkeypatch.setenv("CUREWRIGHT_COMPILED", str(tmp_path))
    with pytest.raises(KeyboardInterrupt):
        call_command("warm_planner")
    assert list(tmp_path.rglob("warm")) == []


def test_whoever_is_killed_while_compiling_leaves_nobody_behind(tmp_path: Path) -> None:
    # Not by the tests' settings, which have the folder where all of it is compiled already.
    env = {
        **os.environ, "DJANGO_SETTINGS_MODULE": "shop.settings", "CUREWRIGHT_DEMO": "yes",
        "CUREWRIGHT_VAR": str(tmp_path), "CUREWRIGHT_COMPILED": str(tmp_path),
    }  # fmt: skip
    compiling = subprocess.Popen(
        [sys.executable, "manage.py", "warm_planner"], env=env, start_new_session=True
    )
    try:
        wait_for(lambda: len(at_work(compiling.pid)) == 2, "pair of processes that compile")
    finally:
        compiling.send_signal(signal.SIGTERM)
        assert compiling.wait() == -signal.SIGTERM
    wait_for(lambda: not at_work(compiling.pid), "end of both", 30)


def at_work(session: int) -> list[int]:
    """Processes that were begun for the parts, of all that belong to the session."""
    found = []
    for folder in Path("/proc").iterdir():
        if folder.name.isdigit():
            try:
                mine = os.getsid(int(folder.name)) == session
                line = (folder / "cmdline").read_bytes()
            except OSError:  # it has ended meanwhile
                continue
            if mine and b"spawn_main" in line:
                found.append(int(folder.name))
    return found
