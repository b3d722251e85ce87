"""Throwaway servers for one run of the tests. They end with it, even when it is killed."""

from __future__ import annotations

import ctypes
import os
import pwd
import shutil
import signal
import socket
import subprocess
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path

INITDB = [
    "-U",
    "postgres",
    "-A",
    "trust",
    "-E",
    "UTF8",
    "--locale=C.UTF-8",
    "--no-sync",
    "--no-instructions",
]
_libc = ctypes.CDLL(None)


class ServerTrouble(Exception):
    pass


def free_port() -> int:
    with socket.socket() as trial:
        trial.bind(("127.0.0.1", 0))
        return int(trial.getsockname()[1])


def hear_signals() -> None:
    """Run in a child: whoever runs the tests in the background ignores Ctrl-C; the child does not."""
    for number in (signal.SIGINT, signal.SIGQUIT, signal.SIGHUP):
        signal.signal(number, signal.SIG_DFL)


def wait_for(
    holds: Callable[[], object], what: str, seconds: float = 90, every: float = 0.05
) -> None:
    """Ask again and again until it holds; a test that waits says what for."""
    deadline = time.monotonic() + seconds
    while not holds():
        if time.monotonic() > deadline:
            raise AssertionError(f"After {seconds:g} s there is still no {what}.")
        threading.Event().wait(every)


@contextmanager
def running(
    command: Sequence[str | Path],
    log: Path,
    *,
    user: str | None = None,
    stop: signal.Signals = signal.SIGTERM,
    environment: Mapping[str, str] | None = None,
) -> Iterator[subprocess.Popen[bytes]]:
    """A program that is told to `stop` at the end, by the kernel if need be."""

    def follow_parent() -> None:
        _libc.prctl(1, stop)

    with log.open("ab") as output:
        process = subprocess.Popen(
            [str(part) for part in command],
            env=environment,
            stdin=subprocess.DEVNULL,
            stdout=output,
            stderr=subprocess.STDOUT,
            start_new_session=True,
            preexec_fn=follow_parent,  # noqa: PLW1509 (before other threads start)
            **_as_user(user),
        )
    try:
        yield process
    finally:
        process.send_signal(stop)
        try:
            process.wait(timeout=60)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()


def _as_user(user: str | None) -> dict[str, object]:
    if user is None:
        return {}
    return {"user": user, "group": pwd.getpwnam(user).pw_gid, "extra_groups": []}


def _postgres_program(name: str) -> Path:
    installed = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"), key=_major, reverse=True)
    found = installed[0] if installed else shutil.which(name)
    if found is None:
        raise ServerTrouble(f"There is no {name}: run tools/system.sh test, which installs it.")
    return Path(found)


def _major(path: Path) -> float:
    return float(path.parts[4])


@contextmanager
def postgresql(folder: Path) -> Iterator[None]:
    """A cluster in `folder`, reached by a socket there: two runs at once can't meet."""
    user = "postgres" if os.geteuid() == 0 else None  # the server refuses to run as root
    folder.mkdir(mode=0o700)
    if user:
        shutil.chown(folder, user, pwd.getpwnam(user).pw_gid)
    data, log = folder / "data", folder.with_suffix(".log")
    made = subprocess.run(
        [_postgres_program("initdb"), "-D", data, *INITDB],
        capture_output=True,
        cwd="/",
        check=False,
        **_as_user(user),
    )
    if made.returncode:
        raise ServerTrouble(made.stderr.decode(errors="replace"))
    careless = ("fsync=off", "synchronous_commit=off", "full_page_writes=off", "autovacuum=off")
    command = [_postgres_program("postgres"), "-D", data, "-k", folder, "-c", "listen_addresses="]
    for setting in (*careless, "max_connections=120", "shared_buffers=64MB"):
        command += ["-c", setting]
    with running(command, log, user=user, stop=signal.SIGQUIT) as process:
        asking = [_postgres_program("pg_isready"), "-q", "-h", folder]
        _until_up(process, log, lambda: subprocess.run(asking, check=False).returncode == 0)
        subprocess.run(
            [_postgres_program("createdb"), "-h", folder, "-U", "postgres", "curewright"],
            check=True,
        )
        yield


@contextmanager
def redis(folder: Path) -> Iterator[str]:
    """A server that keeps nothing on disk; yields its address."""
    port = free_port()
    folder.mkdir()
    program = shutil.which("redis-server")
    if program is None:
        raise ServerTrouble("There is no redis-server: run tools/system.sh test first.")
    command = [program, "--port", str(port), "--bind", "127.0.0.1", "--dir", str(folder)]
    log = folder / "log"
    with running([*command, "--save", ""], log) as process:
        _until_up(process, log, lambda: _redis_answers(port))
        yield f"redis://127.0.0.1:{port}/0"


def _redis_answers(port: int) -> bool:
    try:
        with socket.create_connection(("127.0.0.1", port), timeout=1) as connection:
            connection.sendall(b"PING\r\n")
            return connection.recv(16).startswith(b"+PONG")
    except OSError:
        return False


def _until_up(process: subprocess.Popen[bytes], log: Path, answers: Callable[[], bool]) -> None:
    def up_or_ended() -> bool:
        return process.poll() is not None or answers()

    wait_for(up_or_ended, "server that answers")
    if process.poll() is not None:
        raise ServerTrouble(f"{process.args!r} ended:\n{log.read_text(errors='replace')}")
