"""A known plan stays as it is as far as changed facts let it; what comes out keeps every rule."""

from __future__ import annotations

from dataclasses import replace

import pytest

from jobs.planning.adapt import adapt
from jobs.planning.check import broken_rules
from jobs.planning.faults import sift
from jobs.planning.generate import DAY
from jobs.planning.problem import (
    Hold,
    Job,
    Key,
    Lag,
    Person,
    Piece,
    Plan,
    Problem,
    Step,
    Window,
    told_moved,
)
from jobs.planning.search import Spend, plans
from jobs.planning.tasks import compile_tasks, plan_of
from tests.jobs.planning.shops import bare_shop, eventful_shop, one_job, piece

QUICK = Spend(rounds=2, neighbourhoods=0, whole_work=0.02)


@pytest.fixture(autouse=True)
def fewer_tries(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is tested here holds however well lists are searched."""
    monkeypatch.setattr("jobs.planning.search.SHORT", 15)
    monkeypatch.setattr("jobs.planning.search.WORK", 50)


def planned(problem: Problem) -> Plan:
    *_, (plan, _) = plans(problem, QUICK)
    return plan


def adapted(problem: Problem, known: Plan) -> Plan:
    kept, faults = sift(problem)
    tasks = compile_tasks(kept)
    found = adapt(tasks, known)
    assert found.left_out == ()
    plan = replace(plan_of(tasks, found), faults=faults)
    assert broken_rules(problem, plan) == []
    return plan


def steps_moved(old: Plan, new: Plan) -> set[Key]:
    return {key for key, start in old.starts.items() if new.starts.get(key) != start}


def cast_and_demold(code: str, cure: int, **changes: object) -> Piece:
    return piece(
        code,
        replace(Step("cast", 4, 2, "cast", lag=Lag(cure)), **changes),
        Step("demold", 2, 1),
        holds=(Hold(("small table", "large table"), 0, 1, amount=10),),
    )


def test_nothing_moves_where_nothing_changed() -> None:
    for seed in range(6):
        problem = eventful_shop(seed)
        known = planned(problem)
        plan = adapted(problem, known)
        assert (plan.starts, plan.people, plan.held) == (known.starts, known.people, known.held)


@pytest.mark.parametrize("seed", range(8))
def test_a_shop_that_has_changed_gets_a_whole_plan_that_keeps_every_rule(seed: int) -> None:
    problem = eventful_shop(seed)
    known = planned(problem)
    shop = problem.shop
    away = replace(shop.people[0], absences=(Window(7 * DAY, 10 * DAY),))
    slower = tuple(
        replace(each, steps=tuple(longer(step, 3) for step in each.steps))
        for each in problem.pieces
    )
    changed = replace(
        problem, shop=replace(shop, people=(away, *shop.people[1:])), pieces=slower[:-1]
    )
    plan = adapted(changed, known)
    assert plan == adapted(changed, known)


def longer(step: Step, more: int) -> Step:
    by_day = tuple(least + more for least in step.lag.by_day)
    return replace(step, lag=replace(step.lag, by_day=by_day))


def test_a_new_job_moves_nothing_else() -> None:
    for seed in range(6):
        problem = eventful_shop(seed)
        known = planned(problem)
        new = cast_and_demold("new-A", 40)
        new = replace(new, job="new", holds=(replace(new.holds[0], places=("table 1",)),))
        more = replace(problem, jobs=(*problem.jobs, Job("new", 0)), pieces=(*problem.pieces, new))
        plan = adapted(more, known)
        assert steps_moved(known, plan) == set()
        assert "new" in plan.finish


def test_a_longer_cure_moves_the_demold_and_leaves_who_and_where() -> None:
    problem = one_job(bare_shop(), cast_and_demold("1-A", 20), cast_and_demold("1-B", 20))
    known = planned(problem)
    slow = replace(problem, pieces=(cast_and_demold("1-A", 60), problem.pieces[1]))
    plan = adapted(slow, known)
    assert steps_moved(known, plan) == {Key("1-A", 1)}
    assert plan.starts[Key("1-A", 1)] == known.starts[Key("1-A", 0)] + 4 + 60
    assert plan.held == known.held


def test_somebody_else_does_it_at_the_same_time_if_who_was_to_is_away() -> None:
    problem = one_job(bare_shop(), piece("1-A", Step("trim", 4, 1)))
    known = planned(problem)
    (first,) = known.people[Key("1-A", 0)]
    people = tuple(
        Person(each.name, each.skills, (Window(0, DAY),) if each.name == first else ())
        for each in problem.shop.people
    )
    plan = adapted(replace(problem, shop=replace(problem.shop, people=people)), known)
    assert plan.starts == known.starts
    assert first not in plan.people[Key("1-A", 0)]


def test_what_was_planned_late_is_not_brought_forward() -> None:
    """Near to the plan that people know, not the best: that is for the search that follows."""
    problem = one_job(bare_shop(), piece("1-A", Step("trim", 4, 1)))
    known = replace(planned(problem), starts={Key("1-A", 0): DAY + 20}, finish={"1": DAY + 24})
    assert adapted(problem, known).starts == {Key("1-A", 0): DAY + 20}


def test_a_mark_pushes_what_waits_for_it_and_no_more() -> None:
    """Cast from slot 0 to 4 and cured for 20: the demold can be at 24, not at 16 as was planned."""
    problem = one_job(bare_shop(), cast_and_demold("1-A", 20), cast_and_demold("1-B", 20))
    known = planned(problem)
    marked = cast_and_demold(
        "1-A", 20, began=0, by=tuple(person.name for person in problem.shop.people)
    )
    marked = replace(marked, holds=(replace(marked.holds[0], at="large table"),))
    starts = {
        Key("1-A", 0): 14,
        Key("1-A", 1): 16,
        Key("1-B", 0): DAY + 14,
        Key("1-B", 1): 3 * DAY + 14,
    }
    known = replace(known, starts=starts, held={("1-B", 0): "small table"})
    plan = adapted(replace(problem, pieces=(marked, problem.pieces[1])), known)
    assert steps_moved(known, plan) == {Key("1-A", 0), Key("1-A", 1)}
    assert plan.starts[Key("1-A", 1)] == 24
    assert plan.held == {("1-A", 0): "large table", ("1-B", 0): "small table"}


def test_a_told_date_is_kept_by_what_was_told_nothing() -> None:
    """Two jobs want the one person on the day that is left; the one that was told goes first."""
    shop = bare_shop(days=4, people=1)
    pieces = (piece("1-A", Step("trim", 10, 1)), piece("2-A", Step("trim", 10, 1), job="2"))
    jobs = (Job("1", due=24), Job("2", due=24 + DAY, told=24 + DAY))
    problem = Problem(shop, jobs, pieces, move_cost=100)
    known = planned(problem)
    assert known.finish == {"1": 24, "2": DAY + 24}
    away = replace(shop.people[0], absences=(Window(0, DAY),))
    changed = replace(problem, shop=replace(shop, people=(away,)))
    plan = adapted(changed, known)
    assert told_moved(changed, plan.finish) == ()
    assert plan.finish == {"1": 2 * DAY + 24, "2": DAY + 24}


def test_where_pins_leave_no_room_for_one_it_is_not_the_one_that_was_told() -> None:
    """Both casts are pinned to the one table; now the first cures till after the second's."""
    jobs = (Job("1", due=DAY + 24), Job("2", due=3 * DAY, weight=3, told=3 * DAY))
    first, second = (
        replace(
            cast_and_demold(code, 20, pin=pin),
            job=code[0],
            holds=(Hold(("small table",), 0, 1, amount=10),),
        )
        for code, pin in (("1-A", 14), ("2-A", DAY + 24))
    )
    problem = Problem(bare_shop(days=5), jobs, (first, second), move_cost=100)
    known = planned(problem)
    assert set(known.finish) == {"1", "2"}
    cures = replace(first.steps[0], lag=Lag(2 * DAY))
    longer = replace(first, steps=(cures, *first.steps[1:])), second
    other = replace(jobs[0], told=4 * DAY), replace(jobs[1], told=None)
    for told, kept in ((jobs, "2"), (other, "1")):
        tasks = compile_tasks(replace(problem, jobs=told, pieces=longer))
        assert list(plan_of(tasks, adapt(tasks, known)).finish) == [kept]


def test_no_pieces_make_an_empty_plan() -> None:
    empty = Problem(bare_shop(), (), ())
    assert adapted(empty, Plan({}, {}, {}, {})).starts == {}
