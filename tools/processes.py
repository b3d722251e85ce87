"""Several programs run as one: they start together, and none outlives the others or its starter."""

from __future__ import annotations

import ctypes
import os
import signal
import subprocess
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType

PR_SET_PDEATHSIG = 1
ASKS_TO_STOP = {signal.SIGINT, signal.SIGTERM, signal.SIGHUP}
_libc = ctypes.CDLL(None)


def follow_parent() -> None:
    """Run in the child: hear signals again, and end when the parent is killed outright."""
    signal.pthread_sigmask(signal.SIG_UNBLOCK, ASKS_TO_STOP | {signal.SIGCHLD})
    _libc.prctl(PR_SET_PDEATHSIG, signal.SIGTERM)


@dataclass(frozen=True)
class Program:
    name: str
    command: Sequence[str]
    log: Path


@dataclass(frozen=True)
class Ended:
    program: Program
    code: int

    @property
    def how(self) -> str:
        if self.code < 0:
            return f"was ended by {signal.Signals(-self.code).name}"
        return f"ended by itself with exit code {self.code}"

    def last_lines(self, count: int = 15) -> str:
        return "\n".join(self.program.log.read_text(errors="replace").splitlines()[-count:])


class Together:
    """Used by `with`: starts the programs on entering, has all of them stopped on leaving.

    Signals are waited for, not handled: nothing can interrupt the stopping half-way. Who
    was asked to stop hears no more of it afterwards: it is about to end.
    It must be entered from a process without other threads.
    """

    def __init__(
        self, programs: Sequence[Program], environment: Mapping[str, str], grace_seconds: float = 12
    ) -> None:
        self.programs = programs
        self.environment = environment
        self.grace_seconds = grace_seconds
        self.asked_to_stop = False
        self._running: list[tuple[Program, subprocess.Popen[bytes]]] = []
        # One that was started with nohup, or in the background, goes on ignoring what they ignore.
        self._stopping = {s for s in ASKS_TO_STOP if signal.getsignal(s) is not signal.SIG_IGN}
        self._watched = self._stopping | {signal.SIGCHLD}
        self._mask: set[signal.Signals] = set()

    def __enter__(self) -> Together:
        self._mask = {
            signal.Signals(s) for s in signal.pthread_sigmask(signal.SIG_BLOCK, self._watched)
        }
        try:
            for program in self.programs:
                self._running.append((program, self._start(program)))
        except BaseException:
            self._leave()
            raise
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._leave()

    def first_ended(self) -> Ended | None:
        for program, process in self._running:
            code = process.poll()
            if code is not None:
                return Ended(program, code)
        return None

    def wait(self, until: Callable[[], bool] | None = None, seconds: float | None = None) -> bool:
        """True once `until` holds; False when asked to stop, when one has ended or time is over."""
        deadline = None if seconds is None else time.monotonic() + seconds
        while not self.asked_to_stop and self.first_ended() is None:
            if until is not None and until():
                return True
            if deadline is not None and time.monotonic() > deadline:
                return False
            self._listen(0.2 if until or deadline else None)
        return False

    def _start(self, program: Program) -> subprocess.Popen[bytes]:
        with program.log.open("wb") as log:
            return subprocess.Popen(  # noqa: S603 (the commands are the caller's own)
                program.command,
                env=self.environment,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=subprocess.STDOUT,
                # Of its own session, so that the terminal's Ctrl-C reaches only this process.
                start_new_session=True,
                preexec_fn=follow_parent,  # noqa: PLW1509 (no other threads here)
            )

    def _listen(self, seconds: float | None) -> None:
        if seconds is None:
            got: int | None = signal.sigwait(self._watched)
        else:
            heard = signal.sigtimedwait(self._watched, seconds)
            got = heard.si_signo if heard else None
        if got in self._stopping:
            self.asked_to_stop = True

    def _leave(self) -> None:
        self._tell_all(signal.SIGTERM)
        deadline = time.monotonic() + self.grace_seconds
        while self._some_run() and (left := deadline - time.monotonic()) > 0:
            self._listen(left)
        self._tell_all(signal.SIGKILL)
        for _, process in self._running:
            process.wait()
        while signal.sigtimedwait(self._watched, 0):  # asked again while stopping: it is done
            pass
        # One that comes later still must not look as if something had been killed.
        deaf = self._stopping if self.asked_to_stop else set()
        signal.pthread_sigmask(signal.SIG_SETMASK, self._mask | deaf)

    def _some_run(self) -> bool:
        return any(process.poll() is None for _, process in self._running)

    def _tell_all(self, number: signal.Signals) -> None:
        for _, process in self._running:
            with suppress(ProcessLookupError):
                os.killpg(process.pid, number)
