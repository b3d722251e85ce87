"""A proposal taken, in part or whole, pinned and undone: the shop is as the plan says, or as before."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace

import pytest
from django.utils import timezone

from jobs.models import Batch, InstallDate, JobPlanned, Mark, Piece, PlannedStep, PlanRun, RunState
from jobs.planning.problem import Plan
from jobs.planning.replan import replans
from jobs.planning.search import Found
from jobs.services import plan_before, plan_mix, plan_pins, plan_runs, plan_taking, plan_work
from jobs.services.errors import Conflict, Refused
from jobs.services.plan_mix import Raw
from jobs.services.plan_read import read_shop
from jobs.services.plan_shown import Shown
from jobs.services.plan_stored import as_json, from_json
from tests.factories import (
    make_batch,
    make_job,
    make_mark,
    make_piece,
    make_shop,
    make_working_week,
)
from tests.jobs.planning.plan_shop import QUICK, a_shop, an_owner, planned

pytestmark = pytest.mark.django_db
HOUR = dt.timedelta(hours=1)
DAY = dt.timedelta(days=1)


@pytest.fixture
def owner():
    a_shop()
    return an_owner()


def steps() -> dict[tuple[str, str], tuple[dt.datetime, dt.datetime]]:
    rows = PlannedStep.objects.values_list("piece__code", "step_key", "starts_at", "ends_at")
    return {(code, key): (starts, ends) for code, key, starts, ends in rows}


def state() -> object:
    """All that a plan writes, to be compared."""
    return (
        sorted(PlannedStep.objects.values_list("piece__code", "step_key", "starts_at", "place")),
        sorted(Batch.objects.values_list("planned_for", "mix", "room", "pinned")),
        sorted(
            (code, at)
            for code, at in Piece.objects.values_list("code", "batch__planned_for")
            if at is not None
        ),
        sorted(JobPlanned.objects.values_list("job__number", "leaves_at")),
        sorted(InstallDate.objects.values_list("job__number", "starts_at")),
    )


def test_what_is_taken_is_what_was_shown(owner) -> None:
    run = planned(owner)
    shown = from_json(Shown, run.found["shown"])
    assert {job.number for job in shown.jobs if job.leaves} == {"300", "301", "302"}
    assert all(job.new for job in shown.jobs)
    accepted = plan_taking.take(run_id=run.pk, by=owner)

    assert accepted.words == "The whole plan, 3 jobs"
    run.refresh_from_db()
    assert run.state == RunState.TAKEN
    written = steps()
    for work in shown.works:
        for code in work.codes:
            begins, ends = written[code, work.step_key]
            assert begins <= work.starts
            assert work.ends <= ends
    assert {key for _, key in written} >= {"form", "cast", "demold", "deliver"}
    for job in shown.jobs:
        assert JobPlanned.objects.get(job=job.job_id).leaves_at == job.leaves
    # Everybody is named, and a table stands beside form, cast and demold.
    for row in PlannedStep.objects.filter(step_key__in=["form", "cast", "demold"]):
        assert row.place.startswith("Table")
        assert row.people


def test_casts_are_set_by_the_plan_and_not_by_hand(owner) -> None:
    plan_taking.take(run_id=planned(owner).pk, by=owner)
    for piece in Piece.objects.select_related("batch"):
        assert piece.batch.planned_for == steps()[piece.code, "cast"][0]
        assert not piece.batch.pinned
        assert piece.batch.planned_by == owner


def test_a_cast_that_somebody_set_stays_where_it_is(owner) -> None:
    piece = Piece.objects.get(code="301-A")
    day = (timezone.now() + 14 * DAY).date()
    monday = day - dt.timedelta(days=day.weekday())
    at = dt.datetime.combine(monday, dt.time(15, 0), tzinfo=dt.UTC)
    batch = make_batch(piece, planned_for=at, pinned=True)
    plan_taking.take(run_id=planned(owner).pk, by=owner)
    assert steps()["301-A", "cast"][0] == at
    batch.refresh_from_db()
    assert (batch.planned_for, batch.pinned, batch.version) == (at, True, 1)


def test_a_cast_set_by_hand_stays_for_a_piece_that_is_cast_once_more(owner) -> None:
    """What was marked of the casting that was lost is not of the one to come."""
    piece = Piece.objects.get(code="301-A")
    make_mark(piece, "cast", timezone.now() - 5 * DAY, by=owner)
    make_mark(piece, "", timezone.now() - 3 * DAY, by=owner, kind=Mark.Kind.RECAST)
    day = (timezone.now() + 14 * DAY).date()
    monday = day - dt.timedelta(days=day.weekday())
    at = dt.datetime.combine(monday, dt.time(15, 0), tzinfo=dt.UTC)
    batch = make_batch(piece, planned_for=at, pinned=True)
    accepted = plan_taking.take(run_id=planned(owner).pk, by=owner)
    batch.refresh_from_db()
    assert (batch.planned_for, batch.pinned, batch.version) == (at, True, 1)
    assert Piece.objects.get(code="301-A").batch == batch
    plan_before.undo(accepted_id=accepted.pk, by=owner)
    assert Piece.objects.get(code="301-A").batch == batch


def test_taking_twice_is_taking_once(owner) -> None:
    run = planned(owner)
    plan_taking.take(run_id=run.pk, by=owner)
    with pytest.raises(Refused, match="taken or put aside already"):
        plan_taking.take(run_id=run.pk, by=owner)


def test_a_proposal_put_aside_changes_nothing(owner) -> None:
    before = state()
    run = planned(owner)
    plan_runs.leave(run.pk)
    with pytest.raises(Refused, match="put aside"):
        plan_taking.take(run_id=run.pk, by=owner)
    assert state() == before


def test_undoing_brings_back_all_that_was(owner) -> None:
    before = state()
    accepted = plan_taking.take(run_id=planned(owner).pk, by=owner, installs=True)
    assert state() != before
    assert InstallDate.objects.count() == 3
    plan_before.undo(accepted_id=accepted.pk, by=owner)
    assert state() == before
    with pytest.raises(Refused, match="undone already"):
        plan_before.undo(accepted_id=accepted.pk, by=owner)


def test_a_second_plan_undone_brings_back_the_first(owner) -> None:
    first = plan_taking.take(run_id=planned(owner).pk, by=owner)
    one = state()
    make_piece(make_job("310", promised_on=timezone.now().date() + 9 * DAY), "A", area_m2=1.0)
    second = plan_taking.take(run_id=planned(owner).pk, by=owner)
    assert ("310-A", "cast") in steps()
    with pytest.raises(Refused, match="after this"):
        plan_before.undo(accepted_id=first.pk, by=owner)
    plan_before.undo(accepted_id=second.pk, by=owner)
    assert state() == one
    plan_before.undo(accepted_id=first.pk, by=owner)
    assert not PlannedStep.objects.exists()


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda piece, by: make_mark(piece, "cast", timezone.now(), by=by), "was cast as planned"),
        (
            lambda piece, by: Batch.objects.filter(pk=piece.batch_id).update(
                planned_for=timezone.now() + 9 * DAY
            ),
            "changed since by hand",
        ),
        (
            lambda piece, by: make_batch(piece, planned_for=timezone.now() + DAY),
            "into another cast",
        ),
        (
            lambda piece, by: PlannedStep.objects.filter(piece=piece, step_key="demold").update(
                pinned=True
            ),
            "pinned since",
        ),
    ],
)
def test_undoing_is_refused_where_it_would_throw_something_away(owner, change, says) -> None:
    accepted = plan_taking.take(run_id=planned(owner).pk, by=owner)
    change(Piece.objects.get(code="300-A"), owner)
    stands = state()
    with pytest.raises(Refused, match=says):
        plan_before.undo(accepted_id=accepted.pk, by=owner)
    assert state() == stands


def test_some_jobs_are_taken_and_the_rest_can_be_taken_later(owner) -> None:
    run = planned(owner)
    plan_taking.take(run_id=run.pk, by=owner, jobs=["301"])
    assert {code for code, _ in steps()} == {"301-A"}
    run.refresh_from_db()
    assert run.state == RunState.READY
    with pytest.raises(Refused, match="301 was taken already"):
        plan_taking.take(run_id=run.pk, by=owner, jobs=["301"])
    plan_taking.take(run_id=run.pk, by=owner, jobs=["300", "302"])
    assert {code for code, _ in steps()} == {"300-A", "301-A", "302-A"}
    run.refresh_from_db()
    assert run.state == RunState.TAKEN


def test_nothing_ticked_is_said(owner) -> None:
    with pytest.raises(Refused, match="Tick at least one"):
        plan_taking.take(run_id=planned(owner).pk, by=owner, jobs=[])


def test_a_job_that_takes_another_s_people_names_it(owner) -> None:
    """Where 300 stands now, the proposal has 301: one can't be taken without the other."""
    plan_taking.take(run_id=planned(owner).pk, by=owner)
    read = read_shop()
    stands = plan_mix.raw_of(read, read.known)
    # The proposal: 300 and 301 change places, all the rest as it is.
    swap = {"300-A": "301-A", "301-A": "300-A"}
    steps_of = {(code, step): (at, people) for code, step, at, people in stands.steps}
    swapped = replace(
        stands,
        steps=tuple(
            (code, step, *steps_of[swap.get(code, code), step]) for code, step, _, _ in stands.steps
        ),
        held=tuple(
            (code, n, {(c, m): name for c, m, name in stands.held}[swap.get(code, code), n])
            for code, n, _ in stands.held
        ),
    )
    run = plan_runs.claim(plan_runs.ask(owner).pk, timezone.now())
    shown = plan_work.explained(read, plan_mix.plan_from(swapped, read))
    plan_runs.ready(run, {"raw": as_json(swapped), "shown": as_json(shown)})
    before = state()
    with pytest.raises(Refused, match="301") as refused:
        plan_taking.take(run_id=run.pk, by=owner, jobs=["300"])
    assert "Take 301 along" in refused.value.message
    assert "302" not in refused.value.message
    assert state() == before
    plan_taking.take(run_id=run.pk, by=owner, jobs=["300", "301"])
    assert steps()["300-A", "cast"] != before


def test_a_plan_that_no_longer_fits_is_refused(owner) -> None:
    run = planned(owner)
    # A piece grew out of every table since.
    Piece.objects.filter(code="300-A").update(area_m2=40.0)
    before = state()
    with pytest.raises(Refused):
        plan_taking.take(run_id=run.pk, by=owner, jobs=["300"])
    assert state() == before


def test_a_cast_whose_time_has_passed_is_refused(owner) -> None:
    run = planned(owner)
    late = from_json(Raw, run.found["raw"]).starts_at + 30 * DAY
    with pytest.raises(Refused, match="has passed"):
        plan_taking.take(run_id=run.pk, by=owner, now=late)
    assert not PlannedStep.objects.exists()


def test_a_pin_holds_against_planning_anew(owner) -> None:
    plan_taking.take(run_id=planned(owner).pk, by=owner)
    row = PlannedStep.objects.get(piece__code="302-A", step_key="cast")
    plan_pins.pin(code="302-A", step_key="cast", seen=row.starts_at, pinned=True, by=owner)
    row.refresh_from_db()
    assert row.pinned
    assert Piece.objects.get(code="302-A").batch.pinned
    make_piece(make_job("310", promised_on=timezone.now().date() + 8 * DAY), "A", area_m2=1.0)
    plan_taking.take(run_id=planned(owner).pk, by=owner)
    again = PlannedStep.objects.get(piece__code="302-A", step_key="cast")
    assert (again.starts_at, again.pinned, again.pinned_by) == (row.starts_at, True, owner)
    plan_pins.pin(code="302-A", step_key="cast", seen=row.starts_at, pinned=False, by=owner)
    assert not Piece.objects.get(code="302-A").batch.pinned


def test_a_pin_on_what_was_moved_meanwhile_says_where_it_is_now(owner) -> None:
    plan_taking.take(run_id=planned(owner).pk, by=owner)
    row = PlannedStep.objects.get(piece__code="302-A", step_key="demold")
    with pytest.raises(Conflict, match=r"302-A .* is planned for"):
        plan_pins.pin(
            code="302-A", step_key="demold", seen=row.starts_at - HOUR, pinned=True, by=owner
        )
    with pytest.raises(Refused, match="no such step"):
        plan_pins.pin(code="302-A", step_key="polish", seen=row.starts_at, pinned=True, by=owner)


def test_a_run_that_stumbles_says_so_and_leaves_the_plan(owner, monkeypatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("boom")

    monkeypatch.setattr(plan_work, "read_shop", broken)
    run = plan_work.plan_shop(plan_runs.ask(owner).pk, QUICK)
    assert run.state == RunState.FAILED
    assert "Nothing was changed" in run.trouble
    assert not PlannedStep.objects.exists()


def test_what_is_found_wrong_is_left_out_and_named_and_the_rest_can_be_taken(
    owner, monkeypatch
) -> None:
    def wrong(*asked: object) -> Iterator[tuple[Plan, Found]]:
        for plan, found in replans(*asked):
            cast = next(key for key in plan.starts if key.piece == "301-A")
            yield replace(plan, starts={**plan.starts, cast: 0}), found

    monkeypatch.setattr(plan_work, "replans", wrong)
    run = planned(owner)
    shown = from_json(Shown, run.found["shown"])
    assert [each.about for each in shown.left_out] == ["301"]
    assert "breaks a rule of the shop" in shown.left_out[0].words
    assert sorted(job.number for job in shown.jobs if job.leaves) == ["300", "302"]
    plan_taking.take(run_id=run.pk, by=owner)
    assert {code for code, _ in steps()} == {"300-A", "302-A"}


def test_a_run_that_is_stopped_keeps_the_best_it_found(owner, monkeypatch) -> None:
    run = plan_runs.ask(owner)
    PlanRun.objects.filter(pk=run.pk).update(stop_asked=True)
    done = plan_work.plan_shop(run.pk)  # the whole budget
    assert done.state == RunState.READY
    assert done.trouble.startswith("Stopped")
    assert len(done.progress) == 1
    plan_taking.take(run_id=done.pk, by=owner)
    assert len({code for code, _ in steps()}) == 3


def test_a_shop_without_tables_or_hours_is_told_what_is_missing() -> None:
    make_shop()
    make_piece(make_job("320"), "A", area_m2=1.0)
    run = planned(an_owner())
    shown = from_json(Shown, run.found["shown"])
    assert [each.about for each in shown.left_out] == ["320-A"]
    assert not any(job.leaves for job in shown.jobs)
    with pytest.raises(Refused, match=r"no date|can be taken"):
        plan_taking.take(run_id=run.pk, by=run.asked_by)


def test_a_shop_with_nothing_to_do_has_nothing_to_take() -> None:
    make_shop()
    make_working_week()
    run = planned(an_owner())
    assert from_json(Shown, run.found["shown"]).moving == ()
