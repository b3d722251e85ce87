"""The accepted plan's dates follow what happens: marks, absences, an undone plan."""

from __future__ import annotations

import datetime as dt

import pytest

from jobs.models import JobPlanned, PlanAccepted, PlannedStep
from jobs.planning.search import Spend
from jobs.services import plan_before, plan_runs, plan_taking, plan_work, planned_dates
from jobs.services.readiness import open_outlooks
from shop.models import Absence, Person, Role, Worker
from tests.factories import make_job, make_person, make_piece
from tests.jobs.planning.invented import NOW, furnish

pytestmark = pytest.mark.django_db
LISTED = Spend(rounds=1, neighbourhoods=0, whole_work=0.0)
MINUTES = dt.timedelta(minutes=1)


@pytest.fixture
def owner() -> Person:
    furnish()
    Worker.objects.bulk_create(Worker(name=name) for name in ("Ines", "Marlow", "Tove"))
    for number in ("217", "218"):
        make_piece(make_job(number, promised_on=(NOW + dt.timedelta(days=40)).date()))
    return make_person(Role.OWNER)


def accept(owner: Person) -> PlanAccepted:
    run = plan_runs.ask(owner, now=NOW)
    plan_work.plan_shop(run.pk, LISTED, now=NOW)
    return plan_taking.take(run_id=run.pk, by=owner, now=NOW)


def test_where_no_plan_was_accepted_there_is_nothing_to_follow(owner: Person) -> None:
    assert not planned_dates.follow_plan(NOW)
    assert not JobPlanned.objects.exists()


def test_a_plan_just_accepted_has_its_dates_and_time_alone_changes_none(owner: Person) -> None:
    accept(owner)
    said = dict(JobPlanned.objects.values_list("job__number", "leaves_at"))
    assert set(said) == {"217", "218"}
    planned_dates.follow_plan(NOW)
    again = dict(JobPlanned.objects.values_list("job__number", "leaves_at"))
    assert again == said
    assert not planned_dates.follow_plan(NOW + 5 * MINUTES)


def test_everybody_away_moves_the_dates_and_what_is_told_of_them(owner: Person) -> None:
    accept(owner)
    before = JobPlanned.objects.get(job__number="217").leaves_at
    first = PlannedStep.objects.order_by("starts_at")[0].starts_at.date()
    for worker in Worker.objects.all():
        Absence.objects.create(
            worker=worker, first_day=first, last_day=first + dt.timedelta(days=6)
        )
    assert planned_dates.follow_plan(NOW)
    after = JobPlanned.objects.get(job__number="217").leaves_at
    assert after > before
    (outlook,) = (one for one in open_outlooks() if one.number == "217")
    assert outlook.planned_at == after
    # What was accepted stands as it was accepted.
    assert PlannedStep.objects.order_by("starts_at")[0].starts_at.date() == first


def test_an_undone_plan_takes_its_dates_along(owner: Person) -> None:
    accepted = accept(owner)
    plan_before.undo(accepted_id=accepted.pk, by=owner, now=NOW)
    planned_dates.follow_plan(NOW)
    assert not JobPlanned.objects.exists()
    assert all(outlook.planned_at is None for outlook in open_outlooks())


def test_a_job_that_came_after_the_plan_has_no_planned_date(owner: Person) -> None:
    accept(owner)
    make_piece(make_job("219", promised_on=(NOW + dt.timedelta(days=50)).date()))
    planned_dates.follow_plan(NOW)
    assert not JobPlanned.objects.filter(job__number="219").exists()


def test_a_plan_undone_while_the_dates_were_made_keeps_none_of_them(
    owner: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    accepted = accept(owner)
    JobPlanned.objects.all().delete()
    made = planned_dates._rows

    def slow(now: dt.datetime) -> dict[int, JobPlanned]:
        rows = made(now)
        plan_before.undo(accepted_id=accepted.pk, by=owner, now=NOW)
        return rows

    monkeypatch.setattr(planned_dates, "_rows", slow)
    assert not planned_dates.follow_plan(NOW)
    assert not JobPlanned.objects.exists()
