"""Refusals of the work's own.

Refused
├── Conflict
├── TooEarly       the concrete does not allow the step yet; a reason would
├── OutOfOrder     a step before it is not marked
└── AlreadyMarked  somebody else was first
"""

from __future__ import annotations

import datetime as dt

from jobs.models import Mark
from shop.services.errors import Conflict, Refused

__all__ = ["AlreadyMarked", "Conflict", "OutOfOrder", "Refused", "TooEarly"]


class TooEarly(Refused):
    def __init__(self, message: str, *, earliest: dt.datetime | None, governs: str) -> None:
        super().__init__(message, field="reason")
        self.earliest = earliest
        self.governs = governs


class OutOfOrder(Refused):
    pass


class AlreadyMarked(Refused):
    def __init__(self, message: str, *, mark: Mark) -> None:
        super().__init__(message)
        self.mark = mark
