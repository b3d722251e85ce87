"""What stands against the week: flags, silent rooms, casts nobody marked or set."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from jobs.models import Flag, PromiseState
from jobs.services.outlook import JobOutlook, PieceOutlook
from shop.models import Room, Shop

NEVER = dt.datetime.max.replace(tzinfo=dt.UTC)


@dataclass(frozen=True)
class Silent:
    """A room whose readings have stopped."""

    room: str
    since: dt.datetime
    hours: float


@dataclass(frozen=True)
class Uncast:
    """A job with pieces that no cast is set for, or whose cast was to be made already."""

    outlook: JobOutlook
    pieces: list[PieceOutlook]
    latest: dt.datetime | None
    late: bool

    @property
    def query(self) -> str:
        return "&".join(f"pieces={piece.piece_id}" for piece in self.pieces)


@dataclass(frozen=True)
class Standing:
    """One of the three; the first of a list is told in full, the others where it is opened."""

    flag: Flag | None = None
    silent: Silent | None = None
    overdue: Uncast | None = None


def spare(flag: Flag) -> float:
    """Hours to spare, less than none where the promise is short."""
    return -abs(flag.hours) if flag.state == PromiseState.SHORT else flag.hours


def standing(
    outlooks: Sequence[JobOutlook], rooms: Sequence[Silent], now: dt.datetime
) -> list[Standing]:
    flags = Flag.objects.filter(cleared_at=None).select_related("job")
    return [
        *(Standing(flag=flag) for flag in sorted(flags, key=spare)),
        *(Standing(silent=room) for room in rooms),
        *(Standing(overdue=entry) for entry in overdue(outlooks, now)),
    ]


def silent(rooms: Sequence[Room], shop: Shop, now: dt.datetime) -> list[Silent]:
    limit = dt.timedelta(hours=shop.stale_after_hours)
    heard = ((room.name, getattr(room, "last_reading", None)) for room in rooms)
    return [
        Silent(name, last, (now - last).total_seconds() / 3600)
        for name, last in heard
        if last is not None and now - last > limit
    ]


def uncast(outlooks: Sequence[JobOutlook]) -> list[Uncast]:
    """Too late first, then the soonest; without a promise last."""
    found = [_uncast(outlook, lambda piece: piece.cast_planned is None) for outlook in outlooks]
    kept = [entry for entry in found if entry.pieces]
    return sorted(kept, key=lambda entry: (not entry.late, entry.latest or NEVER))


def overdue(outlooks: Sequence[JobOutlook], now: dt.datetime) -> list[Uncast]:
    """Jobs whose cast was set for a time that has passed, without a mark that it was made."""
    found = [
        _uncast(outlook, lambda piece: bool(piece.cast_planned and piece.cast_planned < now))
        for outlook in outlooks
    ]
    return [entry for entry in found if entry.pieces]


def _uncast(outlook: JobOutlook, wanted: Callable[[PieceOutlook], bool]) -> Uncast:
    pieces = [p for p in outlook.pieces if p.cast_at is None and wanted(p)]
    latest = min((p.latest_cast for p in pieces if p.latest_cast), default=None)
    late = bool(outlook.promised_at) and any(p.latest_cast is None for p in pieces)
    return Uncast(outlook=outlook, pieces=pieces, latest=None if late else latest, late=late)
