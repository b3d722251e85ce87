"""Told dates stay where a plan is known that keeps them; what moves is named, with its cause."""

from __future__ import annotations

from dataclasses import replace

import pytest

from jobs.planning.adapt import adapt
from jobs.planning.check import broken_rules
from jobs.planning.faults import sift
from jobs.planning.generate import DAY, random_shop
from jobs.planning.problem import (
    Hold,
    Job,
    Key,
    Lag,
    Piece,
    Plan,
    Problem,
    Step,
    Window,
    cost_of,
    told_moved,
)
from jobs.planning.reasons import Later
from jobs.planning.replan import Move, moves, replans
from jobs.planning.search import Spend, plans
from jobs.planning.tasks import compile_tasks, plan_of
from tests.jobs.planning.shops import TINY, bare_shop, eventful_shop, one_job, piece

QUICK = Spend(rounds=1, neighbourhoods=2, work=0.01, whole_work=0.02)
SEEDS = range(3)


@pytest.fixture(autouse=True)
def fewer_tries(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is tested here holds however well lists are searched."""
    monkeypatch.setattr("jobs.planning.search.SHORT", 15)
    monkeypatch.setattr("jobs.planning.search.WORK", 50)


def planned(problem: Problem) -> Plan:
    *_, (plan, _) = plans(problem, QUICK)
    return plan


def a_told_shop(seed: int) -> tuple[Problem, Plan]:
    """Each customer was told the end of the day on which the plan has the job ready."""
    problem = random_shop(TINY, seed)
    plan = planned(problem)
    jobs = tuple(
        replace(job, told=(plan.finish[job.name] // DAY) * DAY + 32) for job in problem.jobs
    )
    return replace(problem, jobs=jobs), plan


def somebody_away(problem: Problem) -> Problem:
    person, *others = problem.shop.people
    away = replace(person, absences=(Window(7 * DAY, 10 * DAY),))
    return replace(problem, shop=replace(problem.shop, people=(away, *others)))


def a_slower_week(problem: Problem) -> Problem:
    """Every wait that goes by the day is a slot longer, as after a cold night."""
    pieces = tuple(
        replace(each, steps=tuple(slower(step) for step in each.steps)) for each in problem.pieces
    )
    return replace(problem, pieces=pieces)


def slower(step: Step) -> Step:
    by_day = tuple(least + 1 for least in step.lag.by_day)
    return replace(step, lag=replace(step.lag, by_day=by_day))


def a_new_job(problem: Problem) -> Problem:
    tables = tuple(each.name for each in problem.shop.places if each.name.startswith("table"))
    new = Piece(
        "new-A",
        "new",
        (
            Step("form", 4, 1, "form"),
            Step("cast", 4, 2, "cast", uses=("mixer",), air="dust", lag=Lag(30)),
            Step("demold", 2, 1, "move"),
        ),
        (Hold(tables, 0, 2, amount=20),),
    )
    return replace(problem, jobs=(*problem.jobs, Job("new", 0)), pieces=(*problem.pieces, new))


CHANGES = (a_slower_week, somebody_away, a_new_job)


@pytest.mark.parametrize("change", CHANGES)
@pytest.mark.parametrize("seed", SEEDS)
def test_no_told_date_moves_when_a_plan_without_moving_it_is_known(seed: int, change) -> None:
    problem, known = a_told_shop(seed)
    changed = change(problem)
    tasks = compile_tasks(sift(changed)[0])
    at_once = told_moved(changed, plan_of(tasks, adapt(tasks, known)).finish)
    before = None
    for plan, found in replans(changed, known, QUICK):
        assert broken_rules(changed, plan) == []
        moved = told_moved(changed, plan.finish)
        assert found.schedule.cost == cost_of(changed, plan)
        assert moved == () or set(moved) == set(at_once) or not set(moved) > set(at_once)
        if before is not None and not before[0]:
            assert moved == ()
            assert found.schedule.cost <= before[1]
        before = moved, found.schedule.cost
    assert before is not None
    assert at_once or not before[0]


def test_the_same_facts_give_the_same_plan() -> None:
    problem, known = a_told_shop(1)
    changed = somebody_away(problem)
    first, second = ([plan for plan, _ in replans(changed, known, QUICK)] for _ in range(2))
    assert first == second


def test_without_a_known_plan_it_is_the_search() -> None:
    problem = eventful_shop(2)
    assert [plan for plan, _ in replans(problem, None, QUICK)] == [
        plan for plan, _ in plans(problem, QUICK)
    ]


def test_where_nothing_is_late_nothing_moves() -> None:
    problem, known = a_told_shop(3)
    easy = replace(problem, jobs=tuple(replace(job, due=job.told or 0) for job in problem.jobs))
    (plan, found), *others = replans(easy, known, QUICK)
    assert (plan.starts, plan.people, others) == (known.starts, known.people, [])
    assert found.proved
    assert moves(easy, known, plan) == ()


def test_a_date_that_has_to_move_moves_alone_and_says_why() -> None:
    """One person for ten slots a job; he is away on the first day. Both were told their day; the
    second day has room for one, and the job of the second day stays."""
    shop = bare_shop(days=4, people=1)
    pieces = (piece("1-A", Step("trim", 10, 1)), piece("2-A", Step("trim", 10, 1), job="2"))
    jobs = (Job("1", due=32, told=32), Job("2", due=32 + DAY, told=32 + DAY))
    problem = Problem(shop, jobs, pieces)
    known = planned(problem)
    away = replace(shop.people[0], absences=(Window(0, DAY),))
    changed = replace(problem, shop=replace(shop, people=(away,)))
    *_, (plan, _) = replans(changed, known, QUICK)
    assert told_moved(changed, plan.finish) == ("1",)
    (move,) = moves(changed, known, plan)
    assert move == Move(
        "1",
        old=24,
        new=2 * DAY + 24,
        told=32,
        key="away",
        why="person 0 is away when 1-A trim was planned",
        pieces=("1-A",),
    )
    assert move.breaks_told


def test_whoever_was_away_before_and_not_to_do_it_is_no_reason() -> None:
    """Person 0 is away as ever, person 1 was to trim 1-A and now trims 2-A then."""
    shop = bare_shop(days=4, people=2)
    away = replace(shop.people[0], absences=(Window(0, 4 * DAY),))
    shop = replace(shop, people=(away, shop.people[1]))
    pieces = (piece("1-A", Step("trim", 10, 1)), piece("2-A", Step("trim", 10, 1), job="2"))
    problem = Problem(shop, (Job("1", due=32), Job("2", due=32)), pieces)
    one, two = Key("1-A", 0), Key("2-A", 0)
    people = {one: ("person 1",), two: ("person 1",)}
    old = Plan({one: 14, two: DAY + 14}, people, {}, {"1": 24, "2": DAY + 24})
    new = Plan({one: DAY + 14, two: 14}, people, {}, {"1": DAY + 24, "2": 24})
    reason = Later(problem, old, new).why(one)
    assert reason == ("people", "person 1 is at 2-A trim when 1-A trim was planned", two)


def test_many_small_moves_are_taken_for_one_told_date() -> None:
    """Without a price for it the heavy job would go first, and the told one a day later."""
    shop = bare_shop(days=6, people=1)
    pieces = (piece("1-A", Step("trim", 18, 1)), piece("2-A", Step("trim", 18, 1), job="2"))
    jobs = (Job("1", due=32, weight=9), Job("2", due=2 * DAY, told=32 + DAY))
    problem = Problem(shop, jobs, pieces)
    known = planned(problem)
    assert known.finish == {"1": 32, "2": 32 + DAY}
    away = replace(shop.people[0], absences=(Window(0, DAY),))
    changed = replace(problem, shop=replace(shop, people=(away,)))
    *_, (plan, _) = replans(changed, known, QUICK)
    assert plan.finish == {"1": 2 * DAY + 32, "2": DAY + 32}
    (move,) = moves(changed, known, plan)
    assert (move.job, move.breaks_told) == ("1", False)


def test_a_date_past_recall_lets_no_other_move() -> None:
    """Job 1 was told a day that has gone; job 2 could make room for the heavy one, and does not."""
    shop = bare_shop(days=6, people=1)
    pieces = tuple(piece(f"{n}-A", Step("trim", 18, 1), job=str(n)) for n in (1, 2, 3))
    jobs = (Job("1", due=32, told=8), Job("2", due=80, told=80), Job("3", due=32, weight=1))
    problem = Problem(shop, jobs, pieces)
    known = Plan(
        starts={Key("1-A", 0): 2 * DAY + 14, Key("2-A", 0): DAY + 14, Key("3-A", 0): 14},
        people={Key(f"{n}-A", 0): ("person 0",) for n in (1, 2, 3)},
        held={},
        finish={"1": 2 * DAY + 32, "2": DAY + 32, "3": 32},
    )
    away = replace(shop.people[0], absences=(Window(0, DAY),))
    heavy = (jobs[0], jobs[1], replace(jobs[2], weight=50))
    changed = replace(problem, shop=replace(shop, people=(away,)), jobs=heavy)
    *_, (plan, _) = replans(changed, known, QUICK)
    assert plan.finish == {"1": 3 * DAY + 32, "2": DAY + 32, "3": 2 * DAY + 32}


def chain(*, cure: int = 20, code: str = "1-A", job: str = "1") -> Piece:
    return piece(
        code,
        Step("cast", 4, 2, "cast", lag=Lag(cure, why="cure")),
        Step("demold", 2, 1),
        Step("crate", 2, 1),
        holds=(Hold(("small table",), 0, 1, amount=10),),
        job=job,
    )


def moved(before: Problem, after: Problem) -> dict[str, Move]:
    known = planned(before)
    *_, (plan, _) = replans(after, known, QUICK)
    assert broken_rules(after, plan) == []
    return {move.job: move for move in moves(after, known, plan)}


def test_a_longer_wait_is_named_where_it_is() -> None:
    problem = one_job(bare_shop(), chain())
    found = moved(problem, one_job(bare_shop(), chain(cure=80)))
    assert (found["1"].key, found["1"].why) == ("wait", "cure after 1-A cast takes longer")


def test_a_place_that_another_keeps_longer_goes_back_to_its_cure() -> None:
    shop = bare_shop()
    jobs = (Job("1", due=0, weight=5), Job("2", due=0))
    problem = Problem(shop, jobs, (chain(), chain(code="2-A", job="2")))
    slow = replace(problem, pieces=(chain(cure=80), problem.pieces[1]))
    found = moved(problem, slow)
    assert found["2"].key == "wait"
    assert found["2"].why == "small table is taken by 1-A, since cure after 1-A cast takes longer"


def test_a_closed_day_is_named() -> None:
    problem = one_job(bare_shop(), chain())
    closed = bare_shop(shifts=problem.shop.shifts[1:])
    found = moved(problem, one_job(closed, chain()))
    assert found["1"].key == "hours"


def test_only_other_hands_are_told_apart_from_moves() -> None:
    problem = one_job(bare_shop(), piece("1-A", Step("trim", 4, 1)))
    known = planned(problem)
    (name,) = known.people[Key("1-A", 0)]
    people = tuple(
        replace(each, absences=(Window(0, DAY),) if each.name == name else ())
        for each in problem.shop.people
    )
    found = moved(problem, replace(problem, shop=replace(problem.shop, people=people)))
    assert (found["1"].pieces, found["1"].hands, found["1"].key) == ((), ("1-A",), "")


def test_a_job_that_falls_out_of_the_plan_says_what_is_wrong() -> None:
    problem = one_job(bare_shop(), chain())
    too_large = replace(problem.pieces[0], holds=(Hold(("small table",), 0, 1, amount=11),))
    found = moved(problem, replace(problem, pieces=(too_large,)))
    assert (found["1"].new, found["1"].key) == (None, "fault")
    assert "larger than every place" in found["1"].why
