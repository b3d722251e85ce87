"""The whole app with an invented shop, on this machine alone: no server has to be installed.

`python -m tools.demo run --port 8000` starts web server, workers and clock; `reset` throws the
demo's data away. What the shell's environment says of a real installation is left out.
"""

from __future__ import annotations

import argparse
import fcntl
import http.client
import os
import shutil
import socket
import subprocess
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from tools.processes import Program, Together, follow_parent

HOME = Path(__file__).resolve().parent.parent
VAR = Path(os.environ.get("CUREWRIGHT_VAR") or HOME / "var").resolve()
STARTS_WITHIN = 180  # seconds; a machine that is busy otherwise needs more than one minute
COMPILED = "CUREWRIGHT_COMPILED"  # nothing of a shop's: what was compiled of this code
OF_A_REAL_SHOP = {"DATABASE_URL", "REDIS_URL", "DJANGO_SETTINGS_MODULE"}


class CannotRun(Exception):
    """Its text says what is wrong and what to do."""


def environment(port: int) -> dict[str, str]:
    kept = {
        name: value
        for name, value in os.environ.items()
        if name == COMPILED
        or (name not in OF_A_REAL_SHOP and not name.startswith(("CUREWRIGHT_", "CELERY_")))
    }
    return kept | {
        "CUREWRIGHT_DEMO": "yes",
        "CUREWRIGHT_VAR": str(VAR),
        "CUREWRIGHT_URL": f"http://127.0.0.1:{port}",
        "PYTHONUNBUFFERED": "1",
    }


def programs(port: int) -> list[Program]:
    """The web server, the workers and the clock that wakes them, as in production but for size."""
    arguments = {
        "web": f"gunicorn shop.wsgi --bind 127.0.0.1:{port} --worker-class gthread --workers 2"
        " --threads 4 --graceful-timeout 5 --no-control-socket --access-logfile -",
        "worker": "celery -A shop worker --pool solo --loglevel INFO --without-mingle",
        "planner": "celery -A shop worker --pool solo --loglevel INFO --without-mingle"
        " --queues plan --hostname planner@%h",
        "beat": "celery -A shop beat --loglevel INFO --pidfile=",
    }
    return [
        Program(name, (sys.executable, "-m", *line.split()), VAR / "log" / f"{name}.log")
        for name, line in arguments.items()
    ]


@contextmanager
def alone() -> Iterator[None]:
    """Two demos in one folder would share a queue and a clock."""
    VAR.mkdir(parents=True, exist_ok=True)
    with (VAR / "demo.lock").open("w") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise CannotRun(
                f"A demo already runs on {VAR}. Stop it first (Ctrl-C where it runs)."
            ) from None
        yield


def refuse_taken(port: int) -> None:
    if not 1024 <= port <= 65535:
        raise CannotRun(f"Port {port} cannot be used: choose one from 1024 to 65535.")
    with socket.socket() as trial:
        trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            trial.bind(("127.0.0.1", port))
        except OSError:
            raise CannotRun(
                f"Port {port} is used by another program. Stop that one, or choose another port: "
                f"make demo PORT={port + 1}"
            ) from None


def begin(env: Mapping[str, str], *command: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen(  # noqa: S603 (this project's own commands)
        [sys.executable, "manage.py", *command],
        env=env,
        stdin=subprocess.DEVNULL,
        preexec_fn=follow_parent,  # noqa: PLW1509 (it ends with this program, and no more)
    )


def manage(env: Mapping[str, str], *command: str) -> None:
    through(begin(env, *command), *command)


def through(step: subprocess.Popen[bytes], *command: str) -> None:
    if step.wait():
        raise CannotRun(f"'manage.py {' '.join(command)}' failed: what it said stands above.")


def answers(port: int) -> bool:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
    try:
        connection.request("GET", "/health/")
        return connection.getresponse().status == http.HTTPStatus.OK
    except (OSError, http.client.HTTPException):
        return False
    finally:
        connection.close()


def run(port: int) -> None:
    env = environment(port)
    with alone():
        refuse_taken(port)
        for folder in ("log", "static"):
            (VAR / folder).mkdir(exist_ok=True)
        print("Setting up: some seconds, or a minute or two the first time.", flush=True)
        # The planner's loops are compiled meanwhile, the first time.
        compiling = begin(env, "warm_planner")
        try:
            manage(env, "migrate", "--verbosity", "0", "--skip-checks")
            manage(env, "load_demo")
            through(compiling, "warm_planner")
        finally:
            if compiling.poll() is None:
                compiling.terminate()
                compiling.wait()
        with Together(programs(port), env) as together:
            if together.wait(until=lambda: answers(port), seconds=STARTS_WITHIN):
                print(f"\nCurewright is up: http://127.0.0.1:{port}/\n", flush=True)
                manage(env, "demo_logins")
                print(f"\nLogs are in {VAR / 'log'}. Ctrl-C stops it.", flush=True)
                together.wait()
            report_end(together)
    print("Stopped.", flush=True)


def report_end(together: Together) -> None:
    if together.asked_to_stop:
        print("\nStopping ...", flush=True)
        return
    ended = together.first_ended()
    if ended is None:
        minutes = STARTS_WITHIN // 60
        raise CannotRun(f"The web server did not answer in {minutes} minutes: see {VAR / 'log'}.")
    raise CannotRun(
        f"{ended.last_lines()}\n\nThe {ended.program.name} process {ended.how}, so all were "
        f"stopped. Its last lines stand above; the whole log is {ended.program.log}."
    )


def reset() -> None:
    with alone():
        for ending in ("", "-wal", "-shm"):
            (VAR / f"curewright.sqlite3{ending}").unlink(missing_ok=True)
        for folder in ("queue", "outbox"):
            shutil.rmtree(VAR / folder, ignore_errors=True)
    print("The demo's data is gone: the next 'make demo' starts over.")


def main(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="python -m tools.demo", description=__doc__)
    parser.add_argument("what", choices=["run", "reset"])
    parser.add_argument("--port", type=int, default=8000)
    asked = parser.parse_args(arguments)
    os.chdir(HOME)
    try:
        if asked.what == "run":
            run(asked.port)
        else:
            reset()
    except CannotRun as trouble:
        print(trouble, file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\nStopped.", file=sys.stderr)
        return 130
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
