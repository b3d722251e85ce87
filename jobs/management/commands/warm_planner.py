from __future__ import annotations

import sys
from importlib.metadata import version
from typing import Any

from django.core.management.base import BaseCommand
from llvmlite.binding import get_host_cpu_name

from jobs.planning.compiled import HERE, keep_compiled


class Command(BaseCommand):
    help = "Compile the planner's loops, so that the first plan does not wait for it."
    requires_system_checks: list[str] = []

    def handle(self, *args: Any, **options: Any) -> None:
        told = keep_compiled() / "warm"
        state = _state()
        if told.exists() and told.read_text() == state:
            return
        # Even where all of it is kept, to load and use it takes some seconds.
        from jobs.planning.warm import compile_all

        compile_all()
        told.parent.mkdir(parents=True, exist_ok=True)
        told.write_text(state)


def _state() -> str:
    """All by which numba knows what it has kept: a file that is written anew is compiled anew."""
    sources = (path.stat() for path in sorted(HERE.glob("*.py")))
    return "\n".join(
        [
            f"numba {version('numba')}, {get_host_cpu_name()}, Python {sys.version}",
            str(HERE),
            *(f"{file.st_mtime_ns} {file.st_size}" for file in sources),
        ]
    )
