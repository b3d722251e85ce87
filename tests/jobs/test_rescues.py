"""A short promise: what would make it hold is found, told, and holds once it is taken."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from html import unescape
from typing import Any

import pytest
from django.template.loader import render_to_string
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.models import Batch, Job, Piece, PlanAccepted, PlannedStep, PlanRun, RunState
from jobs.office import rescue_words
from jobs.planning.problem import visit_ends
from jobs.planning.rescue import Effort, Tried
from jobs.services import (
    plan_before,
    planned_shop,
    rescue_changes,
    rescue_taking,
    rescue_work,
    rescues,
)
from jobs.services.errors import Refused
from jobs.services.finding import open_rows
from jobs.services.plan_mix import Raw, raw_of
from jobs.services.plan_read import read_shop
from jobs.services.plan_taking import write
from jobs.services.planned_shop import leaves_at
from jobs.services.readiness import rebuild
from jobs.services.rescues import Act, Moved, Rescue, Try, found_of, look
from jobs.shapes.outlines import Rectangle
from jobs.shapes.shape import Shape
from jobs.shapes.stored import write as write_shape
from shop.models import CastingTable, ExtraHours, Person, PlannedAir, Role, Shop, Worker
from tests import factories
from tests.factories import NOW, make_customer, make_job, make_piece

pytestmark = pytest.mark.django_db

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


def test_casting_it_first_makes_it_hold_and_keeps_holding_once_taken(
    short: Job, owner: Person
) -> None:
    run = looked(short, owner)
    rescue = found(run)
    assert rescue.chance is not None
    assert rescue.chance < 0.9
    assert rescue.held_words
    first = next(each for each in rescue.holding if each.kind in {"first", "before"})
    assert first.raw
    assert not first.breaks
    assert [move.number for move in first.moved] == ["218"]
    words = rescue_taking.take(job_id=short.pk, run_id=run.pk, key=first.key, by=owner, now=NOW)
    assert "217" in words
    # As the shop judges it: on the late time, by the plan that now stands.
    rebuild()
    shop = planned_shop.planned_shop(NOW)
    assert shop.accepted
    case = rescue_work.Case.of(shop, "217")
    due = next(job.due for job in shop.read.problem.jobs if job.name == "217")
    assert case.range.planned <= due
    assert case.range.late <= due
    assert PlanAccepted.objects.filter(run=run, words__contains="217").exists()
    run.refresh_from_db()
    assert run.state == RunState.TAKEN


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
    later = replace(plan, starts={**plan.starts, last: plan.starts[last] + 3})

    def set_for(slot: int | None) -> Any:
        jobs = (replace(each, visit=slot if each.name == "218" else None) for each in problem.jobs)
        return replace(problem, jobs=tuple(jobs))

    assert case.visits_later(set_for(end - 5), later) == ("218",)
    assert case.visits_later(set_for(end - 5), plan) == ()  # no later than it was
    assert case.visits_later(set_for(end + 3), later) == ()
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


def taking(job: Job, act: Act, kind: str, owner: Person) -> str:
    """The plan as it stands, with a change beside it that was found to hold."""
    read = read_shop(NOW)
    assert read.known is not None
    one = Try(
        key=kind, kind=kind, words="Do it.", price="", hours=0.0, rounds=1, holds=True,
        act=act, raw=raw_of(read, read.known),
    )  # fmt: skip
    rescues_found = Rescue(tries=(one,))
    from jobs.services.plan_stored import as_json

    run = PlanRun.objects.create(
        about=job, state=RunState.READY, found=as_json(rescues_found), asked_by=owner
    )
    return rescue_taking.take(job_id=job.pk, run_id=run.pk, key=kind, by=owner, now=NOW)


def test_a_saturday_is_entered_among_the_extra_hours(short: Job, owner: Person) -> None:
    taking(short, Act(hours=(("2026-03-21", "07:00", "12:00"),)), "saturday", owner)
    extra = ExtraHours.objects.get()
    assert (str(extra.day), extra.reason) == ("2026-03-21", "for 217")


def test_a_warm_room_is_warm_on_those_nights(short: Job, owner: Person) -> None:
    room = short.pieces.get().room
    act = Act(room_id=room.pk, celsius=22.2, nights=("2026-03-18",))
    words = taking(short, act, "warm", owner)
    assert "set the air back afterwards" in words
    assert PlannedAir.objects.filter(room=room, weekday=2, celsius=22.2).exists()


def test_another_sealer_is_put_on_what_is_not_coated(short: Job, owner: Person) -> None:
    other = factories.make_sealer(name="Quick guard")
    taking(short, Act(sealer_id=other.pk), "sealer", owner)
    assert short.pieces.get().sealer == other


def test_what_was_pinned_stays_pinned(short: Job, owner: Person) -> None:
    taking(short, Act(pin="217-A"), "first", owner)
    assert PlannedStep.objects.filter(piece__code="217-A", pinned=True).exists()
    assert Batch.objects.filter(pieces__code="217-A", pinned=True).exists()


def undo(owner: Person) -> plan_before.Undone:
    newest = plan_before.newest()
    assert newest is not None
    return plan_before.undo(accepted_id=newest.pk, by=owner, now=NOW)


def on_the_plan_s_page(owner: Person) -> str:
    client = Client()
    client.force_login(owner)
    return " ".join(client.get(reverse("plan")).content.decode().split())


def test_undoing_takes_the_extra_hours_back_and_says_so_before(short: Job, owner: Person) -> None:
    taking(short, Act(hours=(("2026-03-21", "07:00", "12:00"),)), "saturday", owner)
    assert "The extra hours of Sat 21 Mar, 07:00 to 12:00" in on_the_plan_s_page(owner)
    undone = undo(owner)
    assert undone.back == ["the extra hours of Sat 21 Mar, 07:00 to 12:00"]
    assert not undone.left
    assert not ExtraHours.objects.exists()


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (lambda: ExtraHours.objects.update(ends=dt.time(15)), "they were changed since"),
        (lambda: ExtraHours.objects.all().delete(), "they were removed since"),
    ],
)
def test_hours_that_somebody_changed_stay_as_they_are(
    short: Job, owner: Person, change: Callable[[], object], why: str
) -> None:
    taking(short, Act(hours=(("2026-03-21", "07:00", "12:00"),)), "saturday", owner)
    change()
    before = list(ExtraHours.objects.values_list("starts", "ends"))
    assert f"stays: {why}" in on_the_plan_s_page(owner)
    undone = undo(owner)
    assert not undone.back
    assert why in undone.left[0]
    assert list(ExtraHours.objects.values_list("starts", "ends")) == before


def test_undoing_brings_the_room_s_air_back_unless_it_was_changed(
    short: Job, owner: Person
) -> None:
    room = short.pieces.get().room
    week = ("weekday", "hour", "celsius", "humidity")
    PlannedAir.objects.create(room=room, weekday=0, hour=6, celsius=room.usual_celsius)
    before = list(room.planned.values_list(*week))
    act = Act(room_id=room.pk, celsius=22.2, nights=("2026-03-18",))
    taking(short, act, "warm", owner)
    assert list(room.planned.values_list(*week)) != before
    assert undo(owner).back == [f"the raised planned air of {room.name}"]
    assert list(room.planned.values_list(*week)) == before
    taking(short, act, "warm", owner)
    room.planned.filter(weekday=0).update(celsius=18.0)
    changed = list(room.planned.values_list(*week))
    assert undo(owner).left == [
        f"the raised planned air of {room.name} (somebody changed it since)"
    ]
    assert list(room.planned.values_list(*week)) == changed


def test_undoing_brings_the_sealer_back_unless_it_was_changed(short: Job, owner: Person) -> None:
    piece = short.pieces.get()
    other, third = (factories.make_sealer(name=name) for name in ("Quick guard", "Third"))
    taking(short, Act(sealer_id=other.pk), "sealer", owner)
    assert undo(owner).back == ["the sealer of 217-A"]
    assert short.pieces.get().sealer == piece.sealer
    taking(short, Act(sealer_id=other.pk), "sealer", owner)
    Piece.objects.filter(pk=piece.pk).update(sealer=third)
    assert undo(owner).left == ["the sealer of 217-A (somebody chose another since)"]
    assert short.pieces.get().sealer == third


def test_the_pin_that_came_with_it_goes_with_it(short: Job, owner: Person) -> None:
    taking(short, Act(pin="217-A"), "first", owner)
    undo(owner)
    assert not PlannedStep.objects.filter(pinned=True).exists()
    assert not Batch.objects.filter(pinned=True).exists()


def test_a_pin_put_in_by_hand_since_still_stops_it(short: Job, owner: Person) -> None:
    taking(short, Act(hours=(("2026-03-21", "07:00", "12:00"),)), "saturday", owner)
    rescue_taking.pin_cast("218-A", owner)
    with pytest.raises(Refused, match="pinned since"):
        undo(owner)
    assert ExtraHours.objects.exists()


def test_the_office_looks_but_only_the_owner_takes(short: Job, owner: Person) -> None:
    clerk = factories.make_person(Role.OFFICE)
    run = looked(short, owner)
    key = next(each.key for each in found(run).holding if each.kind in {"first", "before"})
    with pytest.raises(Refused, match="Only the owner"):
        rescue_taking.take(job_id=short.pk, run_id=run.pk, key=key, by=clerk, now=NOW)
    client = Client()
    client.force_login(clerk)
    text = " ".join(client.get(reverse("rescue", args=["217"])).content.decode().split())
    assert "The owner can take it." in text
    assert "Take this" not in text


def test_a_plan_that_no_longer_fits_is_not_taken_and_nothing_is_changed(
    short: Job, owner: Person
) -> None:
    run = looked(short, owner)
    key = next(each.key for each in found(run).holding if each.kind in {"first", "before"})
    Worker.objects.all().delete()
    Worker.objects.create(name="Somebody else")
    before = list(PlannedStep.objects.values_list("piece__code", "step_key", "starts_at"))
    with pytest.raises(Refused):
        rescue_taking.take(job_id=short.pk, run_id=run.pk, key=key, by=owner, now=NOW)
    assert list(PlannedStep.objects.values_list("piece__code", "step_key", "starts_at")) == before
    run.refresh_from_db()
    assert run.state == RunState.READY


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
