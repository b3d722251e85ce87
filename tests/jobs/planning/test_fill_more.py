"""The accepted plan as a problem's, what is only asked about, and shops that are hardly set up."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from jobs.models import FormSetUp, InstallDate, Mark, PlannedStep
from jobs.planning.fill import (
    Draft,
    DraftPiece,
    Filled,
    doubt,
    fill,
    known_plan,
    plan_facts,
)
from jobs.planning.filling.draws import MOST
from jobs.planning.problem import Key, Plan, Window
from jobs.planning.simulate import Wait
from jobs.services.derive import engine_arguments
from jobs.services.how_sure import sureness
from jobs.services.plan_alter import warmer, with_hand, with_hours, with_sealer, with_table
from jobs.services.plan_taking import _rows
from jobs.services.route_steps import piece_steps
from shop import defaults
from shop.localtime import to_hours
from shop.models import CastingTable, ClosedDay
from shop.services.crew import Hand
from tests.factories import (
    DAY,
    HOUR,
    make_batch,
    make_job,
    make_mark,
    make_mix,
    make_person,
    make_piece,
    make_route,
    make_sealer,
    make_shop,
    make_working_week,
)
from tests.jobs.planning.filled import filled, listed, steps_of
from tests.jobs.planning.invented import NOW, furnish, invent

pytestmark = pytest.mark.django_db


# The accepted plan, and what is only asked about.


def test_an_accepted_plan_comes_back_as_it_was() -> None:
    invent(1)
    known = plan_facts(NOW)
    made = fill(known)
    assert known_plan(made, known) is None
    plan = listed(made)
    store(made, plan)
    known = plan_facts(NOW)
    again = fill(known)
    back = known_plan(again, known)
    assert back is not None
    assert back.starts == plan.starts
    assert {key: set(who) for key, who in back.people.items()} == {
        key: set(who) for key, who in plan.people.items()
    }
    assert back.held == plan.held
    assert back.finish == plan.finish


def store(made: Filled, plan: Plan) -> None:
    """As the plan that is taken is stored."""
    read: Any = SimpleNamespace(filled=made)
    ahead = [
        Key(piece.code, number)
        for piece in made.problem.pieces
        for number, step in enumerate(piece.steps)
        if step.began is None and Key(piece.code, number) in plan.starts
    ]
    PlannedStep.objects.bulk_create(_rows(read, made.problem, plan, ahead, {}))


def test_work_over_two_shifts_comes_back_with_who_does_which_part() -> None:
    """Who is there for the first part may be away for the second."""
    furnish()
    job = make_job()
    make_piece(job)
    at = dt.datetime(2026, 3, 24, 15, 0, tzinfo=dt.UTC)  # the shift ends two hours later
    InstallDate.objects.create(job=job, starts_at=at, hours=4.0, people=2)
    made = fill(plan_facts(NOW))
    first, second = (key for key, ref in made.steps.items() if ref.step_key == "install")
    plan = listed(made)
    plan = replace(plan, people={**plan.people, first: ("one", "two"), second: ("two", "three")})
    store(made, plan)
    row = PlannedStep.objects.get(step_key="install")
    assert row.people == ["one", "two"]
    assert row.starts_at == at
    known = plan_facts(NOW)
    back = known_plan(fill(known), known)
    assert back is not None
    assert back.starts == plan.starts
    assert back.people[first] == ("one", "two")
    assert back.people[second] == ("two", "three")
    # Work that has got other parts since is taken as the row says it.
    PlannedStep.objects.filter(pk=row.pk).update(parts=[])
    known = plan_facts(NOW)
    back = known_plan(fill(known), known)
    assert back is not None
    assert back.people[second] == ("one", "two")
    assert back.starts == plan.starts


def test_a_pinned_step_is_pinned_in_the_problem() -> None:
    furnish()
    piece = make_piece(make_job())
    at = dt.datetime(2026, 3, 17, 13, 0, tzinfo=dt.UTC)
    PlannedStep.objects.create(
        piece=piece, step_key="grind", name="grind", starts_at=at, ends_at=at + HOUR, pinned=True
    )
    made = filled()
    assert steps_of(made, "217-A")["grind"].pin == made.slot(at)


def test_a_draft_is_planned_beside_the_rest_without_a_query(django_assert_num_queries) -> None:
    room = furnish()
    make_piece(make_job())
    route = make_route()
    row = DraftPiece(make_mix(), route, make_sealer(), room, area_m2=1.2, count=2)
    draft = Draft("new", (row,), wish=dt.date(2026, 3, 27))
    known = plan_facts(NOW)
    fill(known, (draft,))  # the route's steps are read once
    with django_assert_num_queries(0):
        made = fill(known, (draft,))
    assert made.jobs["new"] is None
    assert [piece.code for piece in made.problem.pieces] == ["217-A", "new-A", "new-B"]
    assert made.steps[Key("new-A", 0)].piece_id is None
    rest, job, pieces = made.apart("new")
    assert [each.name for each in rest.jobs] == ["217"]
    assert len(pieces) == 2
    assert job.due == made.slot(dt.datetime(2026, 3, 27, 20, 0, tzinfo=dt.UTC)) + 2
    assert set(listed(made).finish) == {"217", "new"}


def test_facts_take_as_many_queries_for_many_jobs_as_for_few(
    django_assert_max_num_queries,
) -> None:
    furnish()
    for number in range(2):
        make_batch(make_piece(make_job(str(400 + number))), planned_for=NOW + 5 * DAY)
    with django_assert_max_num_queries(40) as few:
        plan_facts(NOW)
    for number in range(8):
        make_batch(make_piece(make_job(str(500 + number))), planned_for=NOW + 5 * DAY)
    with django_assert_max_num_queries(len(few)):
        known = plan_facts(NOW)
    with django_assert_max_num_queries(0):
        fill(known)


def test_the_same_facts_give_the_same_problem() -> None:
    invent(2)
    known = plan_facts(NOW)
    assert fill(known).problem == fill(known).problem == fill(plan_facts(NOW)).problem


# What is in doubt, and what would be otherwise.


def test_a_wait_is_in_doubt_as_the_dates_of_its_piece_are() -> None:
    piece = make_piece(make_job(), room=furnish(17.0))
    make_mark(piece, "cast", NOW - 2 * HOUR)
    known = plan_facts(NOW)
    made = fill(known)
    drawn = doubt(known, made)
    (cast,) = (n for n, s in enumerate(made.problem.pieces[0].steps) if s.lag.why == "cure")
    wait = made.problem.pieces[0].steps[cast]
    factors = drawn.factors[Wait("217-A", cast + 1, cast)]
    loaded = known.facts.jobs[0].pieces.all()[0]
    steps = piece_steps(loaded, known.facts.shop, None)
    arguments = {
        **engine_arguments(known.facts, loaded, steps),
        "cast": to_hours(NOW - 2 * HOUR),
        "done": {"cast": to_hours(NOW - 2 * HOUR)},
        "now": to_hours(NOW),
    }
    sure = sureness(known.facts, loaded, arguments, ready_key=None).of
    demold = sure.earliest[sure.keys.index("demold")]
    # Now and then one draw's mix never gets as strong: a plan has that as many times the wait.
    comes = factors < MOST
    assert comes.mean() > 0.99
    assert (demold[~comes] > demold[comes].max()).all()
    factors, demold = factors[comes], demold[comes]
    hours = made.slots.hours(wait.began) + 0.5 * wait.lag.least * factors
    # The stated wait is rounded up to a slot, the factor is of the wait as it is.
    assert (hours >= demold - 0.01).all()
    assert (hours <= demold + 0.5 * factors + 0.01).all()
    assert np.corrcoef(hours, demold)[0, 1] > 0.9999
    assert np.quantile(factors, 0.1) < 0.99 < 1.01 < np.quantile(factors, 0.9)


def test_a_warm_night_shortens_the_wait_of_the_cast_before_it_and_of_no_other() -> None:
    room = furnish(12.0)
    make_piece(make_job(), room=room)
    known = plan_facts(NOW)
    night = dt.date(2026, 3, 10)
    was = steps_of(fill(known), "217-A")["cast"].lag
    warm = fill(warmer(known, room.pk, 22.0, [night]))
    comes = steps_of(warm, "217-A")["cast"].lag.by_day
    before = was.by_day or (was.least,) * len(comes)
    days = {
        warm.slots.date_of(n): (old, new)
        for n, (old, new) in enumerate(zip(before, comes, strict=False))
    }
    assert days[night][1] < days[night][0] - 8
    assert days[night + DAY][1] == days[night + DAY][0]
    # 12 °C is what it was; 22 °C from 15:00 to 7:00, in the shop's time.
    climate = warmer(known, room.pk, 22.0, [night]).facts.climate_of(room.pk)
    evening = dt.datetime(2026, 3, 10, 20, 0, tzinfo=dt.UTC)
    at = [to_hours(evening + n * HOUR) for n in (-0.5, 0.5, 15.5, 16.5)]
    assert climate.celsius_at(at) == pytest.approx([12.0, 22.0, 22.0, 12.0], abs=0.05)


def test_another_sealer_is_put_on_what_has_no_coat_yet() -> None:
    furnish()
    job = make_job()
    make_piece(job)
    coated = make_piece(job, "B")
    for step, hours in (("cast", 300), ("demold", 270), ("grind", 250), ("fill", 248)):
        make_mark(coated, step, NOW - hours * HOUR)
    make_mark(coated, "hone", NOW - 220 * HOUR)
    make_mark(coated, "seal-1", NOW - 3 * HOUR)
    three = make_sealer(**defaults.SEALERS[1])
    known = plan_facts(NOW)
    made = fill(with_sealer(known, known.facts.jobs[0], three))
    assert "seal-3" in steps_of(made, "217-A")
    assert "seal-3" not in steps_of(made, "217-B")
    assert "seal-3" not in steps_of(fill(known), "217-A")


def test_holidays_stay_closed_and_saturdays_need_not() -> None:
    furnish()
    make_piece(make_job())
    friday = dt.date(2026, 3, 6)
    ClosedDay.objects.create(day=friday, name="Founders' day")
    ClosedDay.objects.create(day=friday + 7 * DAY, name="Stocktaking", open_anyway=True)
    made = fill(plan_facts(NOW))
    stays = made.problem.shop.stays_closed
    assert {made.slots.date_of(number) for number in stays} == {friday}


def test_a_saturday_a_table_and_a_person_more_are_planned_with() -> None:
    room = furnish()
    make_piece(make_job())
    known = plan_facts(NOW)
    saturday = dt.datetime(2026, 3, 7, 13, 0, tzinfo=dt.UTC)
    more = with_hours(known, saturday, saturday + 5 * HOUR)
    more = with_hand(more, Hand("Fay", frozenset({"cast"}), frozenset(range(7))))
    more = with_table(more, CastingTable(name="Table 3", room=room, length_m=3.0, width_m=1.5))
    was, comes = fill(known).problem.shop, fill(more).problem.shop
    added = set(comes.shifts) - set(was.shifts)
    begin = fill(more).slot(saturday)
    assert added == {Window(begin, begin + 10)}
    assert len(comes.people) == len(was.people) + 1
    assert {place.name for place in comes.places} - {place.name for place in was.places} == {
        "Table 3"
    }


def test_waits_of_a_closed_day_are_there_for_when_it_is_opened() -> None:
    make_piece(make_job(), room=furnish(15.0))
    known = plan_facts(NOW)
    saturday = dt.datetime(2026, 3, 7, 13, 0, tzinfo=dt.UTC)
    closed = steps_of(fill(known), "217-A")["hone"].lag
    opened = steps_of(fill(with_hours(known, saturday, saturday + 5 * HOUR)), "217-A")["hone"].lag
    assert closed.why == "drying"
    assert (closed.by_day or (closed.least,))[-1] > 0
    if closed.by_day:
        assert closed.by_day[3] >= opened.by_day[3] > 0


# Shops that are not set up yet.


def test_a_shop_without_hours_people_or_tables_is_filled_and_says_what_is_missing() -> None:
    make_shop()
    make_piece(make_job())
    made = filled()
    assert made.problem.shop.shifts == ()
    assert made.problem.shop.people == ()
    plan = listed(made)
    assert plan.finish == {}
    (fault,) = plan.faults
    assert (fault.about, fault.key) == ("217-A", "hours")
    make_working_week()
    made = filled()
    assert [hold.places for hold in made.problem.pieces[0].holds] == [("rack",)]
    # Hands by the working hours' three people; no table is asked for where none is entered.
    assert "217" in listed(made).finish


def test_a_shop_without_jobs_has_an_empty_plan() -> None:
    furnish()
    made = filled()
    assert made.problem.pieces == ()
    assert listed(made).finish == {}


def test_a_route_that_is_only_cast_and_demolded_counts_by_its_last_step() -> None:
    furnish()
    steps = tuple(step for step in defaults.ROUTES[defaults.ROUTE] if step["key"] in SHORT)
    make_piece(make_job(), route=make_route("Short", steps))
    made = filled()
    (piece,) = made.problem.pieces
    assert piece.counts is None
    assert made.steps[piece.counted].step_key == "demold"
    # Without a delivery the work itself must be over by the hour.
    leaves = dt.datetime(2026, 4, 10, 20, 0, tzinfo=dt.UTC)
    assert made.problem.jobs[0].due == made.slot(leaves)
    assert "217" in listed(made).finish


SHORT = {"cast", "demold"}


def test_a_piece_cast_anew_is_planned_from_its_form() -> None:
    furnish()
    piece = make_piece(make_job())
    table = CastingTable.objects.get(name="Table 1")
    FormSetUp.objects.create(piece=piece, table=table, set_up_at=NOW - 90 * HOUR, by=make_person())
    make_mark(piece, "cast", NOW - 80 * HOUR)
    make_mark(piece, "", NOW - HOUR, kind=Mark.Kind.RECAST, reason="Cracked")
    steps = steps_of(filled(), "217-A")
    assert steps["form"].began is None
    assert steps["cast"].began is None
