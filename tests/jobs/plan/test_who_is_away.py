"""A day of the plan says who is away, who never comes on it, and that the shop is closed."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from jobs.plan.axis import axis_of
from jobs.plan.days import load_rows
from jobs.plan.missing import missing_in
from jobs.plan.picture import away_words
from jobs.services import plan_taking
from jobs.services.plan_shown import Load, PersonLoad, Shown, Work
from shop.localtime import settle
from shop.models import ClosedDay, Person, Role, Worker
from shop.services.crew import NotThere, add_absence, not_there, planned_people
from tests.factories import make_person, make_shop, make_working_week
from tests.jobs.planning.plan_shop import a_shop, an_owner, planned

pytestmark = pytest.mark.django_db

MONDAY = dt.date(2027, 3, 1)
DAY = dt.timedelta(days=1)


@pytest.fixture
def crew() -> dict[str, Worker]:
    make_shop()
    make_working_week()
    return {
        "Ida": Worker.objects.create(name="Ida"),
        "Ben": Worker.objects.create(name="Ben", weekdays=[0, 1, 2, 3]),
    }


def away(worker: Worker, first: int, last: int) -> None:
    add_absence(
        worker_id=worker.pk,
        first_day=MONDAY + first * DAY,
        last_day=MONDAY + last * DAY,
        reason="a private matter",
        today=MONDAY,
    )


def week(now_on: int = 0):
    shop = make_shop()
    now = settle(dt.datetime.combine(MONDAY + now_on * DAY, dt.time(6)), shop.zone)
    return axis_of(MONDAY, shop, now)


def test_first_and_last_day_of_an_absence_are_in_it(crew):
    away(crew["Ida"], 1, 2)
    hands = planned_people(since=MONDAY).hands
    found = [not_there(hands, MONDAY + n * DAY).away for n in range(5)]
    assert found == [(), ("Ida",), ("Ida",), (), ()]
    assert not_there(hands, MONDAY + 4 * DAY) == NotThere((), ("Ben",))


def test_a_day_says_it_in_words_and_a_closed_one_only_that_it_is_closed(crew):
    away(crew["Ida"], 3, 4)
    ClosedDay.objects.create(day=MONDAY + 3 * DAY, name="Stock-taking")
    words = [day.gone_words for day in week().days]
    assert words == ["", "", "", "", "Away: Ida. Not in on a Friday: Ben.", "", ""]
    assert week().days[3].why_empty == "closed: Stock-taking"


def test_the_load_says_why_there_is_none(crew):
    away(crew["Ida"], 1, 1)
    ClosedDay.objects.create(day=MONDAY + 2 * DAY, name="Stock-taking")
    axis = week()
    there = (8.0, 0.0, 0.0, 8.0, 8.0, 0.0)
    shown = Shown(
        planned_from=axis.now,
        load=Load(
            days=tuple(
                settle(dt.datetime.combine(MONDAY + n * DAY, dt.time(8)), axis.zone)
                for n in range(6)
            ),
            people=(PersonLoad("Ida", (2.0,) + 5 * (0.0,), there),),
        ),
    )
    (row,) = load_rows(shown, axis)
    assert [cell.words for cell in row.cells] == [
        "2 of 8 h left", "away", "closed", "0 of 8 h", "0 of 8 h", "no shift", "",
    ]  # fmt: skip
    assert [cell.off for cell in row.cells] == [False, True, True, False, False, True, True]


@pytest.mark.parametrize(
    ("first", "last", "now_on", "words"),
    [
        (1, 1, 0, ", away Tue"),
        (1, 2, 0, ", away Tue and Wed"),
        (0, 4, 0, ", away 5 days"),
        (1, 1, 2, ""),
        (5, 6, 0, ""),
    ],
)
def test_the_thread_of_somebody_away_says_when(crew, first, last, now_on, words):
    away(crew["Ida"], first, last)
    assert away_words("Ida", week(now_on)) == words


@pytest.mark.parametrize("door", ["plan", "plan-days"])
def test_the_pages_say_it_to_staff_without_the_reason(door):
    a_shop(jobs=2)
    owner: Person = an_owner()
    run = planned(owner)
    plan_taking.take(run_id=run.pk, by=owner)
    today = timezone.localdate()
    worker = Worker.objects.get(name="Worker 1")
    add_absence(
        worker_id=worker.pk,
        first_day=today,
        last_day=today + 60 * DAY,
        reason="a private matter",
    )
    client = Client()
    client.force_login(make_person(Role.CREW), "django.contrib.auth.backends.ModelBackend")
    monday = today - today.weekday() * DAY + 7 * DAY
    page = client.get(reverse(door), {"week": monday.isoformat()}).content.decode()
    said = re.sub(r"\s+", " ", page)
    assert "Away: Worker 1." in said
    assert "a private matter" not in said


def work_on(day: int, *people: str, hour: int = 8) -> Work:
    starts = settle(dt.datetime.combine(MONDAY + day * DAY, dt.time(hour)), make_shop().zone)
    return Work(
        codes=("217-A",), jobs=("217",), step_key="grind", name="grind", kind="grind",
        starts=starts, ends=starts + dt.timedelta(hours=1), people=people, places=(),
    )  # fmt: skip


def test_work_of_people_who_are_not_there_is_told(crew):
    away(crew["Ida"], 1, 2)
    ClosedDay.objects.create(day=MONDAY + 3 * DAY, name="Stock-taking")
    works = [
        work_on(0, "Ida", "Ben"),
        work_on(1, "Ida", "Ben"),
        work_on(2, "Ida"),
        work_on(2, "Ida", hour=10),
        work_on(3, "Ben"),
        work_on(4, "Ben", "Zoe"),
    ]
    found = missing_in(works, make_shop(), week().now)
    assert [each.words for each in found] == [
        "Ben is not there on Thu 4 Mar and Fri 5 Mar: 2 pieces of work.",
        "Ida is not there on Tue 2 Mar and Wed 3 Mar: 3 pieces of work.",
        "Zoe is not there on Fri 5 Mar: 1 piece of work.",
    ]
    later = week(4).now  # what is over is nobody's any more
    assert [each.name for each in missing_in(works, make_shop(), later)] == ["Ben", "Zoe"]
    assert missing_in(works[:1], make_shop(), week().now) == ()


def test_more_weeks_take_no_more_queries(crew):
    away(crew["Ida"], 0, 60)
    few, many = ([work_on(day, "Ida") for day in range(days)] for days in (2, 40))
    with CaptureQueriesContext(connection) as asked:
        missing_in(few, make_shop(), week().now)
    with CaptureQueriesContext(connection) as more:
        found = missing_in(many, make_shop(), week().now)
    assert len(more) == len(asked)
    assert found[0].words == "Ida is not there on 40 days from Mon 1 Mar on: 40 pieces of work."


@pytest.mark.parametrize(
    ("role", "what_to_do"), [(Role.OWNER, "Plan again"), (Role.CREW, "The owner has to plan")]
)
def test_the_pages_say_that_a_plan_counts_on_somebody_who_is_away(role, what_to_do):
    a_shop(jobs=2)
    owner = an_owner()
    plan_taking.take(run_id=planned(owner).pk, by=owner)
    client = Client()
    client.force_login(make_person(role), "django.contrib.auth.backends.ModelBackend")
    for door in ("plan", "plan-days"):
        assert "who are not there" not in client.get(reverse(door)).content.decode()
    today = timezone.localdate()
    for worker in Worker.objects.all():
        add_absence(
            worker_id=worker.pk, first_day=today, last_day=today + 60 * DAY, reason="ill"
        )  # fmt: skip
    monday = today - today.weekday() * DAY + 7 * DAY
    for door in ("plan", "plan-days"):
        page = client.get(reverse(door), {"week": monday.isoformat()}).content.decode()
        assert "This plan counts on people who are not there" in page
        assert "Worker 1 is not there on" in page
        assert what_to_do in page
        assert '<strong class="differs">not there</strong>' in page
