"""Why more promises are short once there is a plan: said on the board and on the plan's page."""

from __future__ import annotations

import datetime as dt
import re
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from jobs.models import JobPlanned
from jobs.services.plan_shown import JobDate
from jobs.services.plan_words import HELD_BY
from jobs.services.readiness import open_outlooks, rebuild
from jobs.services.short_words import (
    HOLDERS,
    Short,
    Why,
    brief_why,
    short_by_concrete,
    short_in_plan,
    short_on_board,
    why_short,
)
from shop.models import Role
from tests.factories import make_job, make_mark, make_person, make_piece, make_working_week

ALONE = Short(by_concrete=True)


@pytest.mark.parametrize(
    ("short", "words"),
    [
        ([], ""),
        ([ALONE], "It is short by the concrete alone, whatever the plan."),
        ([ALONE] * 3, "They are short by the concrete alone, whatever the plan."),
        (
            [ALONE, Short(False, "people"), Short(False, "drying"), Short(False, "people")],
            "By the concrete alone 1 is short; 3 more are short because all jobs share the "
            "tables, people, stations and truck. What holds them most: people (2), drying (1).",
        ),
        (
            [Short(False, "wet bay")],
            "By the concrete alone none is short; 1 is short because all jobs share the "
            "tables, people, stations and truck. What holds it most: the wet bay.",
        ),
        (
            [ALONE, ALONE, Short(False, "none")],
            "By the concrete alone 2 are short; 1 more is short because all jobs share the "
            "tables, people, stations and truck.",
        ),
    ],
)
def test_the_sentence(short, words):
    assert why_short(short) == words


@pytest.mark.parametrize(
    ("short", "line"),
    [
        ([], ""),
        ([ALONE, ALONE], "by the concrete alone"),
        (
            [ALONE, ALONE, *[Short(False, "people")] * 4, Short(False, "drying")],
            "2 by the concrete, 5 by the plan: people most",
        ),
        ([Short(False, "wet bay")], "by the plan: the wet bay"),
        ([ALONE, Short(False, "none")], "1 by the concrete, 1 by the plan"),
    ],
)
def test_the_line_of_a_narrow_screen(short, line):
    assert brief_why(short) == line


def test_whatever_can_hold_a_job_has_a_word():
    assert HOLDERS.keys() == HELD_BY.keys() - {"none"}


@pytest.fixture
def shop(db) -> None:
    """Cast a week ago: promised for tomorrow, which is too soon, and for in a month; the plan has
    both leave in two months."""
    make_working_week()
    now = timezone.now()
    today = now.astimezone(ZoneInfo("America/Chicago")).date()
    for number, days in (("301", 1), ("302", 30)):
        job = make_job(number, promised_on=today + dt.timedelta(days=days))
        make_mark(make_piece(job), "cast", now - dt.timedelta(days=2))
        late = now + dt.timedelta(days=60)
        JobPlanned.objects.create(
            job=job,
            leaves_at=late,
            early=late,
            likely=late,
            late=late,
            chance=0.1,
            held_by="people",
            held_words="waits for people",
            derived_at=now,
        )
    rebuild()


def test_the_board_tells_what_the_plan_adds_to_the_concrete(shop):
    why = short_on_board(open_outlooks())
    words = why.words
    assert why.brief == "1 by the concrete, 1 by the plan: people"
    assert words.startswith(
        "By the concrete alone 1 is short; 1 more is short because all jobs share"
    )
    assert words.endswith("What holds it most: people.")
    client = Client()
    client.force_login(make_person(Role.OWNER), "django.contrib.auth.backends.ModelBackend")
    page = client.get(reverse("board")).content.decode()
    said = re.sub(r"\s+", " ", page)
    assert f"<summary>{why.brief}</summary>" in said
    assert words in said


def test_the_plans_page_tells_the_same(shop):
    outlooks = open_outlooks()
    jobs = [
        JobDate(each.job_id, each.number, each.title, None, state=each.state, held_by="people")
        for each in outlooks
    ]
    assert short_in_plan(jobs) == short_on_board(outlooks)
    alone = short_by_concrete(each.job_id for each in outlooks)
    assert [each.number for each in outlooks if each.job_id in alone] == ["301"]
    with CaptureQueriesContext(connection) as asked:
        short_in_plan(jobs * 10)
    assert len(asked) == 1


def test_without_a_plan_nothing_is_said_of_one(shop):
    JobPlanned.objects.all().delete()
    rebuild()
    assert short_on_board(open_outlooks()) == Why()
