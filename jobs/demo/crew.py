"""Who works at the demo shop, what its stations take, and which forms stand on its tables."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from jobs.demo.cast_list import CREW, CREW_SPANISH, OWNER
from jobs.demo.story import DAY, Stage
from jobs.models import FormSetUp, Piece
from shop.models import CastingTable, Person, Worker
from shop.services import crew

# The places of each weekday, Monday first.
ANY_DAY, MONDAY_TO_THURSDAY = range(7), range(4)


@dataclass(frozen=True)
class DemoWorker:
    name: str
    works: str
    account: str = ""  # the e-mail it signs in with
    weekdays: range = ANY_DAY


WORKERS = (
    DemoWorker(OWNER.name, "form cast coat crate deliver install other", OWNER.email),
    DemoWorker(
        CREW.name,
        "form cast demold grind fill hone coat crate deliver install other",
        CREW.email,
    ),
    DemoWorker(CREW_SPANISH.name, "cast demold grind fill hone coat crate", CREW_SPANISH.email),
    DemoWorker(
        "Lorcan Abbotsmoor",
        "form cast demold crate deliver install other",
        weekdays=MONDAY_TO_THURSDAY,
    ),
)
AWAY, AWAY_DAYS = CREW_SPANISH.name, 3
STATIONS = {"rack_places": 24, "booth_places": 2, "wet_bays": 1}
# By table: pieces that are in their forms; on the other, a form that waits for its cast.
FORMS: dict[str, tuple[str, ...]] = {"Table 1": ("217-A", "217-B", "217-C"), "Table 2": ("218-A",)}


def take_on(people: Mapping[str, Person], today: dt.date) -> None:
    for worker in WORKERS:
        crew.save_worker(
            worker_id=None,
            version=0,
            values={
                "name": worker.name,
                "account": people.get(worker.account),
                "works": worker.works.split(),
                "weekdays": list(worker.weekdays),
            },
        )
    monday = today + (14 - today.weekday()) * DAY
    crew.add_absence(
        worker_id=Worker.objects.get(name=AWAY).pk,
        first_day=monday,
        last_day=monday + (AWAY_DAYS - 1) * DAY,
        reason="Family visit",
        today=today,
    )
    crew.save_stations(version=crew.stations().version, values=STATIONS)


def set_up_forms(stage: Stage) -> None:
    """The afternoon before the cast, or the last one there was."""
    for table in CastingTable.objects.filter(name__in=FORMS):
        for piece in Piece.objects.filter(code__in=FORMS[table.name]).select_related("batch"):
            FormSetUp.objects.create(
                piece=piece, table=table, set_up_at=_afternoon_before(stage, piece),
                by=stage.crew[0],
            )  # fmt: skip


def _afternoon_before(stage: Stage, piece: Piece) -> dt.datetime:
    assert piece.batch is not None
    cast = min(piece.batch.planned_for, stage.now)
    ends = (stage.moment(day, 14, 30) for day in stage.work_days())
    return next(end for end in ends if end < cast)
