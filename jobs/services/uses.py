"""The four days that people ask for: handled, away from the shop, lightly used, fully used.

Likely, or each by its late time, which is what may be told.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from jobs.services.outlook import PieceOutlook


@dataclass(frozen=True)
class Uses:
    """None: not within the time that is looked ahead, or not known."""

    handle_at: dt.datetime | None
    leave_at: dt.datetime | None
    light_at: dt.datetime | None
    full_at: dt.datetime | None


def uses_of(piece: PieceOutlook) -> Uses:
    return Uses(piece.handle_at, piece.ready_at, piece.light_use_at, piece.full_use_at)


def late_uses_of(piece: PieceOutlook) -> Uses:
    return Uses(piece.handle_late, piece.ready_late, piece.light_use_late, piece.full_use_late)


def uses_of_job(pieces: Sequence[PieceOutlook], *, late: bool = False) -> Uses:
    """A job's are those of its last piece in each; none while one piece has none."""
    rows = [late_uses_of(piece) if late else uses_of(piece) for piece in pieces]
    return Uses(
        last_of(row.handle_at for row in rows),
        last_of(row.leave_at for row in rows),
        last_of(row.light_at for row in rows),
        last_of(row.full_at for row in rows),
    )


def last_of(moments: Iterable[dt.datetime | None]) -> dt.datetime | None:
    found = list(moments)
    known = [moment for moment in found if moment]
    return max(known) if known and len(known) == len(found) else None
