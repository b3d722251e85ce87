"""tools/system.sh on machines that lack something, with stand-ins for Debian's commands."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.settings import HOME

Machine = Callable[..., "subprocess.CompletedProcess[str]"]
ALL_LIBRARIES = "libpango-1.0.so.0 libpangoft2-1.0.so.0 libharfbuzz-subset.so.0"
# Notes how it was called; from then on the linker finds the libraries.
APT_GET = """echo "$*" >> "$(dirname "$0")/called"
case "$*" in *install*) mv "$(dirname "$0")/ldconfig.after" "$(dirname "$0")/ldconfig";; esac"""


@pytest.fixture
def machine(tmp_path: Path) -> Machine:
    """Runs the script where only the commands of one folder are to be found."""

    def command(name: str, body: str) -> None:
        (tmp_path / name).write_text(f"#!/bin/sh\n{body}\n")
        (tmp_path / name).chmod(0o755)

    for tool in ["sh", "dirname", "grep", "mktemp", "tail", "rm", "ls", "env", "mv", "cat"]:
        (tmp_path / tool).symlink_to(str(shutil.which(tool)))
    command("fc-list", "echo 'DejaVu Sans'")
    command("ldconfig.after", f"echo {ALL_LIBRARIES}")
    for tool in ("python3", "initdb", "redis-server", "chromium"):
        command(tool, "exit 0")

    def run(what: str, *, libraries: str = "", user: int = 0, **commands: str) -> object:
        command("ldconfig", f"echo '{libraries}'")
        command("id", f"echo {user}")
        for name, body in commands.items():
            command(name.replace("_", "-"), body)
        return subprocess.run(
            [tmp_path / "sh", HOME / "tools" / "system.sh", what],
            env={"PATH": str(tmp_path)},
            capture_output=True,
            text=True,
            timeout=90,
            check=False,
        )

    return run  # type: ignore[return-value]


def called(folder: Path) -> list[str]:
    calls = folder / "called"
    return calls.read_text().splitlines() if calls.exists() else []


@pytest.mark.parametrize("what", ["run", "test"])
def test_where_all_is_there_nothing_is_installed(
    machine: Machine, tmp_path: Path, what: str
) -> None:
    done = machine(what, libraries=ALL_LIBRARIES, apt_get=APT_GET)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    assert called(tmp_path) == []


def test_only_what_is_missing_is_installed(machine: Machine, tmp_path: Path) -> None:
    done = machine("run", libraries="libpango-1.0.so.0", apt_get=APT_GET)
    assert done.returncode == 0, done.stderr
    assert called(tmp_path)[0] == "update"
    assert called(tmp_path)[1].split()[-2:] == ["libpangoft2-1.0-0", "libharfbuzz-subset0"]


def test_the_tests_ask_for_their_servers_too(machine: Machine, tmp_path: Path) -> None:
    for name in ("redis-server", "chromium"):
        (tmp_path / name).unlink()
    done = machine("test", libraries=ALL_LIBRARIES, apt_get="exit 100")
    assert done.stdout.split()[-2:] == ["redis-server", "chromium-headless-shell"]
    assert done.returncode == 1


@pytest.mark.parametrize("browser", ["chromium", "chromium-headless-shell"])
def test_either_chromium_will_do(machine: Machine, tmp_path: Path, browser: str) -> None:
    (tmp_path / "chromium").rename(tmp_path / browser)
    done = machine("test", libraries=ALL_LIBRARIES, apt_get=APT_GET)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    assert called(tmp_path) == []


def test_who_is_not_root_asks_sudo(machine: Machine, tmp_path: Path) -> None:
    done = machine("run", user=1000, apt_get=APT_GET, sudo='echo sudo >> "${0%/*}/called"; "$@"')
    assert done.returncode == 0, done.stderr
    assert called(tmp_path)[:2] == ["sudo", "update"]


@pytest.mark.parametrize("commands", [{}, {"apt_get": APT_GET}])
def test_who_cannot_install_is_told_what_to_ask_for(
    machine: Machine, tmp_path: Path, commands: dict[str, str]
) -> None:
    done = machine("run", user=1000, **commands)
    assert done.returncode == 1
    assert "apt-get install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0" in done.stderr
    assert called(tmp_path) == []


def test_a_failed_installation_shows_what_apt_said(machine: Machine) -> None:
    done = machine("run", apt_get="echo 'E: no space left' >&2; exit 100")
    assert done.returncode == 1
    assert "E: no space left" in done.stderr
    assert "could not install" in done.stderr


def test_an_installation_that_changed_nothing_is_noticed(machine: Machine) -> None:
    done = machine("run", apt_get="exit 0")
    assert done.returncode == 1
    assert "Still missing after installing: libpango-1.0-0" in done.stderr


def test_a_word_it_does_not_know_is_refused(machine: Machine) -> None:
    assert machine("everything").returncode == 2
