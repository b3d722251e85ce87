"""A day that was agreed with a site is kept where it can be, delivered or not."""

from __future__ import annotations

from dataclasses import replace

from jobs.planning.adapt import adapt
from jobs.planning.bound import least_cost
from jobs.planning.check import broken_rules
from jobs.planning.lists import earliest_due_first, schedule_of
from jobs.planning.loaded import state_of
from jobs.planning.problem import (
    Job,
    Key,
    Person,
    Piece,
    Plan,
    Problem,
    Shop,
    Step,
    Window,
    cost_of,
)
from jobs.planning.replan import replans
from jobs.planning.rescue import aimed
from jobs.planning.search import Spend, plans
from jobs.planning.tasks import compile_tasks, names_of_group, plan_of

SPEND = Spend(rounds=1, neighbourhoods=0, whole_work=0.1)
AGREED = 8


def one_person(visit: int | None) -> Problem:
    """A job that leaves at once and is to be installed from slot 8 on; another's work, due much later,
    that a list by due dates puts there."""
    install = Step("install", 2, 1, windows=(Window(AGREED, 40),))
    away = Piece("1-A", "1", (Step("deliver", 2), install), counts=0)
    grind = Piece("2-A", "2", (Step("grind", 6, 1, windows=(Window(6, 40),)),))
    shop = Shop(40, (0,), (Window(0, 40),), (Person("one", frozenset()),), ())
    jobs = (Job("1", due=40, weight=0, visit=visit, visit_weight=2), Job("2", due=20))
    return Problem(shop, jobs, (away, grind))


def test_a_day_agreed_with_a_site_is_kept_where_it_can_be() -> None:
    problem = one_person(visit=AGREED + 2)
    tasks = compile_tasks(problem)
    # A list that knows of no day has the other's work first, and the install four slots late.
    careless = earliest_due_first(compile_tasks(one_person(visit=None)))
    repriced = schedule_of(tasks, state_of(tasks, careless))
    assert repriced.cost == cost_of(problem, plan_of(tasks, careless)) == 2 * 4
    *_, (plan, found) = plans(problem, SPEND)
    assert plan.starts[Key("1-A", 1)] == AGREED
    assert plan.finish["2"] <= 20
    assert found.schedule.cost == 0
    assert broken_rules(problem, plan) == []
    assert set(plan.finish) == {"1", "2"}


def test_where_no_day_was_agreed_it_costs_nothing() -> None:
    tasks = compile_tasks(one_person(visit=None))
    listed = earliest_due_first(tasks)
    assert plan_of(tasks, listed).starts[Key("1-A", 1)] == AGREED + 4
    assert listed.cost == 0
    assert tasks.jobs == ("1", "2")


def test_a_day_that_no_plan_can_keep_is_part_of_the_least_cost() -> None:
    assert least_cost(compile_tasks(one_person(visit=AGREED - 3))) == 2 * 5
    assert least_cost(compile_tasks(one_person(visit=AGREED + 2))) == 0


def test_a_job_that_finds_no_room_is_named_once() -> None:
    problem = one_person(visit=AGREED + 2)
    pinned = replace(problem.pieces[0].steps[1], pin=20)
    busy = Piece("2-A", "2", (Step("grind", 6, 1, pin=18),))
    both = replace(
        problem,
        pieces=(replace(problem.pieces[0], steps=(problem.pieces[0].steps[0], pinned)), busy),
    )
    *_, (plan, _) = plans(both, SPEND)
    assert len([fault for fault in plan.faults if fault.key == "room"]) == 1
    tasks = compile_tasks(problem)
    assert [names_of_group(tasks, group) for group in range(len(tasks.groups))] == [["1"], ["2"]]


def test_planning_again_brings_a_visit_back_to_its_day_and_moves_no_told_date_for_it() -> None:
    careless = compile_tasks(one_person(visit=None))
    known = plan_of(careless, earliest_due_first(careless))
    problem = one_person(visit=AGREED + 2)
    *_, (plan, _) = replans(problem, known, SPEND)
    assert plan.starts[Key("1-A", 1)] == AGREED
    told = replace(problem.jobs[1], told=known.finish["2"])
    strict = replace(problem, jobs=(problem.jobs[0], told))
    *_, (plan, _) = replans(strict, known, SPEND)
    assert plan.finish["2"] == known.finish["2"]
    assert plan.starts[Key("1-A", 1)] == AGREED + 4


def test_a_rescue_counts_no_visit_that_was_as_late_before() -> None:
    problem = one_person(visit=AGREED + 2)
    careless = compile_tasks(one_person(visit=None))
    known = plan_of(careless, earliest_due_first(careless))
    one, other = aimed(problem, known, "2", set()).jobs
    assert one.visit == known.starts[Key("1-A", 1)] + 2
    assert other.visit is None
    assert adapt(compile_tasks(aimed(problem, known, "2", set())), known).cost == 0
    nowhere = Plan({}, {}, {}, {})
    assert aimed(problem, nowhere, "2", set()).jobs[0].visit == AGREED + 2
