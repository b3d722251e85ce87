"""Everything the week's page shows, gathered in a number of queries that no row count changes."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from django.db.models import OuterRef, Subquery

from jobs.board.air import RoomAir, room_airs
from jobs.board.days import Day, Stretch, fill, week_days
from jobs.board.detail import Detail, detail_of
from jobs.board.drawing import JobLine, job_line, swatches, touches
from jobs.board.filters import Filters, chosen
from jobs.board.week import NoSuchWeek, Week, read_week, week_of
from jobs.board.words import summary
from jobs.board.work import casts_of, installs_of
from jobs.models import Flag, PromiseState
from jobs.services.outlook import JobOutlook, PieceOutlook
from jobs.services.readiness import open_outlooks
from shop.models import Change, Person, Reading, Room, Shop
from shop.services.climate import climates

# As far back as the expected air still remembers how the last readings sat from the plan.
REMEMBERED = dt.timedelta(days=8)
NEVER = dt.datetime.max.replace(tzinfo=dt.UTC)


@dataclass(frozen=True)
class StateChoice:
    value: str
    label: str
    count: int
    chosen: bool


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
class Sheet:
    week: Week
    filters: Filters
    trouble: str
    now: dt.datetime
    now_x: float | None
    days: list[Day]
    nights: list[Stretch]
    airs: list[RoomAir]
    lines: list[JobLine]
    elsewhere: list[JobOutlook]
    uncast: list[Uncast]
    overdue: list[Uncast]
    summary: str
    flags: list[Flag]
    silent: list[Silent]
    states: list[StateChoice]
    rooms: list[Room]
    people: list[Person]
    opened: Detail | None
    swatches: list[str]
    edition: int
    any_job: bool
    changing: bool  # a fact has changed and its dates are not worked out yet

    @property
    def drawn(self) -> int:
        return int(self.now.timestamp())

    @property
    def idle(self) -> bool:
        return not any(day.busy for day in self.days)

    @property
    def is_this_week(self) -> bool:
        return self.week.holds(self.now)

    @property
    def before_query(self) -> str:
        return self.filters.query(week=self.week.before.written)

    @property
    def after_query(self) -> str:
        return self.filters.query(week=self.week.after.written)

    @property
    def this_query(self) -> str:
        return self.filters.query(week="")

    @property
    def all_query(self) -> str:
        return self.filters.query(state=(), room=None, person=None)

    @property
    def closed_query(self) -> str:
        return self.filters.query(open="")

    @property
    def open_query(self) -> str:
        """Ends where a job's number is put."""
        query = self.closed_query
        return f"{query}&open=" if query else "?open="


def sheet(shop: Shop, filters: Filters, now: dt.datetime) -> Sheet:
    week, trouble = _week(filters, now, shop)
    outlooks = open_outlooks()
    shown = chosen(outlooks, filters)
    here = [outlook for outlook in shown if touches(outlook, week)]
    rooms = list(_rooms_with_last_reading())
    days, nights = week_days(week, shop, now)
    waiting = {p.piece_id for o in outlooks for p in o.pieces if p.cast_at is None}
    fill(days, casts_of(week, waiting, now), installs_of(week), week)
    return Sheet(
        week=week,
        filters=filters,
        trouble=trouble,
        now=now,
        now_x=round(week.place(now), 3) if week.holds(now) else None,
        days=days,
        nights=nights,
        airs=_airs(rooms, week, now, shop),
        lines=[job_line(outlook, week, now) for outlook in here],
        elsewhere=[outlook for outlook in shown if outlook not in here],
        uncast=uncast(shown),
        overdue=overdue(shown, now),
        summary=summary(outlooks),
        flags=list(Flag.objects.filter(cleared_at=None).select_related("job")),
        silent=silent(rooms, shop, now),
        states=state_choices(outlooks, filters),
        rooms=rooms,
        people=list(Person.objects.filter(is_active=True)),
        opened=_opened(outlooks, filters.opened),
        swatches=swatches(),
        edition=shop.edition,
        any_job=bool(outlooks),
        changing=Change.objects.exists(),
    )


def _week(filters: Filters, now: dt.datetime, shop: Shop) -> tuple[Week, str]:
    try:
        return read_week(filters.week, now, shop.zone), ""
    except NoSuchWeek as error:
        return week_of(now, shop.zone), f"{error} Here is this week."


def _rooms_with_last_reading() -> Iterable[Room]:
    last = Reading.objects.filter(room=OuterRef("pk")).order_by("-at").values("at")[:1]
    return Room.objects.filter(in_use=True).annotate(last_reading=Subquery(last))


def _airs(rooms: Sequence[Room], week: Week, now: dt.datetime, shop: Shop) -> list[RoomAir]:
    near = abs(week.starts - now) < REMEMBERED
    since = min(week.starts, now) if near else week.starts
    # With the reading after its end, so that a past week is measured to its last minute.
    until = week.ends + dt.timedelta(hours=shop.stale_after_hours)
    found = climates(rooms, since=since, until=until, now=now, shop=shop)
    return room_airs(rooms, found, week, now=now, shop=shop)


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


def state_choices(outlooks: Sequence[JobOutlook], filters: Filters) -> list[StateChoice]:
    counts = Counter(outlook.state for outlook in outlooks)
    order = (
        PromiseState.SHORT,
        PromiseState.TIGHT,
        PromiseState.HOLDS,
        PromiseState.NONE,
        PromiseState.KEPT,
    )
    return [
        StateChoice(state, str(state.label), counts[state], state in filters.states)
        for state in order
        if counts[state] or state in filters.states
    ]


def _opened(outlooks: Sequence[JobOutlook], number: str) -> Detail | None:
    outlook = next((outlook for outlook in outlooks if outlook.number == number), None)
    return detail_of(outlook) if outlook else None
