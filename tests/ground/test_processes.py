from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.servers import hear_signals, wait_for
from tests.settings import HOME

Start = Callable[..., "subprocess.Popen[str]"]


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Start]:
    """Starts the programs in a folder of their own, in which each notes how it fares."""
    starters = []

    def run(*kinds: str, before: Callable[[], object] | None = None) -> subprocess.Popen[str]:
        starter = subprocess.Popen(
            [sys.executable, "-m", "tests.ground.starter", *kinds],
            cwd=tmp_path,
            env={**os.environ, "PYTHONPATH": str(HOME)},
            stdout=subprocess.PIPE,
            text=True,
            start_new_session=True,
            preexec_fn=before or hear_signals,  # noqa: PLW1509 (sets a signal's disposition, no more)
        )
        starters.append(starter)
        return starter

    yield run
    for starter in starters:
        starter.kill()
        starter.communicate()
    for note in tmp_path.glob("*.pid"):
        if runs(note):
            os.kill(int(note.read_text()), signal.SIGKILL)


def runs(note: Path) -> bool:
    number = note.read_text()
    if not number:  # stopped before it had written anything
        return False
    try:
        stat = Path(f"/proc/{number}/stat").read_text()
    except FileNotFoundError:
        return False
    return stat.rpartition(")")[2].split()[0] != "Z"


def none_runs(folder: Path) -> bool:
    notes = list(folder.glob("*.pid"))
    return bool(notes) and not any(runs(note) for note in notes)


def up(folder: Path) -> None:
    wait_for((folder / "all.up").exists, "programs that all run")


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_asked_to_stop_it_lets_every_program_leave_in_order(
    start: Start, tmp_path: Path, number: signal.Signals
) -> None:
    starter = start("steady", "parent")
    up(tmp_path)
    starter.send_signal(number)
    said, _ = starter.communicate(timeout=90)
    assert starter.returncode == 0
    assert said.endswith("all stopped\n")
    assert (tmp_path / "steady.left").exists()
    assert none_runs(tmp_path)


def test_asked_twice_at_once_it_still_stops_in_order(start: Start, tmp_path: Path) -> None:
    starter = start("steady")
    up(tmp_path)
    for _ in range(3):  # as make, its shell and the terminal all pass a signal on
        starter.send_signal(signal.SIGTERM)
    said, _ = starter.communicate(timeout=90)
    assert said == "all stopped\n"
    assert starter.returncode == 0
    assert (tmp_path / "steady.left").exists()


def test_when_one_ends_the_others_are_stopped_and_it_is_named(start: Start, tmp_path: Path) -> None:
    starter = start("steady", "failing")
    said, _ = starter.communicate(timeout=90)
    assert said.startswith("failing ended by itself with exit code 3: the sand is out")
    assert none_runs(tmp_path)


def test_one_that_is_killed_is_told_from_one_that_ended(start: Start, tmp_path: Path) -> None:
    starter = start("steady", "stubborn")
    up(tmp_path)
    os.kill(int((tmp_path / "steady.pid").read_text()), signal.SIGKILL)
    said, _ = starter.communicate(timeout=90)
    assert said.startswith("steady was ended by SIGKILL")
    assert none_runs(tmp_path)


def test_one_that_will_not_stop_is_killed_with_its_children(start: Start, tmp_path: Path) -> None:
    starter = start("stubborn", "parent")
    wait_for((tmp_path / "parent-child.up").exists, "child of a program")
    up(tmp_path)
    starter.send_signal(signal.SIGTERM)
    starter.communicate(timeout=90)
    wait_for(lambda: none_runs(tmp_path), "end of all programs")


def test_nothing_is_left_when_the_starter_itself_is_killed(start: Start, tmp_path: Path) -> None:
    starter = start("steady")
    up(tmp_path)
    starter.kill()
    wait_for((tmp_path / "steady.left").exists, "program that left in order")
    wait_for(lambda: none_runs(tmp_path), "end of all programs")


def test_started_with_nohup_it_outlives_the_terminal(start: Start, tmp_path: Path) -> None:
    starter = start("steady", before=lambda: signal.signal(signal.SIGHUP, signal.SIG_IGN))
    up(tmp_path)
    starter.send_signal(signal.SIGHUP)
    with pytest.raises(subprocess.TimeoutExpired):
        starter.wait(timeout=0.5)
    starter.send_signal(signal.SIGTERM)
    said, _ = starter.communicate(timeout=90)
    assert said == "all stopped\n"


def run_lines(folder: Path, *lines: str) -> subprocess.CompletedProcess[str]:
    script = "import os, signal; from pathlib import Path; from tests.ground.starter import *\n"
    return subprocess.run(
        [sys.executable, "-c", script + "\n".join(lines)],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(HOME)},
        capture_output=True,
        text=True,
        timeout=90,
        check=False,
        preexec_fn=hear_signals,
    )


def test_asked_once_more_when_all_have_stopped_it_still_ends_in_order(tmp_path: Path) -> None:
    told = run_lines(
        tmp_path,
        "with Together([program('steady')], os.environ, grace_seconds=30) as together:",
        "    os.kill(os.getpid(), signal.SIGTERM)",
        "    together.wait()",
        "os.kill(os.getpid(), signal.SIGTERM)",
        "print('all stopped')",
    )
    assert (told.stdout, told.stderr) == ("all stopped\n", "")
    assert told.returncode == 0


def test_a_program_that_is_not_there_leaves_nothing_running(tmp_path: Path) -> None:
    told = run_lines(
        tmp_path,
        "lost = Program('lost', ('/no/such/program',), Path('lost.log'))",
        "with Together([program('steady'), lost], os.environ, grace_seconds=2): pass",
    )
    assert "FileNotFoundError" in told.stderr
    assert not any(runs(note) for note in tmp_path.glob("*.pid"))
