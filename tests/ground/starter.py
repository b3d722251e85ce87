"""Starts the programs named on the command line together, as the demo does. Run by the tests."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from tools.processes import Program, Together

NOTE_PID = "import os, signal, sys; from pathlib import Path; name = sys.argv[1]; "
NOTE_PID += "Path(name + '.pid').write_text(str(os.getpid()))"
KINDS = {
    "steady": """
def leave(*_):
    Path(name + '.left').touch()
    sys.exit(0)
signal.signal(signal.SIGTERM, leave)
Path(name + '.up').touch()
while True: signal.pause()
""",
    "stubborn": """
signal.signal(signal.SIGTERM, signal.SIG_IGN)
Path(name + '.up').touch()
while True: signal.pause()
""",
    "parent": """
child = os.fork()
if child == 0: name += '-child'
Path(name + '.pid').write_text(str(os.getpid()))
signal.signal(signal.SIGTERM, signal.SIG_IGN if child == 0 else signal.SIG_DFL)
Path(name + '.up').touch()
while True: signal.pause()
""",
    "failing": "print('the sand is out', flush=True); sys.exit(3)",
}


def program(kind: str) -> Program:
    command = (sys.executable, "-c", f"{NOTE_PID}\n{KINDS[kind]}", kind)
    return Program(kind, command, Path(f"{kind}.log"))


def main(kinds: list[str]) -> None:
    # Only one that will not stop uses its grace up; the others may need it on a busy machine.
    grace = 2 if "stubborn" in kinds else 30
    with Together([program(kind) for kind in kinds], os.environ, grace_seconds=grace) as together:
        together.wait(until=lambda: all(Path(f"{kind}.up").exists() for kind in kinds), seconds=60)
        Path("all.up").touch()
        together.wait()
        if ended := together.first_ended():
            print(f"{ended.program.name} {ended.how}: {ended.last_lines()}")
    print("all stopped")


if __name__ == "__main__":
    main(sys.argv[1:])
