"""A short promise: what would make it hold is found and told."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from html import unescape
from typing import Any

import pytest
from django.template.loader import render_to_string
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.models import Job, PlanRun, RunState
from jobs.office import rescue_words
from jobs.planning.problem import visit_ends
from jobs.planning.rescue import Tried
from jobs.services import (
    planned_shop,
    rescue_changes,
    rescue_taking,
    rescue_work,
    rescues,
)
from jobs.services.errors import Refused
from jobs.services.finding import open_rows
from jobs.services.plan_mix import Raw
from jobs.services.rescues import Act, Moved, Rescue, Try, look
from shop.models import Person, Role
from tests import factories
from tests.factories import NOW, make_job, make_piece
from tests.jobs.rescues.conftest import SLAB, TODAY, found, looked

pytestmark = pytest.mark.django_db


def test_two_days_more_lead_to_the_promise_and_change_nothing(short: Job, owner: Person) -> None:
    run = looked(short, owner)
    asked = [each for each in found(run).tries if each.kind == "days"]
    assert asked
    assert all(dt.date.fromisoformat(each.act.until) > short.promised_on for each in asked)  # type: ignore[operator]
    held = next((each for each in asked if each.holds), None)
    assert held is not None
    with pytest.raises(Refused, match="Only the owner"):
        rescue_taking.take(job_id=short.pk, run_id=run.pk, key=held.key, by=owner, now=NOW)
    client = Client()
    client.force_login(owner)
    text = client.get(reverse("rescue", args=["217"])).content.decode()
    link = f"{reverse('edit-job', args=['217'])}?promised_on={held.act.until}"
    assert link in text
    assert f'value="{held.act.until}"' in client.get(link).content.decode()


def test_a_part_first_leads_to_the_notice_with_both_days(short: Job, owner: Person) -> None:
    make_piece(short, letter="B", area_m2=1.5, shape=SLAB)
    at = dt.datetime(2026, 4, 7, 19, 0, tzinfo=dt.UTC)  # 14:00 by the shop's clock
    for hours, day in ((0, "2026-04-07"), (3, "2026-04-08")):
        raw = Raw(NOW, (), (), (("217", at), ("217, the rest", at + dt.timedelta(hours=hours))))
        one = Try(
            key="part", kind="part", words="", price="", hours=0.0, rounds=1, holds=True,
            act=Act(later=("217-B",)), raw=raw,
        )  # fmt: skip
        shown = rescue_words.shown_try(one, short, owner)
        assert not shown.may_take
        assert shown.leads == f"{reverse('tell', args=['217'])}?first=217-A&rest_on={day}"
        assert "by hand" in shown.ask_first
        assert [step.words.split()[0] for step in shown.by_hand] == ["Ask", "Pin", "Load"]


def test_what_a_plan_does_not_use_makes_nothing_hold(short: Job) -> None:
    """The plan as it stands, were the job due much later: a table more has no part in that."""
    shop = planned_shop.planned_shop(NOW)
    case = rescue_work.Case.of(shop, "217")
    later = tuple(
        replace(each, due=each.due + 60 * 48) if each.name == "217" else each
        for each in shop.read.problem.jobs
    )
    holds = {}
    needless = set()
    for option in rescue_changes.options(shop, "217", ()):
        changed = replace(option.change, problem=replace(option.change.problem, jobs=later))
        finish = shop.plan.finish["217"]
        tried = Tried(changed, shop.plan, finish, holds=True, moved=())
        told = case.told_of(replace(option, change=changed), tried, rescue_work.untried(option))
        assert told.in_time
        holds.setdefault(option.kind, told.holds)
        needless |= {option.kind} if told.needless else set()
    assert holds["before"]
    assert not holds["table"]
    assert not holds["person"]
    assert not holds["saturday"]
    assert needless == {"table", "person", "saturday"}


def test_an_install_that_comes_later_than_set_with_the_site_is_told(
    short: Job, owner: Person
) -> None:
    shop = planned_shop.planned_shop(NOW)
    case = rescue_work.Case.of(shop, "217")
    problem, plan = shop.read.problem, shop.plan
    end = visit_ends(problem, plan)["218"]
    last = next(each.visit for each in problem.pieces if each.job == "218")
    assert last is not None

    def later_by(slots: int) -> Any:
        return replace(plan, starts={**plan.starts, last: plan.starts[last] + slots})

    later = later_by(48)

    def set_for(slot: int | None) -> Any:
        jobs = (replace(each, visit=slot if each.name == "218" else None) for each in problem.jobs)
        return replace(problem, jobs=tuple(jobs))

    assert case.visits_later(set_for(end - 5), later) == ("218",)
    assert case.visits_later(set_for(end - 5), plan) == ()  # no later than it was
    assert case.visits_later(set_for(end - 5), later_by(1)) == ()  # on the same day
    assert case.visits_later(set_for(end + 48), later) == ()
    assert case.visits_later(set_for(None), later) == ()
    option = {each.kind: each for each in rescue_changes.options(shop, "217", ())}["before"]
    change = replace(option.change, problem=set_for(end))
    tried = Tried(change, later, later.finish["217"], holds=True, moved=())
    told = case.told_of(replace(option, change=change), tried, rescue_work.untried(option))
    assert told.visits == ("218",)
    shown = {"try": told, "job": short, "run": look(job_id=short.pk, by=owner)}
    page = render_to_string("office/_rescue_try.html", shown)
    assert "The install of 218 comes later than was set with the site" in page
    assert "install" not in render_to_string(
        "office/_rescue_try.html", {**shown, "try": replace(told, visits=())}
    )


def test_what_moves_nothing_that_was_set_is_told_first() -> None:
    def one(key: str, **fields: Any) -> Try:
        return Try(key, "before", "", "", hours=float(key), holds=True, **fields)

    told = Moved("1", NOW, NOW, NOW, breaks=True)
    tries = (one("1", moved=(told,)), one("2", visits=("3",)), one("4"), one("3"))
    assert [each.key for each in Rescue(tries=tries).holding] == ["3", "4", "2", "1"]


def test_a_day_in_reserve_counts_where_it_holds_only_with_it(short: Job, monkeypatch: Any) -> None:
    """The plan works no hour of the Saturday, but what takes longer may run into it."""
    shop = planned_shop.planned_shop(NOW)
    case = rescue_work.Case.of(shop, "217")
    option = {each.kind: each for each in rescue_changes.options(shop, "217", ())}["saturday"]
    due = next(each.due for each in option.change.problem.jobs if each.name == "217")

    def drawn(problem: Any, *_: Any) -> Any:
        return replace(case.range, late=due + (problem is not option.change.problem))

    monkeypatch.setattr(rescue_work, "range_of", drawn)
    tried = Tried(option.change, shop.plan, due, holds=True, moved=())
    told = case.told_of(option, tried, rescue_work.untried(option))
    assert told.holds
    assert not told.needless


def test_every_change_that_was_tried_is_told_with_its_price(short: Job, owner: Person) -> None:
    tries = found(looked(short, owner)).tries
    kinds = {each.kind for each in tries}
    assert kinds >= {"saturday", "warm", "table", "person", "days"}
    assert all(each.words.endswith(".") and each.price.endswith(".") for each in tries)
    assert all(each.rounds > 0 for each in tries)
    warm = next(each for each in tries if each.kind == "warm")
    assert "72 °F" in warm.words
    assert warm.act.nights


def test_the_second_who_looks_gets_the_first_ones_run(short: Job, owner: Person) -> None:
    one = look(job_id=short.pk, by=owner, now=NOW)
    assert look(job_id=short.pk, by=factories.make_person(Role.OFFICE), now=NOW).pk == one.pk


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"promised_on": None}, "Nothing is promised"),
        ({"promised_on": TODAY - dt.timedelta(days=1)}, "has passed"),
        ({"called_off": True}, "no longer open"),
    ],
)
def test_what_needs_no_rescue_is_said(owner: Person, fields: dict[str, Any], said: str) -> None:
    job = make_job("300", TODAY + dt.timedelta(days=9))
    Job.objects.filter(pk=job.pk).update(**fields)
    with pytest.raises(Refused, match=said):
        look(job_id=job.pk, by=owner, now=NOW)


def test_what_is_not_found_is_never_said_to_be_nothing(short: Job, owner: Person) -> None:
    PlanRun.objects.create(
        about=short, state=RunState.READY, asked_by=owner,
        found={"tries": [], "leaves": None, "late": None, "chance": None, "held_words": ""},
    )  # fmt: skip
    client = Client()
    client.force_login(owner)
    text = client.get(reverse("rescue", args=["217"])).content.decode()
    assert "None found in the time." in text
    assert "nothing helps" not in text.lower()


def test_before_anything_is_tried_the_page_says_how_it_stands_and_what_will_be_tried(
    short: Job, owner: Person
) -> None:
    client = Client()
    client.force_login(owner)
    text = " ".join(client.get(reverse("rescue", args=["217"])).content.decode().split())
    row = next(row for row in open_rows() if row.job == short)
    assert 'class="promise' in text
    assert row.reason in unescape(text)
    assert "Nothing changes until one of them is taken." in text


def test_a_worker_that_falls_silent_is_said_and_a_second_try_works(
    short: Job, owner: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = look(job_id=short.pk, by=owner, now=NOW)
    PlanRun.objects.filter(pk=run.pk).update(state=RunState.RUNNING, started_at=NOW, beat_at=NOW)
    later = NOW + dt.timedelta(minutes=2)
    monkeypatch.setattr(timezone, "now", lambda: later)
    client = Client()
    client.force_login(owner)
    text = client.get(reverse("rescue", args=["217"])).content.decode()
    assert "stopped answering" in text
    assert "Nothing was changed" in text
    assert rescues.look(job_id=short.pk, by=owner, now=later).pk != run.pk
