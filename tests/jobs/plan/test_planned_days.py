"""What the accepted plan says of a job, beside what the concrete says."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.models import Flag, Job, JobPlanned, PromiseState
from jobs.services.effects import cast_effect
from jobs.services.finding import open_rows
from jobs.services.outlook import as_json, from_json
from jobs.services.readiness import outlook_of, rebuild
from shop.models import JudgedOn, Role, Shop, StepKind
from tests.factories import (
    make_job,
    make_mark,
    make_notice,
    make_person,
    make_piece,
    make_shop,
    make_working_week,
)
from tests.jobs.sheets.reading import words

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


@pytest.fixture
def owner(job: Job, client: Client, monkeypatch: pytest.MonkeyPatch) -> Client:
    """Signed in where the plan that stands lets the job leave late."""
    monkeypatch.setattr(timezone, "now", lambda: NOW)
    plan(job, leaves=at(23, 14), late=at(25, 10))
    rebuild(NOW)
    client.force_login(make_person(Role.OWNER))
    return client


def test_without_a_plan_the_concrete_alone_decides(job: Job) -> None:
    found = outlook_of("217", NOW)
    assert found.planned_at is None
    assert found.concrete_alone
    assert not found.plan_decides
    assert found.state == PromiseState.HOLDS
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
    assert found.state == PromiseState.SHORT
    assert found.spare_hours == (-115 if judged_on == JudgedOn.LATE else -71)
    assert "By the plan it leaves Mon 23 Mar 14:00" in found.reason
    assert "held by the booth" in found.reason


def test_a_plan_that_is_in_time_leaves_the_promised_day(job: Job) -> None:
    plan(job, leaves=at(18, 14), late=at(19, 10), chance=0.97)
    found = outlook_of("217", NOW)
    assert found.holding_on == PROMISED
    assert found.plan_decides
    assert found.spare_hours == 29  # of the plan's late time, not of the concrete's
    assert found.state == PromiseState.HOLDS
    assert "By the plan it leaves in time, Wed 18 Mar 14:00, late Thu 19 Mar 10:00." in found.reason


def test_a_plan_that_is_in_time_but_not_by_its_late_time_says_both(job: Job) -> None:
    plan(job, leaves=at(18, 14), late=at(25, 10))
    words = "By the plan it leaves in time, Wed 18 Mar 14:00, but late Wed 25 Mar 10:00."
    assert words in outlook_of("217", NOW).reason


def test_the_concrete_decides_where_it_takes_longer_than_the_plan(job: Job) -> None:
    alone = outlook_of("217", NOW)
    plan(job, leaves=at(4, 14), late=at(4, 15), chance=1.0)
    found = outlook_of("217", NOW)
    assert not found.plan_decides
    assert not found.concrete_alone
    for name in ("state", "spare_hours", "reason", "chance", "holding_on"):
        assert getattr(found, name) == getattr(alone, name), name


def test_a_late_time_beyond_what_is_planned_is_short_with_no_day_that_holds(job: Job) -> None:
    plan(job, leaves=at(18, 14), late=None)
    found = outlook_of("217", NOW)
    assert found.state == PromiseState.SHORT
    assert found.holding_on is None
    assert "late a time too far ahead to tell" in found.reason


def test_where_nothing_was_drawn_the_plan_itself_counts(job: Job) -> None:
    plan(job, leaves=at(20, 14), late=None)
    JobPlanned.objects.update(early=None, likely=None, chance=None)
    found = outlook_of("217", NOW)
    assert (found.state, found.spare_hours) == (PromiseState.TIGHT, 1)


def test_a_delivered_job_is_delivered_whatever_the_plan_says(job: Job) -> None:
    plan(job, leaves=at(23, 14), late=at(25, 10))
    piece = job.pieces.get()
    for number, step in enumerate(piece.route.steps.all()):
        if step.kind != StepKind.CAST:
            make_mark(piece, step.key, CAST + dt.timedelta(minutes=number))
    found = outlook_of("217", NOW)
    assert found.state == PromiseState.KEPT
    assert found.planned_at is None
    assert not found.plan_decides


def test_lists_counts_and_flags_go_by_the_same_verdict(
    job: Job, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(timezone, "now", lambda: NOW)
    rebuild(NOW)
    assert not Flag.objects.exists()
    plan(job, leaves=at(23, 14), late=at(25, 10))
    rebuild(NOW)
    (row,) = open_rows()
    assert (row.state, row.spare_hours, row.chance) == (PromiseState.SHORT, -115, 0.4)
    assert row.plan_decides
    assert Flag.objects.get().state == PromiseState.SHORT
    assert "held by the booth" in Flag.objects.get().reason
    client.force_login(make_person(Role.OWNER))
    page = client.get(reverse("board")).content.decode()
    assert "One promise is short." in page
    assert 'class="promise holds"' not in page
    assert 'class="promise short"' in client.get(reverse("office")).content.decode()
    only = client.get(reverse("board"), {"state": "short"}).content.decode()
    assert 'id="job-217"' in only or "nothing in this week" in only


def test_a_board_says_whether_a_plan_is_in_its_verdict(
    job: Job, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(timezone, "now", lambda: NOW)
    client.force_login(make_person(Role.OWNER))
    rebuild(NOW)
    for name in ("board", "office"):
        assert "no plan stands" in client.get(reverse(name)).content.decode(), name
    plan(job, leaves=at(18, 14), late=at(19, 10))
    make_mark(make_piece(make_job("218", promised_on=PROMISED)), "cast", CAST)
    rebuild(NOW)
    board = client.get(reverse("board")).content.decode()
    assert "one job is not in the plan, so by the concrete alone" in board
    office = client.get(reverse("office")).content.decode()
    assert "1 job is not in the plan" in office
    assert "not in a plan" in client.get(reverse("job", args=["218"])).content.decode()
    assert "not in a plan" not in client.get(reverse("job", args=["217"])).content.decode()


def test_a_cast_in_thought_is_judged_by_the_concrete_and_says_so(job: Job) -> None:
    piece = make_piece(make_job("219", promised_on=PROMISED))
    plan(piece.job, leaves=at(23, 14), late=at(25, 10))
    (effect,) = cast_effect(
        piece_ids=[piece.pk], room_id=piece.room_id, planned_for=at(5, 9), now=NOW
    )
    assert effect.state == PromiseState.HOLDS
    assert "by the concrete alone: the plan, by which it leaves Mon 23 Mar 14:00" in effect.sentence


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


def test_board_and_office_show_the_planned_time_and_its_chance(job: Job, owner: Client) -> None:
    for name, arguments in (("board", ()), ("office", ()), ("job", ("217",))):
        page = owner.get(reverse(name, args=arguments)).content.decode()
        assert "Mon 23 Mar" in page, name
        assert "planned" in page.lower(), name
    assert (
        "promised Fri 20 Mar: 4 in 10" in owner.get(reverse("job", args=["217"])).content.decode()
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


def test_a_plan_that_falls_short_leads_to_what_would_make_it_hold(job: Job, owner: Client) -> None:
    page = owner.get(reverse("job", args=["217"])).content.decode()
    assert "short by 4 d 19 h" in page
    assert reverse("rescue", args=["217"]) in page
    JobPlanned.objects.update(leaves_at=at(18, 14), likely=at(18, 14), late=at(19, 10))
    rebuild(NOW)
    page = owner.get(reverse("job", args=["217"])).content.decode()
    assert reverse("rescue", args=["217"]) not in page


def test_where_the_concretes_own_times_stand_the_plans_later_day_stands_by_them(
    job: Job, owner: Client
) -> None:
    page = " ".join(owner.get(reverse("job", args=["217"])).content.decode().split())
    assert "the concrete's own times. By the plan it leaves later, Wed 25 Mar 10:00" in page
    code = job.pieces.get().code
    sheet = words(owner.get(reverse("piece-sheet", args=[code])).content)
    assert "short by 4 d 19 h by the plan" in sheet
    assert "By the plan it leaves Mon 23 Mar 14:00" in sheet
    over_time = owner.get(reverse("piece-figure", args=[code])).content.decode()
    assert "That is by the concrete and the working hours." in over_time
    assert "By the plan it leaves Mon 23 Mar 14:00" in over_time
