"""What was found makes the promise hold once it is taken, and can be undone."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from jobs.models import Batch, Job, Piece, PlanAccepted, PlannedStep, PlanRun, RunState
from jobs.services import (
    plan_before,
    planned_shop,
    rescue_taking,
    rescue_work,
)
from jobs.services.errors import Refused
from jobs.services.plan_mix import raw_of
from jobs.services.plan_read import read_shop
from jobs.services.readiness import rebuild
from jobs.services.rescues import Act, Rescue, Try
from shop.models import ExtraHours, Person, PlannedAir, Role, Worker
from tests import factories
from tests.factories import NOW
from tests.jobs.rescues.conftest import found, looked

pytestmark = pytest.mark.django_db


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
