"""What a service refuses, in words a person can act on.

Refused
├── Conflict       somebody else changed it meanwhile; `theirs` says what stands now
└── (jobs.services.errors adds its own)
"""

from __future__ import annotations


class Refused(Exception):
    """The message is shown to the person as it is. Nothing was changed."""

    def __init__(self, message: str, *, field: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.field = field


class Conflict(Refused):
    def __init__(self, message: str, *, version: int, theirs: dict[str, str]) -> None:
        super().__init__(message)
        self.version = version
        self.theirs = theirs
