"""Sample boards of the last weeks: cast one day, demolded the next, marked with how they came out.

They are kept on a shelf and go no further, so their job is closed.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from jobs.demo.cast_list import CHARCOAL, WHITE
from jobs.demo.story import DAY, MINUTE, Stage, record_at
from jobs.models import Batch, Customer, Job, Mark, Outcome, Piece
from jobs.services.trust import record_demold
from shop import defaults
from shop.localtime import from_hours, to_hours
from shop.models import Mix, Room, Route, Sealer

NUMBER, TITLE = "190", "Sample boards"
SQUARE_FEET = 2.0
ON_ONE_DAY = 2
# The equivalent age each was demolded at, or as soon after as somebody was there; how it came out.
PULLED: dict[str, tuple[tuple[float, Outcome], ...]] = {
    WHITE: (*((20.2 + 0.06 * place, Outcome.CLEAN) for place in range(14)),),
    CHARCOAL: (
        *((23.4 - 0.4 * place, Outcome.CLEAN) for place in range(7)),
        (20.1, Outcome.SOFT),
    ),
}


@dataclass(frozen=True)
class Shelf:
    """What all boards have in common."""

    job: Job
    room: Room
    route: Route
    sealer: Sealer


def cast_samples(stage: Stage, customer: Customer, room: Room, before: dt.date) -> Job:
    """On days before this one, whose nights were as warm as they should be."""
    job = Job.objects.create(
        number=NUMBER,
        title=TITLE,
        customer=customer,
        taken_on=stage.work_days()[-1],
        closed_at=stage.moment(before, 12),
        notes="Kept on the shelf: cast to see how soon they come out clean.",
    )
    route = Route.objects.prefetch_related("steps").get(name=defaults.ROUTE)
    shelf = Shelf(job, room, route, Sealer.objects.get(name=defaults.SEALERS[0]["name"]))
    letters = (chr(code) for code in range(ord("A"), ord("Z") + 1))
    for name, pulled in PULLED.items():
        mix = Mix.objects.get(name=name)
        for day, pair in zip(_days(stage, before), batched(pulled), strict=False):
            batch = Batch.objects.create(
                mix=mix,
                room=room,
                planned_for=stage.moment(day, 9, 15),
                planned_by=stage.owner,
            )
            for age, outcome in pair:
                _cast_and_pull(stage, _board(shelf, batch, next(letters)), age, outcome)
    return job


def batched(pulled: Sequence[tuple[float, Outcome]]) -> list[Sequence[tuple[float, Outcome]]]:
    starts = range(0, len(pulled), ON_ONE_DAY)
    return [pulled[place : place + ON_ONE_DAY] for place in starts]


def _days(stage: Stage, before: dt.date) -> list[dt.date]:
    """The last working days with work the day after, as many as are needed, in their order."""
    days = stage.work_days()
    fit = [day for day in days if day + DAY < before and day + DAY in days]
    return sorted(fit[: max(len(batched(pulled)) for pulled in PULLED.values())])


def _cast_and_pull(stage: Stage, piece: Piece, age: float, outcome: Outcome) -> None:
    assert piece.batch is not None
    energy = piece.mix.activation_energy
    climate, cast = stage.facts.climate_of(piece.room_id), to_hours(piece.batch.planned_for)
    _mark(piece, "cast", piece.batch.planned_for, stage, batch=piece.batch)
    due = climate.time_of_age(cast, age, energy)
    at = from_hours(stage.facts.shifts.first_fit(due, 0.0)[0]).replace(second=0) + MINUTE
    mark = _mark(piece, "demold", at, stage, outcome=outcome)
    was = float(climate.equivalent_age(cast, to_hours(at), energy))
    record_demold(mark, piece, was, stage.facts.shop)
    record_at(mark, at)


def _board(shelf: Shelf, batch: Batch, letter: str) -> Piece:
    return Piece.objects.create(
        job=shelf.job,
        letter=letter,
        code=f"{shelf.job.number}-{letter}",
        name=f"Board {letter}, {batch.mix.colour}",
        room=shelf.room,
        mix=batch.mix,
        route=shelf.route,
        sealer=shelf.sealer,
        batch=batch,
        area_m2=round(SQUARE_FEET / defaults.PER_SQUARE_FOOT, 3),
    )


def _mark(piece: Piece, key: str, at: dt.datetime, stage: Stage, **more: object) -> Mark:
    step = next(step for step in piece.route.steps.all() if step.key == key)
    mark: Mark = Mark.objects.create(
        piece=piece,
        step_key=key,
        step_name=step.name,
        happened_at=at,
        by=stage.crew[0],
        **more,
    )
    record_at(mark, at)
    return mark
