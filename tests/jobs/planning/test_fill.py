"""The plan's problem from what is stored: every start of a plan is one that the engine allows."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from curing import timeline
from jobs.demo.load import load
from jobs.models import FormSetUp, InstallDate, Mark
from jobs.planning.check import broken_rules
from jobs.planning.fill import (
    Filled,
    PlanFacts,
    fill,
    plan_facts,
)
from jobs.planning.problem import Key, Plan, Window
from jobs.services.derive import engine_arguments
from jobs.services.route_steps import engine_sealer, piece_steps
from jobs.services.standing import standing_of
from shop.localtime import to_hours
from shop.models import CastingTable, PlannedAir, Shop, Stations, StepKind, Worker
from shop.models.crew import Absence
from tests.factories import (
    HOUR,
    make_batch,
    make_job,
    make_mark,
    make_notice,
    make_person,
    make_piece,
)
from tests.jobs.planning.filled import filled, listed, steps_of
from tests.jobs.planning.invented import NOW, furnish, invent

pytestmark = pytest.mark.django_db


# Against the engine.


@pytest.mark.parametrize("seed", range(5))
def test_every_start_of_a_plan_is_one_that_the_engine_allows(seed: int) -> None:
    invent(seed)
    known = plan_facts(NOW)
    made = fill(known)
    plan = listed(made)
    assert broken_rules(made.problem, plan) == []
    starts = 0
    for job in known.facts.jobs:
        for piece in job.pieces.all():
            if any(key.piece == piece.code for key in plan.starts):
                starts += allowed(known, made, plan, piece)
    assert starts > 30


def test_so_it_is_in_the_demo_shop_where_everything_is_under_way_at_once() -> None:
    moment = dt.datetime(2026, 11, 25, 13, 40, tzinfo=dt.UTC)
    assert load(moment)
    known = plan_facts(moment)
    made = fill(known)
    plan = listed(made)
    assert broken_rules(made.problem, plan) == []
    # Only the piece on hold is left out, and every job without one has a date.
    assert [fault.key for fault in plan.faults] == ["hold"]
    assert set(plan.finish) == set(made.jobs) - made.undated
    pieces = [piece for job in known.facts.jobs for piece in job.pieces.all()]
    starts = sum(
        allowed(known, made, plan, piece)
        for piece in pieces
        if any(key.piece == piece.code for key in plan.starts)
    )
    assert starts > 100


def allowed(known: PlanFacts, made: Filled, plan: Plan, piece) -> int:
    """Holds each planned start against the engine's earliest, given the starts before it."""
    facts = known.facts
    steps = piece_steps(piece, facts.shop, facts.gate_of(piece))
    first, last = spans(made, plan, piece.code)
    done = {key: to_hours(at) for key, at in standing_of(piece.marks.all()).finished_at().items()}
    cast_key = steps[0].engine.key
    cast = done.get(cast_key, first.get(cast_key))
    ends = {**last, **done, cast_key: cast}
    arguments = engine_arguments(facts, piece, steps)
    air = facts.coating_climate or facts.climate_of(piece.room_id)
    fits = air.coatable_windows(engine_sealer(piece.sealer).limits)
    checked = 0
    for number, step in enumerate(steps[1:], 1):
        key = step.engine.key
        if key in done:
            continue
        before = {one.engine.key: ends[one.engine.key] for one in steps[:number]}
        found = timeline.derive(cast=cast, done=before, now=to_hours(facts.now), **arguments)
        assert found[number].earliest <= first[key] + 1e-6, (piece.code, key, found[number])
        if step.kind == StepKind.COAT:
            held = (fits[:, 0] <= first[key] + 1e-6) & (last[key] <= fits[:, 1] + 1e-6)
            assert held.any(), (piece.code, key)
        checked += 1
    return checked


def spans(made: Filled, plan: Plan, code: str) -> tuple[dict[str, float], dict[str, float]]:
    piece = next(piece for piece in made.problem.pieces if piece.code == code)
    first: dict[str, float] = {}
    last: dict[str, float] = {}
    for number, step in enumerate(piece.steps):
        key = Key(code, number)
        name, start = made.steps[key].step_key, plan.starts[key]
        first.setdefault(name, float(made.slots.hours(start)))
        last[name] = float(made.slots.hours(start + step.slots))
    return first, last


def test_waits_are_those_reckoned_by_hand_at_a_steady_20_degrees() -> None:
    furnish(20.0)
    make_piece(make_job(), area_m2=1.5)
    steps = steps_of(filled(), "217-A")
    # Of 1.5 m2: form 1 + 2 x 1.5 = 4 h, cast 0.5 + 0.7 x 1.5 = 1.55 h, coats 0.25 + 0.3 x 1.5.
    assert [steps[key].slots for key in ("form", "cast", "seal-1")] == [8, 4, 2]
    assert steps["form"].lag.least == 16  # caulk, 8 h
    # 2,500 psi of 9,000 k(t - 6) / (1 + k(t - 6)), k = 0.0322: at 17.9 h; the age of 20 h governs,
    # from water-in, and the cast takes 2 h of it.
    assert steps["cast"].lag.least == 36
    assert steps["fill"].lag.least == 24  # 12 h after the slurry
    assert steps["hone"].lag.least == 96  # 48 h of drying, neither cold nor humid
    assert steps["seal-1"].lag.least == 8
    # The window of 24 h counts from the work's own end, 0.3 h before its last slot's.
    assert steps["seal-1"].lag.greatest == 47
    # 24 h at 23 °C; at 20 °C the film cures at 2^(-3 / 10) of that: 29.5 h.
    assert steps["seal-2"].lag.least == 60
    # 3,000 psi at 21.5 h, and 24 h of age and by the clock: from water-in, 22 h after the cast.
    (after,) = steps["grind"].after
    assert (after.step, after.lag.least, after.lag.why) == (1, 44, "strength")
    # 120 h from water-in are over by the time all else is done.
    assert steps["deliver"].after == ()


def test_a_colder_night_makes_the_wait_of_its_day_longer() -> None:
    room = furnish(20.0)
    for weekday, celsius in ((0, 20.0), (4, 8.0)):
        PlannedAir.objects.create(room=room, weekday=weekday, hour=0, celsius=celsius)
    make_piece(make_job())
    made = filled()
    lag = steps_of(made, "217-A")["cast"].lag
    by_weekday = {made.slots.date_of(n).weekday(): slots for n, slots in enumerate(lag.by_day)}
    assert by_weekday[0] == 36  # 20 °C all the time
    assert by_weekday[4] > by_weekday[3] > by_weekday[0]


def test_what_is_left_of_a_wait_counts_from_the_mark() -> None:
    furnish(20.0)
    piece = make_piece(make_job())
    make_mark(piece, "cast", NOW - 7.25 * HOUR)
    make_person()
    made = filled()
    cast = steps_of(made, "217-A")["cast"]
    # 20 h of age: 12.75 h from 9:10, so at 21:55, in the slot of 22:00.
    ready = made.moment(cast.began + cast.lag.least)
    assert ready == dt.datetime(2026, 3, 5, 4, 0, tzinfo=dt.UTC)
    assert cast.slots == 0
    assert cast.crew == 0


def test_a_coat_that_misses_its_window_is_abraded_for() -> None:
    furnish(20.0)
    piece = make_piece(make_job(), area_m2=1.5)
    for step, hours in (("cast", 300), ("demold", 270), ("grind", 250), ("fill", 248)):
        make_mark(piece, step, NOW - hours * HOUR)
    make_mark(piece, "hone", NOW - 220 * HOUR)
    make_mark(piece, "seal-1", NOW - 30 * HOUR)  # 24 h is the most
    coats = steps_of(filled(), "217-A")
    assert coats["seal-1"].lag.greatest is None
    assert coats["seal-2"].slots == 3  # 0.7 h, and half an hour to abrade
    plan = listed(filled())
    assert "217" in plan.finish


# Time.


def test_slots_begin_at_the_next_half_hour_and_days_at_the_shops_midnights() -> None:
    furnish()
    make_piece(make_job())
    made = filled()
    assert made.starts_at == dt.datetime(2026, 3, 4, 15, 30, tzinfo=dt.UTC)
    assert made.problem.shop.day_starts[0] == -19  # 9:30 since midnight
    lengths = np.diff(made.problem.shop.day_starts)
    # Clocks are put forward on Sunday the 8th: that day has 23 hours.
    assert lengths[4] == 46
    assert set(lengths) == {46, 48}
    for slot in (0, 7, 300):
        assert made.slot(made.moment(slot)) == slot


def test_people_are_away_on_the_days_they_do_not_work_and_when_they_are_away() -> None:
    furnish()
    make_piece(make_job())
    ana = Worker.objects.create(name="Ana", works=["cast", "form"], weekdays=[0, 1, 2, 3])
    Absence.objects.create(worker=ana, first_day="2026-03-09", last_day="2026-03-10")
    person = next(each for each in filled().problem.shop.people if each.name == "Ana")
    days = filled().problem.shop.day_starts
    assert person.skills == {"cast", "form"}
    assert Window(days[2], days[3]) in person.absences  # Friday
    assert Window(days[5], days[7]) in person.absences  # Monday and Tuesday
    assert not any(begin < days[2] for begin, _ in person.absences)


# Dates.


def test_a_promise_is_kept_when_the_last_piece_leaves_by_its_hour() -> None:
    furnish()
    job = make_job(promised_on=dt.date(2026, 3, 20), weight=3)
    make_piece(job)
    make_notice(job, dt.date(2026, 3, 21))
    make_piece(make_job("218", promised_on=None))
    made = filled()
    with_date, without = made.problem.jobs
    # 15:00, and the delivery's hour that begins then; 21 March the same.
    leaves = made.slot(dt.datetime(2026, 3, 20, 20, 0, tzinfo=dt.UTC))
    assert (with_date.due, with_date.told, with_date.weight) == (leaves + 2, leaves + 50, 3)
    assert without.due == made.problem.shop.horizon
    assert without.told is None
    piece = made.problem.pieces[0]
    assert made.steps[piece.counted].step_key == "deliver"
    assert made.problem.move_cost == 2 * 48 * 3


def test_an_install_waits_for_the_day_of_the_site() -> None:
    furnish()
    job = make_job()
    make_piece(job)
    make_piece(job, "B")
    at = dt.datetime(2026, 3, 24, 15, 0, tzinfo=dt.UTC)  # 10:00; the shift ends at 12:00
    InstallDate.objects.create(job=job, starts_at=at, hours=4.0, people=2)
    made = filled()
    rows = [
        (made.steps[Key("217-A", n)], step)
        for n, step in enumerate(made.problem.pieces[0].steps)
        if made.steps[Key("217-A", n)].step_key == "install"
    ]
    assert [(ref.part, ref.parts, step.slots) for ref, step in rows] == [(1, 2, 4), (2, 2, 4)]
    assert rows[0][1].windows[0].begin == made.slot(at)
    plan = listed(made)
    first = min(n for (ref, _), n in zip(rows, range(len(rows)), strict=True))
    number = made.problem.pieces[0].steps.index(rows[first][1])
    assert made.moment(plan.starts[Key("217-A", number)]) == at
    assert plan.starts[Key("217-A", number)] == plan.starts[Key("217-B", number)]
    # Over at 14:30, after lunch, if it begins when it was agreed to.
    assert made.problem.jobs[0].visit == made.slot(dt.datetime(2026, 3, 24, 19, 30, tzinfo=dt.UTC))
    assert made.problem.jobs[0].visit_weight == job.weight


def test_an_install_agreed_counts_when_all_has_been_delivered() -> None:
    furnish()
    job = make_job(promised_on=dt.date(2026, 3, 4), weight=3)
    piece = make_piece(job)
    make_mark(piece, "deliver", NOW - 20 * HOUR)
    at = dt.datetime(2026, 3, 24, 15, 0, tzinfo=dt.UTC)
    made = filled()
    assert made.problem.jobs[0].visit is None
    InstallDate.objects.create(job=job, starts_at=at, hours=2.0, people=2)
    made = filled()
    assert made.problem.jobs[0].weight == 0
    assert made.problem.jobs[0].visit == made.slot(at) + 4
    assert made.problem.jobs[0].visit_weight == 3


# Casts.


def test_a_set_cast_is_one_and_stays_where_it_is_pinned() -> None:
    furnish()
    job, other = make_job(), make_job("218")
    pieces = [make_piece(job, area_m2=0.6), make_piece(other, area_m2=0.6)]
    at = dt.datetime(2026, 3, 9, 14, 0, tzinfo=dt.UTC)
    batch = make_batch(*pieces, planned_for=at)
    made = filled()
    casts = [steps_of(made, code)["cast"] for code in ("217-A", "218-A")]
    # 2 x (0.5 + 0.7 x 0.6) h: 4 slots by one crew.
    assert {step.together for step in casts} == {f"batch {batch.pk} 1"}
    assert {(step.slots, step.pin) for step in casts} == {(4, made.slot(at))}
    batch.pinned = False
    batch.save()
    casts = [steps_of(filled(), code)["cast"] for code in ("217-A", "218-A")]
    assert {step.pin for step in casts} == {None}
    assert casts[0].together == casts[1].together


def test_a_set_cast_that_meets_the_end_of_the_shift_goes_on_after_it() -> None:
    furnish()
    job = make_job()
    pieces = [make_piece(job, letter, area_m2=1.5) for letter in "AB"]
    at = dt.datetime(2026, 3, 10, 15, 0, tzinfo=dt.UTC)  # 10:00 to 12:00; each takes 1.55 h
    make_batch(*pieces, planned_for=at)
    made = filled()
    pins = [steps_of(made, code)["cast"].pin for code in ("217-A", "217-B")]
    assert pins == [made.slot(at), made.slot(at + 2.5 * HOUR)]  # 12:30
    assert any("217-A, 217-B" in note for note in made.notes)
    assert "217" in listed(made).finish


def test_a_cast_set_where_nobody_is_there_is_named_and_the_rest_planned() -> None:
    furnish()
    make_batch(make_piece(make_job()), planned_for=dt.datetime(2026, 3, 9, 2, 0, tzinfo=dt.UTC))
    make_piece(make_job("218"))
    made = filled()
    (fault,) = made.faults
    assert (fault.about, fault.key) == ("217-A", "pin")
    assert "Sun 8 Mar 21:00" in fault.words
    assert "Nobody is on shift" in fault.words
    plan = listed(made)
    assert set(plan.finish) == {"218"}


def test_pieces_that_match_are_cast_from_one_run_where_the_mixer_takes_them() -> None:
    furnish()
    job = make_job()
    for letter in "ABC":
        make_piece(job, letter, area_m2=0.5, matches_job=letter != "C")
    Shop.objects.update(mixer_kg=200.0)
    made = filled()
    casts = {code: steps_of(made, code)["cast"].together for code in ("217-A", "217-B", "217-C")}
    assert casts["217-A"] == casts["217-B"] != ""
    assert casts["217-C"] == ""
    # 0.5 m2 x 0.019 m x 2,080 kg/m3 are 19.8 kg, and waste: two of them are more than 30 kg.
    Shop.objects.update(mixer_kg=30.0)
    made = filled()
    assert {steps_of(made, code)["cast"].together for code in casts} == {""}


# What cannot be planned.


def test_a_piece_on_hold_is_left_out_and_its_job_has_no_date() -> None:
    furnish()
    job = make_job()
    piece = make_piece(job)
    make_piece(job, "B")
    make_mark(piece, "", NOW - HOUR, kind=Mark.Kind.HOLD, reason="Wrong colour")
    made = filled()
    assert [(fault.about, fault.key) for fault in made.faults] == [("217-A", "hold")]
    assert "Wrong colour" in made.faults[0].words
    plan = listed(made)
    assert plan.finish == {}
    assert Key("217-B", 0) in plan.starts
    assert broken_rules(made.problem, plan) != []  # the core counts 217-B alone as the job


def test_a_piece_larger_than_every_table_is_named() -> None:
    furnish()
    shape = {"outline": "rectangle", "length": 4.2, "width": 0.6}
    make_piece(make_job(), area_m2=2.52, shape=shape)
    make_piece(make_job("218"))
    made = filled()
    assert [(fault.about, fault.key) for fault in made.faults] == [("217-A", "size")]
    assert set(listed(made).finish) == {"218"}


def test_only_tables_that_take_its_length_are_asked_for() -> None:
    furnish()
    shape = {"outline": "rectangle", "length": 2.6, "width": 0.6}
    make_piece(make_job(), area_m2=1.56, shape=shape)
    (hold, _) = filled().problem.pieces[0].holds
    assert hold.places == ("Table 1",)  # 3.05 m long; the other 2.44 m
    assert hold.amount == 189  # 2.7 m x 0.7 m with its form's walls


# Forms and places.


def test_a_form_that_stands_holds_its_table_and_is_not_set_up_again() -> None:
    furnish()
    piece = make_piece(make_job())
    table = CastingTable.objects.get(name="Table 2")
    FormSetUp.objects.create(piece=piece, table=table, set_up_at=NOW - 3 * HOUR, by=make_person())
    made = filled()
    form = steps_of(made, "217-A")["form"]
    assert form.began == -7
    assert form.lag.least == 17
    assert made.problem.pieces[0].holds[0].at == "Table 2"


def test_a_cast_piece_that_nobody_placed_is_taken_to_stand_where_there_is_room() -> None:
    furnish()
    piece = make_piece(make_job(), area_m2=1.0)
    make_mark(piece, "cast", NOW - 5 * HOUR)
    made = filled()
    assert made.problem.pieces[0].holds[0].at == "Table 1"
    assert any(note.startswith("217-A") and "Table 1" in note for note in made.notes)
    assert "217" in listed(made).finish


def test_a_form_too_late_for_its_cast_is_taken_to_stand() -> None:
    furnish()
    piece = make_piece(make_job())
    make_batch(piece, planned_for=NOW.replace(hour=19, minute=0))
    made = filled()
    assert steps_of(made, "217-A")["form"].began is not None
    assert any("taken to stand already" in note for note in made.notes)
    assert "217" in listed(made).finish


def test_stations_are_asked_for_by_kind_of_work() -> None:
    furnish()
    make_piece(make_job())
    steps = steps_of(filled(), "217-A")
    assert steps["cast"].uses == ("mixer",)
    assert steps["cast"].air == "dust"
    assert steps["grind"].uses == ("wet bay",)
    assert steps["grind"].air == ""
    assert steps["seal-1"].uses == ("booth",)
    assert steps["seal-1"].air == "coat"
    assert steps["deliver"].uses == ("truck",)
    assert filled().problem.shop.settle == 6
    Stations.objects.update_or_create(pk=1, defaults={"shared_air": False, "rack_places": 7})
    made = filled()
    assert steps_of(made, "217-A")["cast"].air == ""
    assert made.problem.shop.settle == 0
    assert next(place.room for place in made.problem.shop.places if place.kind == "rack") == 7
