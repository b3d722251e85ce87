"""Everything dates are derived from, read in a number of queries that does not grow with rows."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

from django.db.models import Prefetch, QuerySet
from django.utils import timezone

from curing.climate import Climate
from curing.timeline import Shifts
from jobs.models import Job, JobPlanned, Mark, Piece, Weighing
from jobs.services.told import told_notices
from jobs.services.trust import DemoldGate, Trust, load_trust
from shop.localtime import settle
from shop.models import Room, Shop
from shop.services.calendar import shifts as working_shifts
from shop.services.climate import RoomAir, rooms_air
from shop.services.settings import the_shop

Kept = TypeVar("Kept")

AHEAD = dt.timedelta(days=90)
# Before the first casting, so that a piece cast in thought (what if) has air behind it too.
BEHIND = dt.timedelta(days=2)


@dataclass(frozen=True)
class Facts:
    now: dt.datetime
    shop: Shop
    shifts: Shifts
    climates: dict[int, Climate]
    booth_id: int | None
    jobs: tuple[Job, ...]
    told: dict[int, dt.date]
    airs: dict[int, RoomAir] = field(default_factory=dict)
    trust: Trust = field(default_factory=Trust)
    planned: dict[int, JobPlanned] = field(default_factory=dict)  # by job; only with a plan

    _remembered: dict[Any, Any] = field(default_factory=dict, repr=False)

    def remembered(self, key: Any, make: Callable[[], Kept]) -> Kept:
        """What `make` gives for this key, made once: facts do not change."""
        if key not in self._remembered:
            self._remembered[key] = make()
        kept: Kept = self._remembered[key]
        return kept

    def climate_of(self, room_id: int) -> Climate:
        return self.climates[room_id]

    @property
    def coating_climate(self) -> Climate | None:
        return self.climates.get(self.booth_id) if self.booth_id else None

    def promise_moment(self, job: Job) -> dt.datetime | None:
        return promise_moment(job, self.shop)

    def gate_of(self, piece: Piece) -> DemoldGate | None:
        return self.trust.gate_of(piece, self.shop)

    def concrete_alone(self) -> Facts:
        """As if no plan were accepted: what a change in thought does to one is not known."""
        return replace(self, planned={})

    def with_jobs(self, jobs: Iterable[Job]) -> Facts:
        return replace(self, jobs=tuple(jobs))


def promise_moment(job: Job, shop: Shop) -> dt.datetime | None:
    if job.promised_on is None:
        return None
    by = job.promised_by or shop.leave_by
    return settle(dt.datetime.combine(job.promised_on, by), shop.zone)


def open_jobs() -> QuerySet[Job]:
    return Job.objects.filter(closed_at__isnull=True, called_off=False)


def with_pieces(jobs: QuerySet[Job]) -> QuerySet[Job]:
    pieces = Piece.objects.select_related("room", "mix", "sealer", "batch", "route")
    marks = Mark.objects.select_related("by").order_by("pk")
    return jobs.select_related("customer", "install").prefetch_related(
        Prefetch("pieces", pieces.order_by("letter")),
        "pieces__route__steps",
        Prefetch("pieces__marks", marks),
        Prefetch("pieces__weighings", Weighing.objects.select_related("by")),
        "pieces__measured",
    )


def load_facts(now: dt.datetime | None = None, numbers: Collection[str] | None = None) -> Facts:
    """Open jobs, or those of the given numbers whatever their state."""
    now = now or timezone.now()
    shop = the_shop()
    chosen = open_jobs() if numbers is None else Job.objects.filter(number__in=numbers)
    jobs = tuple(with_pieces(chosen))
    since = min(_oldest_cast(jobs), default=now) - BEHIND
    until = now + AHEAD
    rooms = list(Room.objects.all())
    airs = rooms_air(rooms, since=since, until=until, now=now, shop=shop)
    told = told_notices([job.pk for job in jobs])
    return Facts(
        now=now,
        shop=shop,
        shifts=working_shifts(shop, since, until),
        climates={key: air.climate for key, air in airs.items()},
        airs=airs,
        booth_id=next((room.pk for room in rooms if room.is_booth and room.in_use), None),
        jobs=jobs,
        told={key: notice.told_on for key, notice in told.items()},
        trust=load_trust(),
        planned={row.job_id: row for row in JobPlanned.objects.filter(job__in=jobs)},
    )


def _oldest_cast(jobs: Iterable[Job]) -> Iterable[dt.datetime]:
    return (
        mark.happened_at
        for job in jobs
        for piece in job.pieces.all()
        for mark in piece.marks.all()
        if mark.kind == Mark.Kind.DONE
    )
