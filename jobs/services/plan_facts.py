"""What the planner is filled from, read in a number of queries that does not grow with rows."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, field, replace
from itertools import count

from django.db.models import prefetch_related_objects

from jobs.models import FormSetUp, InstallDate, Job, Mark, Measured, Piece, PlannedStep, Weighing
from jobs.services.facts import Facts, load_facts, promise_moment
from shop.localtime import settle
from shop.models import CastingTable, Mix, Room, Route, Sealer, Stations
from shop.services.calendar import closed_days
from shop.services.crew import Hand, planned_people, stations

CLOSED_KNOWN = dt.timedelta(days=400)  # further than any plan looks
COAT = 0.0047625  # 3/16 in, as the demo's pieces; a draft's face coat matters only to its weight
LETTERS = [chr(65 + n) for n in range(26)]


@dataclass(frozen=True)
class PlanFacts:
    """Facts, and what only a plan asks for. `basis` says where the people come from."""

    facts: Facts
    hands: tuple[Hand, ...]
    basis: str
    tables: tuple[CastingTable, ...]
    stations: Stations
    forms: Mapping[int, FormSetUp] = field(default_factory=dict)  # by piece
    planned: Mapping[int, tuple[PlannedStep, ...]] = field(default_factory=dict)  # by piece
    closed: frozenset[dt.date] = frozenset()  # holidays and the like, not the week's free days

    @property
    def fell_back(self) -> bool:
        return self.basis != "entered"

    def orders(self) -> list[Order]:
        """By promise, those without one last."""
        found = [Order.stored(job, self.facts) for job in self.facts.jobs]
        last = dt.datetime.max.replace(tzinfo=dt.UTC)
        return sorted(found, key=lambda order: (order.promised_at or last, order.name))


@dataclass(frozen=True)
class Order:
    """A job with its pieces, stored or not. `id` is None for one that is not."""

    name: str
    id: int | None
    weight: int
    pieces: tuple[Piece, ...]
    promised_at: dt.datetime | None
    told_at: dt.datetime | None
    install: InstallDate | None

    @classmethod
    def stored(cls, job: Job, facts: Facts) -> Order:
        told = facts.told.get(job.pk)
        return cls(
            name=job.number,
            id=job.pk,
            weight=job.weight,
            pieces=tuple(job.pieces.all()),
            promised_at=facts.promise_moment(job),
            told_at=None if told is None else _leaves(job, told, facts),
            install=getattr(job, "install", None),
        )


def _leaves(job: Job, day: dt.date, facts: Facts) -> dt.datetime:
    """By when a day that was told is kept: at the hour at which the job's promise is."""
    by = job.promised_by or facts.shop.leave_by
    return settle(dt.datetime.combine(day, by), facts.shop.zone)


def plan_facts(now: dt.datetime | None = None) -> PlanFacts:
    facts = load_facts(now)
    today = facts.now.astimezone(facts.shop.zone).date()
    people = planned_people(since=today)
    planned: dict[int, list[PlannedStep]] = defaultdict(list)
    for row in PlannedStep.objects.filter(piece__job__in=facts.jobs):
        planned[row.piece_id].append(row)
    forms = FormSetUp.objects.filter(piece__job__in=facts.jobs).select_related("table")
    return PlanFacts(
        facts=facts,
        hands=people.hands,
        basis=people.basis,
        tables=tuple(CastingTable.objects.filter(in_use=True).order_by("name")),
        stations=stations(),
        forms={form.piece_id: form for form in forms},
        planned={key: tuple(rows) for key, rows in planned.items()},
        closed=frozenset(closed_days(today, today + CLOSED_KNOWN)),
    )


@dataclass(frozen=True)
class DraftPiece:
    """`count` pieces alike, not stored. Metres and square metres; a shape as `Piece.shape`."""

    mix: Mix
    route: Route
    sealer: Sealer
    room: Room
    area_m2: float
    thickness_m: float = 0.019
    coat_m: float = COAT
    count: int = 1
    matches_job: bool = True
    shape: dict[str, object] | None = None
    name: str = "piece"


@dataclass(frozen=True)
class Draft:
    """A job that is not stored, with the day it is wished for."""

    name: str
    pieces: tuple[DraftPiece, ...]
    wish: dt.date | None = None
    by: dt.time | None = None
    weight: int = 1


def drafted(drafts: Sequence[Draft], facts: Facts) -> list[Order]:
    """As orders. Routes' steps are read at once where they were not."""
    routes = {row.route.pk: row.route for draft in drafts for row in draft.pieces}
    if routes:
        prefetch_related_objects(list(routes.values()), "steps")
    numbers = count(-1, -1)
    return [_order(draft, facts, routes, numbers) for draft in drafts]


def _order(
    draft: Draft, facts: Facts, routes: Mapping[int, Route], numbers: Iterator[int]
) -> Order:
    job = Job(number=draft.name, promised_on=draft.wish, promised_by=draft.by, weight=draft.weight)
    rows = [row for row in draft.pieces for _ in range(row.count)]
    return Order(
        name=draft.name,
        id=None,
        weight=draft.weight,
        pieces=tuple(
            _piece(job, letter, row, routes[row.route.pk], next(numbers))
            for row, letter in zip(rows, letters(), strict=False)
        ),
        promised_at=promise_moment(job, facts.shop),
        told_at=None,
        install=None,
    )


def letters() -> Iterable[str]:
    """A to Z, then AA, AB ..."""
    yield from LETTERS
    for first in LETTERS:
        for second in LETTERS:
            yield first + second


def _piece(job: Job, letter: str, row: DraftPiece, route: Route, number: int) -> Piece:
    """With a key of its own, under 0, and no marks: what is stored is asked for nothing."""
    piece = Piece(
        pk=number,
        job=job,
        letter=letter,
        code=f"{job.number}-{letter}",
        name=row.name,
        room=row.room,
        mix=row.mix,
        route=route,
        sealer=row.sealer,
        area_m2=row.area_m2,
        thickness_m=row.thickness_m,
        coat_m=row.coat_m,
        matches_job=row.matches_job,
        shape=row.shape,
    )
    nothing = {
        "marks": Mark.objects.none(),
        "weighings": Weighing.objects.none(),
        "measured": Measured.objects.none(),
    }
    piece._prefetched_objects_cache = nothing  # type: ignore[attr-defined]
    return piece


def is_stored(piece: Piece) -> bool:
    return piece.pk is not None and piece.pk > 0


def with_pieces_changed(known: PlanFacts, change: Mapping[int, Piece]) -> PlanFacts:
    """The same facts with other rows for some pieces, by key. The rows that are known stay."""
    jobs = []
    for job in known.facts.jobs:
        pieces = list(job.pieces.all())
        if any(piece.pk in change for piece in pieces):
            jobs.append(_with_pieces(job, [change.get(piece.pk, piece) for piece in pieces]))
        else:
            jobs.append(job)
    return replace(known, facts=replace(known.facts, jobs=tuple(jobs), _remembered={}))


def _with_pieces(job: Job, pieces: Sequence[Piece]) -> Job:
    """A copy of a loaded row whose pieces are these."""
    other = copy(job)
    cache = getattr(job, "_prefetched_objects_cache", {})
    queryset = Piece.objects.none()
    queryset._result_cache = list(pieces)
    other._prefetched_objects_cache = {  # type: ignore[attr-defined]
        **cache,
        "pieces": queryset,
    }
    return other
