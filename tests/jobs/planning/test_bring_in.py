"""A pinned cast that the list by due dates leaves no room for."""

from __future__ import annotations

from dataclasses import replace

from jobs.planning.bring_in import brought_in
from jobs.planning.check import broken_rules
from jobs.planning.lists import earliest_due_first
from jobs.planning.problem import Hold, Job, Key, Lag, Person, Piece, Place, Problem, Step
from jobs.planning.search import Spend, plans
from jobs.planning.tasks import compile_tasks, plan_of
from tests.jobs.planning.shops import bare_shop


def one_table_one_person() -> Problem:
    """2 is cast on the second morning (slot 62), on the table that 3 leaves once it is demolded;
    1, which is wanted first, would take all of the first day."""
    places = (Place("table", 10, "table"), Place("rack", 4, "rack"))
    shop = replace(bare_shop(places=places), people=(Person("person", frozenset()),))
    under_way = Piece(
        "1",
        "1",
        (Step("demold", 0, began=-30), Step("grind", 16, 1)),
        (Hold(("rack",), 0, 1, from_end=True, at="rack"),),
    )
    pinned = Piece(
        "2",
        "2",
        (Step("form", 6, 1, lag=Lag(4)), Step("cast", 2, 1, pin=62), Step("demold", 2, 1)),
        (Hold(("table",), 0, 2, 10),),
    )
    standing = Piece(
        "3",
        "3",
        (Step("cast", 0, began=-10, lag=Lag(20)), Step("demold", 2, 1)),
        (Hold(("table",), 0, 1, 10, at="table"),),
    )
    jobs = (Job("1", due=50), Job("2", due=200), Job("3", due=400))
    return Problem(shop, jobs, (under_way, pinned, standing))


def test_it_is_listed_behind_what_stands_on_its_table_and_before_what_takes_its_people() -> None:
    problem = one_table_one_person()
    tasks = compile_tasks(problem)
    listed = earliest_due_first(tasks)
    assert [tasks.jobs[job] for g in listed.left_out for job in tasks.groups[g]] == ["2"]
    found = brought_in(tasks, listed)
    assert found.left_out == ()
    plan = plan_of(tasks, found)
    assert broken_rules(problem, plan) == []
    # The table is free at 16, the form takes until 22. Cast and demold break the second day.
    assert (plan.starts[Key("3", 1)], plan.starts[Key("2", 0)]) == (14, 16)
    assert plan.starts[Key("1", 1)] == 110


def test_the_search_begins_from_it() -> None:
    plan, _ = next(plans(one_table_one_person(), Spend(rounds=0, neighbourhoods=0)))
    assert set(plan.finish) == {"1", "2", "3"}


def test_nothing_left_out_stays_as_it_is() -> None:
    problem = one_table_one_person()
    rest = Problem(problem.shop, problem.jobs[:1], problem.pieces[:1])
    tasks = compile_tasks(rest)
    listed = earliest_due_first(tasks)
    assert brought_in(tasks, listed) is listed
