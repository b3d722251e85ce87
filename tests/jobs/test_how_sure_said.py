"""Every door says how sure a date is: likely and late, the chance in words, what it is judged on."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Iterator

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.models import Job, Mail, Piece, PromiseState
from jobs.services.chances import in_words
from jobs.services.effects import cast_effect, install_effect
from jobs.services.levers import what_would_change
from jobs.services.outlook import JobOutlook
from jobs.services.readiness import outlook_of, rebuild
from shop.models import JudgedOn, Mix, Role, Shop
from shop.templatetags.measures import moment
from tests.factories import (
    DAY,
    HOUR,
    make_job,
    make_mark,
    make_person,
    make_piece,
    make_shop,
    make_working_week,
)
from tests.factories import NOW as START

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _shop_clock() -> Iterator[None]:
    with timezone.override("America/Chicago"):
        yield


@pytest.fixture
def job(monkeypatch: pytest.MonkeyPatch) -> Job:
    """Cast a while ago; promised between the likely and the late time, so short by the late one."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: START)
    shop = make_shop()
    make_working_week()
    job = make_job("217", promised_on=None)
    make_mark(make_piece(job, "A"), "cast", START - 6 * HOUR)
    Mix.objects.update(placeholder=True)
    found = read()
    assert found.ready_at
    assert found.ready_late
    assert found.ready_late > found.ready_at
    between = (found.ready_at + (found.ready_late - found.ready_at) / 2).astimezone(shop.zone)
    job.promised_on, job.promised_by = between.date(), between.time().replace(microsecond=0)
    job.save()
    return job


def read(number: str = "217") -> JobOutlook:
    outlook = outlook_of(number, START)
    assert outlook
    return outlook


def signed_in(role: str) -> Client:
    client = Client()
    client.force_login(make_person(role, warned=True))
    return client


def text_of(client: Client, address: str) -> str:
    return " ".join(client.get(address).content.decode().split())


def test_short_by_the_late_time_though_likely_in_time_says_why(job: Job) -> None:
    found = read()
    assert found.state == PromiseState.SHORT
    assert found.ready_at < found.promised_at
    assert found.reason.startswith("Likely ready in time, ")
    assert f": {in_words(found.chance)} to keep the promise." in found.reason
    Shop.objects.update(judged_on=JudgedOn.LIKELY)
    assert "Likely ready in time" not in read().reason


def test_the_board_and_the_job_on_it_give_both_times_and_the_chance(job: Job) -> None:
    rebuild(START)
    client, found = signed_in(Role.OWNER), read()
    opened = text_of(client, reverse("board-job", args=["217"]))
    assert f"<b>{in_words(found.chance)}</b> to keep {moment(found.promised_at)}" in opened
    assert "judged on the late time, by which 9 of 10 such jobs are ready" in opened
    week = text_of(client, f"{reverse('board')}?week=2026-W13")
    for shown in (opened, week):
        assert f'likely <span class="nowrap">{moment(found.ready_at)}' in shown
        assert moment(found.ready_late)[-5:] in shown
    assert "Hours to spare are counted from the late time." in week
    Shop.objects.update(judged_on=JudgedOn.LIKELY)
    rebuild(START)
    assert "judged on the likely time" in text_of(client, reverse("board-job", args=["217"]))
    assert "counted from the likely time" in text_of(client, reverse("board"))


def test_the_warning_has_the_range_and_the_chance(job: Job) -> None:
    make_person(Role.OWNER, warned=True)
    rebuild(START)
    body, found = Mail.objects.get().body, read()
    assert "Ready: likely " in body
    assert ", late " in body
    words = in_words(found.chance).capitalize()
    assert f"{words} to keep the promise, judged on the late time." in body


def test_a_cast_says_what_chance_it_leaves(job: Job) -> None:
    other = make_job("218", dt.date(2026, 4, 10))
    piece = make_piece(other, "A")
    (effect,) = cast_effect(
        piece_ids=[piece.pk], room_id=piece.room_id, planned_for=START + DAY, now=START
    )
    assert effect.chance is not None
    assert f"to spare, {in_words(effect.chance)} to keep it; latest cast" in effect.sentence
    assert effect.ready.startswith("likely ")


def test_an_install_between_the_likely_and_the_late_time_is_doubtful(job: Job) -> None:
    found = read()
    between = found.ready_at + (found.ready_late - found.ready_at) / 2
    asked = {"job_id": job.pk, "now": START}
    assert "likely in time for this install, but not by the late time" in (
        install_effect(starts_at=between, **asked).sentence
    )
    assert "would stand without it" in (
        install_effect(starts_at=found.ready_at - HOUR, **asked).sentence
    )


def test_the_office_has_day_chance_range_and_what_would_change_it(job: Job) -> None:
    rebuild(START)
    client, found = signed_in(Role.OFFICE), read()
    shown = text_of(client, reverse("job", args=["217"]))
    holding = found.chance_on(found.holding_on)
    assert f"{in_words(holding)} to keep it" in shown
    assert f"Ready between {moment(found.ready_early)} (early)" in shown
    assert f"and {moment(found.ready_late)} (late), likely {moment(found.ready_at)}." in shown
    assert f": {in_words(found.chance)}." in shown
    assert "What would change it:" in shown
    assert what_would_change(found) in shown


@pytest.mark.parametrize("query", ["", "?q=21"])
def test_list_and_search_have_the_chance_of_each_promise(job: Job, query: str) -> None:
    make_piece(make_job("218", dt.date(2026, 4, 10)), "A")
    rebuild(START)
    shown = text_of(signed_in(Role.OFFICE), f"{reverse('office')}{query}")
    for number in ("217", "218"):
        assert f"{in_words(read(number).chance)} to keep it" in shown


def test_a_day_typed_while_telling_has_its_own_chance(job: Job) -> None:
    rebuild(START)
    client, day = signed_in(Role.OFFICE), read().days[0].on
    address = reverse("tell", args=["217"])
    told = {"step": "redraw", "means": "email", "told_on": day.isoformat(), "body": "", "to": ""}
    shown = " ".join(client.post(address, told).content.decode().split())
    assert f"{in_words(read().days[0].chance)} to keep it" in shown


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({}, "would bring it sooner"),
        ({"on_hold": "crack"}, "Releasing 217-A from its hold comes first."),
        ({"cast_at": None}, "The cast of 217-A: sooner brings the day sooner"),
    ],
)
def test_what_would_change_a_day(job: Job, changed: dict[str, object], said: str) -> None:
    found = read()
    piece = dataclasses.replace(found.pieces[0], **changed)
    assert said in what_would_change(dataclasses.replace(found, pieces=(piece,)))


def test_nothing_would_change_what_has_left(job: Job) -> None:
    piece = Piece.objects.get()
    for step in read().pieces[0].steps[1:]:
        make_mark(piece, step.key, START)
    assert what_would_change(read()) == ""


def test_what_if_has_chance_and_late_time_before_and_after(job: Job) -> None:
    client = signed_in(Role.OWNER)
    before = read()
    shown = text_of(client, f"{reverse('piece-figure', args=['217-A'])}?celsius=86")
    answer = shown[shown.index('id="answer"') :]
    rows = answer[: answer.index("Each step")]
    assert "217-A likely ready" in rows
    assert f"<td>{moment(before.pieces[0].ready_late)}</td>" in rows
    assert 'Chance to keep it <span class="small soft">judged on the late time' in rows
    assert f"<td>{in_words(before.chance)}</td><td><strong>" in rows


def test_the_shop_chooses_what_a_promise_is_judged_on(job: Job) -> None:
    shown = text_of(signed_in(Role.OWNER), reverse("settings"))
    assert "The late time is the one by which 9 of 10 such jobs are ready" in shown
    assert '<option value="late" selected>the late time (9 in 10)</option>' in shown
