"""A small shop that can be planned: two tables, two people, some jobs."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.utils import timezone

from jobs.models import Job, PlanRun
from jobs.planning.search import Spend
from jobs.services import plan_runs, plan_work
from shop.models import CastingTable, Person, Role, Worker
from tests.factories import (
    make_job,
    make_person,
    make_piece,
    make_readings,
    make_room,
    make_shop,
    make_working_week,
)

# As little as gives a plan: what is tested here is not how good it is.
QUICK = Spend(rounds=1, neighbourhoods=1, work=0.01, whole_work=0.01)


def a_shop(jobs: int = 3, pieces: int = 1, days: int = 40, **fields: Any) -> list[Job]:
    make_shop(**fields)
    make_working_week()
    now = timezone.now()
    room = make_room()
    make_readings(room, now - dt.timedelta(days=2), 48, every_minutes=60)
    for n in (1, 2):
        CastingTable.objects.get_or_create(
            name=f"Table {n}", defaults={"room": room, "length_m": 3.0, "width_m": 1.5}
        )
        Worker.objects.get_or_create(name=f"Worker {n}")
    today = now.date()
    made = []
    for n in range(jobs):
        job = make_job(
            str(300 + n),
            promised_on=today + dt.timedelta(days=days + n),
            taken_on=today - dt.timedelta(days=3),
        )
        for letter in "ABCD"[:pieces]:
            make_piece(job, letter, area_m2=1.0)
        made.append(job)
    return made


def an_owner() -> Person:
    return make_person(Role.OWNER)


def planned(owner: Person, spend: Spend = QUICK) -> PlanRun:
    """A proposal of the shop as it is."""
    run = plan_runs.ask(owner)
    done = plan_work.plan_shop(run.pk, spend)
    assert done is not None
    assert done.state == "ready", done.trouble
    return done
