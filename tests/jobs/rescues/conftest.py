"""A shop with a short promise, looked at for what would make it hold."""

from __future__ import annotations

import datetime as dt

import pytest
from django.utils import timezone

from jobs.models import Job, PlanRun, RunState
from jobs.planning.rescue import Effort
from jobs.services import (
    planned_shop,
    rescue_work,
)
from jobs.services.plan_mix import raw_of
from jobs.services.plan_taking import write
from jobs.services.planned_shop import leaves_at
from jobs.services.readiness import rebuild
from jobs.services.rescues import Rescue, found_of, look
from jobs.shapes.outlines import Rectangle
from jobs.shapes.shape import Shape
from jobs.shapes.stored import write as write_shape
from shop.models import CastingTable, Person, Role, Shop, Worker
from tests import factories
from tests.factories import NOW, make_customer, make_job, make_piece

TODAY = dt.date(2026, 3, 18)
SLAB = write_shape(Shape(Rectangle(2.4, 0.625)))  # the table takes one at a time
SHORT = Effort(rounds=2, polish=1)


@pytest.fixture(autouse=True)
def shop(db: None, monkeypatch: pytest.MonkeyPatch) -> Shop:
    """One table that takes one piece at a time, and three people."""
    monkeypatch.setattr(timezone, "now", lambda: NOW)
    factories.make_shop()
    factories.make_working_week()
    planned_shop.forget()
    CastingTable.objects.create(
        name="Table 1", room=factories.make_room(), length_m=2.8, width_m=0.95
    )
    for name in ("Ada Quill", "Ben Carrow", "Iris Holm"):
        Worker.objects.create(name=name)
    return Shop.objects.get()


@pytest.fixture
def owner() -> Person:
    return factories.make_person(Role.OWNER)


@pytest.fixture
def short(owner: Person) -> Job:
    """217 stands in the accepted plan behind 218, whose customer can wait; then its promise comes
    nearer, to the day that 218 has now."""
    far = TODAY + dt.timedelta(days=60)
    first = make_job("218", far - dt.timedelta(days=1), customer=make_customer("First"))
    second = make_job("217", far, customer=make_customer("Second"))
    for job in (first, second):
        make_piece(job, area_m2=1.5, shape=SLAB)
    rebuild()
    accept_as_listed(owner)
    shop = planned_shop.planned_shop(NOW)
    ahead = rescue_work.range_of(shop.read.problem, shop.plan, shop.doubt, "218")
    late = leaves_at(shop, "218", ahead.late)
    assert late is not None
    day = late.astimezone(shop.read.shop.zone).date() + dt.timedelta(days=1)
    Job.objects.filter(pk=second.pk).update(promised_on=day)
    Job.objects.filter(pk=first.pk).update(promised_on=far)
    rebuild()
    second.refresh_from_db()
    return second


def accept_as_listed(owner: Person) -> None:
    shop = planned_shop.planned_shop(NOW)
    assert set(shop.plan.finish) == {"217", "218"}
    assert shop.plan.finish["218"] < shop.plan.finish["217"]
    write(
        shop.read,
        raw_of(shop.read, shop.plan),
        set(shop.plan.finish),
        by=owner,
        now=NOW,
        whole=True,
    )
    rebuild()


def looked(job: Job, owner: Person) -> PlanRun:
    run = look(job_id=job.pk, by=owner, now=NOW)
    done = rescue_work.rescue_job(run.pk, SHORT)
    assert done is not None
    assert done.state == RunState.READY, done.trouble
    return done


def found(run: PlanRun) -> Rescue:
    rescue = found_of(run)
    assert rescue is not None
    return rescue
