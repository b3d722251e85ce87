"""The planner's facts as they would be if one thing were otherwise. Nothing is written."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable
from copy import copy
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from curing.climate import Readings, compose
from curing.shifts import Shifts
from jobs.models import Job, Piece
from jobs.services.plan_facts import PlanFacts, with_pieces_changed
from jobs.services.standing import standing_of
from shop.localtime import settle, to_hours
from shop.models import CastingTable, Sealer, StepKind
from shop.services.crew import Hand
from shop.services.night_heat import EVENING, MORNING

DAY = dt.timedelta(days=1)
Floats = NDArray[np.float64]


def warmer(
    known: PlanFacts, room_id: int, celsius: float, nights: Collection[dt.date]
) -> PlanFacts:
    """A room whose heating is set to a temperature at the least [°C] over the nights that begin on
    these days, from now on. What the room misses of its setting it goes on missing."""
    facts = known.facts
    air = facts.airs[room_id]
    now = to_hours(facts.now)
    planned = air.planned
    for night in sorted(nights):
        begin, end = (
            to_hours(settle(dt.datetime.combine(day, dt.time(hour)), facts.shop.zone))
            for day, hour in ((night, EVENING), (night + DAY, MORNING))
        )
        if end > now:
            planned = raised(planned, max(begin, now), end, celsius)
    climate = compose(
        readings=air.readings,
        planned=planned,
        now=now,
        stale_after=facts.shop.stale_after_hours,
    )
    changed = replace(
        facts,
        climates={**facts.climates, room_id: climate},
        airs={**facts.airs, room_id: replace(air, climate=climate, planned=planned)},
        _remembered={},
    )
    return replace(known, facts=changed)


def raised(planned: Readings, begin: float, end: float, celsius: float) -> Readings:
    """At the least so warm from `begin` to `end` [h], with a step at either edge."""
    hours = planned.hours
    inside = (hours > begin) & (hours < end)
    edges = np.array([begin, begin, end, end])
    warmth = np.interp(edges, hours, planned.celsius)
    warmth[1:3] = np.maximum(warmth[1:3], celsius)
    first = int(np.searchsorted(hours, begin, side="right"))
    last = int(np.searchsorted(hours, end, side="left"))
    held = np.where(inside, np.maximum(planned.celsius, celsius), planned.celsius)

    def joined(values: Floats, at_edges: Floats) -> Floats:
        return np.concatenate(
            [values[:first], at_edges[:2], values[first:last], at_edges[2:], values[last:]]
        )

    return Readings(
        hours=joined(hours, edges),
        celsius=joined(held, warmth),
        humidity=joined(planned.humidity, np.interp(edges, hours, planned.humidity)),
    )


def with_sealer(known: PlanFacts, job: Job, sealer: Sealer) -> PlanFacts:
    """A job sealed with another product, but for the pieces that have a coat on already."""
    changed: dict[int, Piece] = {}
    for piece in job.pieces.all():
        if not is_coated(piece):
            other = copy(piece)
            other.sealer = sealer
            changed[piece.pk] = other
    return with_pieces_changed(known, changed)


def is_coated(piece: Piece) -> bool:
    coats = {step.key for step in piece.route.steps.all() if step.kind == StepKind.COAT}
    done = standing_of(piece.marks.all()).done
    return any(key.rpartition("-")[0] in coats for key in done)


def with_hours(known: PlanFacts, begin: dt.datetime, end: dt.datetime) -> PlanFacts:
    """Somebody is on shift then, beside the usual hours."""
    facts = known.facts
    windows = merged([*facts.shifts.windows.tolist(), [to_hours(begin), to_hours(end)]])
    return replace(known, facts=replace(facts, shifts=Shifts(windows), _remembered={}))


def merged(windows: Iterable[list[float]]) -> list[list[float]]:
    found: list[list[float]] = []
    for begin, end in sorted(windows):
        if found and begin <= found[-1][1]:
            found[-1][1] = max(found[-1][1], end)
        else:
            found.append([begin, end])
    return found


def with_hand(known: PlanFacts, hand: Hand) -> PlanFacts:
    return replace(known, hands=(*known.hands, hand))


def with_table(known: PlanFacts, table: CastingTable) -> PlanFacts:
    return replace(known, tables=(*known.tables, table))
