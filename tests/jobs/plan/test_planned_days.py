"""What the accepted plan says of a job, beside what the concrete says."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.models import Job, JobPlanned
from jobs.services.finding import open_rows
from jobs.services.outlook import as_json, from_json
from jobs.services.readiness import outlook_of, rebuild
from shop.models import JudgedOn, Role, Shop
from tests.factories import (
    make_job,
    make_mark,
    make_notice,
    make_person,
    make_piece,
    make_shop,
    make_working_week,
)

pytestmark = pytest.mark.django_db

CHICAGO = ZoneInfo("America/Chicago")
CAST = dt.datetime(2026, 3, 3, 14, 0, tzinfo=CHICAGO)  # a Tuesday
NOW = CAST + dt.timedelta(hours=18)
PROMISED = dt.date(2026, 3, 20)  # a Friday; pieces leave by 15:00


def at(day: int, hour: int) -> dt.datetime:
    return dt.datetime(2026, 3, day, hour, 0, tzinfo=CHICAGO)


@pytest.fixture
def job() -> Job:
    make_working_week()
    make_shop(leave_by=dt.time(15, 0), judged_on=JudgedOn.LATE)
    made = make_job("217", promised_on=PROMISED)
    make_mark(make_piece(made), "cast", CAST)
    return made


def plan(job: Job, leaves: dt.datetime, late: dt.datetime | None, chance: float = 0.4) -> None:
    JobPlanned.objects.create(
        job=job,
        leaves_at=leaves,
        early=leaves,
        likely=leaves,
        late=late,
        chance=chance,
        held_by="booth",
        held_words="held by the booth",
        derived_at=NOW,
    )


def test_without_a_plan_the_concrete_alone_decides(job: Job) -> None:
    found = outlook_of("217", NOW)
    assert found.planned_at is None
    assert found.planned_spare is None
    assert found.holding_on == PROMISED


@pytest.mark.parametrize(
    ("judged_on", "holds"),
    [
        (JudgedOn.LATE, dt.date(2026, 3, 25)),
        (JudgedOn.LIKELY, dt.date(2026, 3, 23)),
    ],
)
def test_the_day_that_holds_is_one_that_the_plan_can_keep(
    job: Job, judged_on: str, holds: dt.date
) -> None:
    Shop.objects.update(judged_on=judged_on)
    plan(job, leaves=at(23, 14), late=at(25, 10))
    found = outlook_of("217", NOW)
    assert found.ready_at < at(20, 15)  # the concrete would have kept the promise
    assert found.holding_on == holds
    assert found.planned_at == at(23, 14)
    assert found.planned_spare == (-115 if judged_on == JudgedOn.LATE else -71)


def test_a_plan_that_is_in_time_leaves_the_promised_day(job: Job) -> None:
    plan(job, leaves=at(18, 14), late=at(19, 10), chance=0.97)
    assert outlook_of("217", NOW).holding_on == PROMISED


def test_what_the_plan_says_is_stored_with_the_outlook_and_read_again(job: Job) -> None:
    plan(job, leaves=at(23, 14), late=at(25, 10))
    found = outlook_of("217", NOW)
    assert from_json(as_json(found)) == found


def test_a_customer_told_a_day_that_the_plan_cannot_keep_must_be_told_again(job: Job) -> None:
    make_notice(job, PROMISED)
    plan(job, leaves=at(23, 14), late=at(25, 10))
    rebuild(NOW)
    (row,) = open_rows()
    assert row.planned_at == at(23, 14)
    assert row.difference == "told Fri 20 Mar, now Wed 25 Mar: 5 days later, must be told"


def test_board_and_office_show_the_planned_time_and_its_chance(
    job: Job, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(timezone, "now", lambda: NOW)
    plan(job, leaves=at(23, 14), late=at(25, 10))
    rebuild(NOW)
    client.force_login(make_person(Role.OWNER))
    for name, arguments in (("board", ()), ("office", ()), ("job", ("217",))):
        page = client.get(reverse(name, args=arguments)).content.decode()
        assert "Mon 23 Mar" in page, name
        assert "planned" in page.lower(), name
    assert (
        "4 in 10 to keep the promise" in client.get(reverse("job", args=["217"])).content.decode()
    )


def test_a_chance_is_the_plan_s_where_the_plan_decides(job: Job) -> None:
    alone = outlook_of("217", NOW)
    assert alone.chance_on(PROMISED) > 0.9
    plan(job, leaves=at(23, 14), late=at(25, 10), chance=0.4)
    found = outlook_of("217", NOW)
    assert found.plan_decides
    assert found.chance_on(PROMISED) == 0.4
    assert found.chance_on(found.holding_on) == 0.9  # late is what 9 of 10 are ready by
    # Between the two nobody has said anything.
    assert found.chance_on(dt.date(2026, 3, 23)) is None


def test_a_plan_that_falls_short_says_so_beside_the_promise(
    job: Job, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(timezone, "now", lambda: NOW)
    plan(job, leaves=at(23, 14), late=at(25, 10))
    rebuild(NOW)
    client.force_login(make_person(Role.OWNER))
    assert "short by 4 d 19 h by the plan" in client.get(reverse("board")).content.decode()
    JobPlanned.objects.update(leaves_at=at(18, 14), late=at(19, 10))
    rebuild(NOW)
    assert "by the plan" not in client.get(reverse("board")).content.decode()
