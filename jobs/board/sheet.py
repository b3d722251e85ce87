"""Everything the week's page shows, gathered in a number of queries that no row count changes."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import OuterRef, Subquery

from jobs.board.air import RoomAir, room_airs
from jobs.board.days import Day, Stretch, fill, week_days
from jobs.board.detail import Detail, detail_of
from jobs.board.drawing import JobLine, job_line, swatches, touches
from jobs.board.filters import Filters, chosen
from jobs.board.standing import Standing, Uncast, silent, standing, uncast
from jobs.board.week import NoSuchWeek, Week, read_week, week_of
from jobs.board.words import judged_by, summary
from jobs.board.work import casts_of, installs_of
from jobs.models import PromiseState
from jobs.services.outlook import JobOutlook
from jobs.services.readiness import open_outlooks
from jobs.services.short_words import Why, short_on_board
from shop.models import Change, Person, Reading, Room, Shop
from shop.services.climate import climates

# As far back as the expected air still remembers how the last readings sat from the plan.
REMEMBERED = dt.timedelta(days=8)


@dataclass(frozen=True)
class StateChoice:
    value: str
    label: str
    count: int
    chosen: bool


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
    standing: list[Standing]
    summary: str
    judged_by: str
    why_short: Why
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
    here = [outlook for outlook in sorted(shown, key=urgency) if touches(outlook, week)]
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
        standing=standing(shown, silent(rooms, shop, now), now),
        summary=summary(outlooks),
        judged_by=judged_by(outlooks),
        why_short=short_on_board(outlooks),
        states=state_choices(outlooks, filters),
        rooms=rooms,
        people=list(Person.objects.filter(is_active=True)),
        opened=_opened(outlooks, filters.opened),
        swatches=swatches(),
        edition=shop.edition,
        any_job=bool(outlooks),
        changing=Change.objects.exists(),
    )


def urgency(outlook: JobOutlook) -> int:
    """Short and tight promises come first, what has left the shop comes last."""
    return {PromiseState.SHORT: 0, PromiseState.TIGHT: 1, PromiseState.KEPT: 3}.get(
        PromiseState(outlook.state), 2
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
