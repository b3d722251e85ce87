"""A new job's date is one that can be carried out, and costs nobody else theirs."""

from __future__ import annotations

from dataclasses import replace

import pytest

from jobs.planning.check import broken_rules
from jobs.planning.generate import DAY, random_shop
from jobs.planning.problem import (
    Fault,
    Hold,
    Job,
    Key,
    Lag,
    Piece,
    Place,
    Plan,
    Problem,
    Step,
    Window,
    told_moved,
)
from jobs.planning.promise import (
    Offer,
    Way,
    alternatives,
    offer,
    saturday,
    second_run,
    slack,
)
from jobs.planning.search import Spend, plans
from tests.jobs.planning.shops import TINY, bare_shop, like, piece

QUICK = Spend(rounds=1, neighbourhoods=0, whole_work=0.02)
NEW = Job("new", due=0)
OPEN = Window(14, 32)


@pytest.fixture(autouse=True)
def fewer_tries(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is tested here holds however well lists are searched."""
    monkeypatch.setattr("jobs.planning.search.SHORT", 15)
    monkeypatch.setattr("jobs.planning.search.WORK", 50)


def planned(problem: Problem) -> Plan:
    *_, (plan, _) = plans(problem, QUICK)
    return plan


def a_told_shop(seed: int) -> tuple[Problem, Plan]:
    problem = random_shop(TINY, seed)
    plan = planned(problem)
    jobs = tuple(replace(job, told=plan.finish[job.name]) for job in problem.jobs)
    return replace(problem, jobs=jobs), plan


def asked(problem: Problem, pieces: tuple[Piece, ...]) -> Problem:
    return replace(problem, jobs=(*problem.jobs, NEW), pieces=(*problem.pieces, *pieces))


def offered(problem: Problem, known: Plan, pieces: tuple[Piece, ...]) -> Offer:
    found = offer(problem, known, NEW, pieces)
    assert isinstance(found, Offer)
    assert broken_rules(asked(problem, pieces), found.plan) == []
    assert found.finish == found.plan.finish["new"]
    return found


@pytest.mark.parametrize("seed", range(6))
def test_a_promise_can_be_carried_out_and_moves_nothing_else(seed: int) -> None:
    problem, known = a_told_shop(seed)
    pieces = like(problem, problem.jobs[seed % 3].name)
    found = offered(problem, known, pieces)
    assert {key: found.plan.starts[key] for key in known.starts} == known.starts
    assert found.moved == ()
    assert told_moved(problem, found.plan.finish) == ()
    assert offer(problem, known, NEW, pieces) == found


@pytest.mark.parametrize("seed", range(4))
def test_what_makes_it_earlier_breaks_no_told_date(seed: int) -> None:
    problem, known = a_told_shop(seed)
    jobs = tuple(replace(job, told=(job.told or 0) + 2 * DAY) for job in problem.jobs)
    problem = replace(problem, jobs=jobs)
    pieces = like(problem, problem.jobs[seed % 3].name)
    plain = offered(problem, known, pieces)
    ways = [
        *(saturday(problem, (5 + 7 * week) * DAY, OPEN) for week in range(4)),
        slack(problem, known),
    ]
    parted = second_run(problem, pieces)
    ways += [parted] if parted else []
    for way in ways:
        for found in alternatives(problem, known, NEW, pieces, [way], plain=plain):
            assert found.finish < plain.finish
            assert told_moved(problem, found.plan.finish) == ()
            assert broken_rules(asked(way.problem, way.pieces or pieces), found.plan) == []


def day_of_work(code: str, job: str, slots: int = 18, **changes: object) -> Piece:
    return piece(code, replace(Step("trim", slots, 1), **changes), job=job)


def test_the_first_free_day_is_promised() -> None:
    """One person, busy on the first and third day; the job fills the second."""
    shop = bare_shop(days=6, people=1)
    jobs = (Job("1", due=32), Job("2", due=3 * DAY))
    pieces = (day_of_work("1-A", "1"), day_of_work("2-A", "2", pin=2 * DAY + 14))
    problem = Problem(shop, jobs, pieces)
    found = offered(problem, planned(problem), (day_of_work("new-A", "new"),))
    assert found.finish == DAY + 32


def test_a_job_that_can_spare_it_makes_room_only_up_to_its_own_date() -> None:
    shop = bare_shop(days=6, people=1)
    pieces = (day_of_work("1-A", "1"), day_of_work("2-A", "2"))
    wanted = (day_of_work("new-A", "new"),)
    for told, finish in ((2 * DAY + 32, DAY + 32), (2 * DAY, 2 * DAY + 32)):
        jobs = (Job("1", due=32), Job("2", due=2 * DAY, told=told))
        problem = Problem(shop, jobs, pieces)
        known = planned(problem)
        assert known.finish == {"1": 32, "2": DAY + 32}
        plain = offered(problem, known, wanted)
        assert plain.finish == 2 * DAY + 32
        found = list(
            alternatives(problem, known, NEW, wanted, [slack(problem, known)], plain=plain)
        )
        assert [each.finish for each in found] == ([finish] if finish < plain.finish else [])
        for each in found:
            assert [move.job for move in each.moved] == ["2"]
            assert each.words == "Move 2, which can spare it"
            assert broken_rules(asked(problem, wanted), each.plan) == []


def test_a_saturday_costs_the_hours_that_are_worked_on_it() -> None:
    """Open on days 0 and 2. Seven hours' work more than day 0 has: day 2, or day 1 worked too."""
    shop = bare_shop(people=1)
    shop = replace(shop, shifts=(shop.shifts[0], shop.shifts[2]))
    problem = Problem(shop, (Job("1", due=32),), (day_of_work("1-A", "1"),))
    known = planned(problem)
    wanted = (day_of_work("new-A", "new", slots=14),)
    way = saturday(problem, DAY, OPEN)
    (found,) = alternatives(problem, known, NEW, wanted, [way])
    assert (found.key, found.finish, found.hours) == ("saturday", DAY + 28, 7.0)
    assert broken_rules(asked(way.problem, wanted), found.plan) == []
    with pytest.raises(ValueError, match="works on that day already"):
        saturday(problem, 2 * DAY, OPEN)


def cast(code: str) -> Piece:
    return piece(
        code,
        Step("cast", 6, 1, "cast", uses=("mixer",), lag=Lag(30), together="run new"),
        Step("demold", 2, 1),
        holds=(Hold(("small table", "large table"), 0, 1, amount=10),),
        job="new",
    )


def test_a_second_run_is_earlier_where_one_table_is_free_later() -> None:
    """The large table is taken for three days. Both at once wait for it; one by one the small
    table does for both, two days each."""
    shop = bare_shop(people=3)
    places = (Place("small table", 10), Place("large table", 10), Place("mixer", 1, "mixer"))
    shop = replace(shop, places=places)
    steps = (
        Step("cast", 4, 1, "cast", began=-4, by=("person 0",), lag=Lag(5 * DAY)),
        Step("demold", 2, 1),
    )
    stands = piece("1-A", *steps, holds=(Hold(("large table",), 0, 1, 10, at="large table"),))
    problem = Problem(shop, (Job("1", due=6 * DAY),), (stands,))
    known = planned(problem)
    wanted = (cast("new-A"), cast("new-B"))
    plain = offered(problem, known, wanted)
    way = second_run(problem, wanted)
    assert way is not None
    assert way.hours == 3.0
    (found,) = alternatives(problem, known, NEW, wanted, [way], plain=plain)
    assert (found.words, found.hours) == ("Cast new-B in a second run", 3.0)
    assert found.finish < plain.finish
    assert broken_rules(asked(problem, way.pieces), found.plan) == []
    assert second_run(problem, wanted[:1]) is None


def test_what_cannot_be_promised_says_why() -> None:
    problem = Problem(bare_shop(days=2, people=1), (Job("1", due=0),), (day_of_work("1-A", "1"),))
    shop = replace(problem.shop, places=(*problem.shop.places, Place("mixer", 1, "mixer")))
    problem = replace(problem, shop=shop)
    known = planned(problem)

    def said(*pieces: Piece, job: Job = NEW) -> str:
        found = offer(problem, known, job, pieces)
        assert isinstance(found, Fault)
        return f"{found.key}: {found.words}"

    assert said().startswith("empty: Job new has no pieces")
    assert "larger than every place" in said(
        replace(cast("new-A"), holds=(Hold(("booth",), 0, 1, 2),))
    )
    two_days = (day_of_work("new-A", "new"), day_of_work("new-B", "new"))
    assert said(*two_days).startswith("room: Job new finds no room")
    assert said(day_of_work("x", "1"), job=Job("1", 0)).startswith("twice: Job 1 is in the plan")


def test_a_stale_plan_is_mended_and_what_moved_is_told() -> None:
    """Somebody is away since the plan was made: that moves job 1, and the offer says so."""
    problem = Problem(bare_shop(people=1), (Job("1", due=32),), (day_of_work("1-A", "1"),))
    known = planned(problem)
    away = replace(problem.shop.people[0], absences=(Window(0, DAY),))
    changed = replace(problem, shop=replace(problem.shop, people=(away,)))
    found = offered(changed, known, (day_of_work("new-A", "new"),))
    assert [(move.job, move.key) for move in found.moved] == [("1", "away")]
    assert found.plan.starts[Key("1-A", 0)] == DAY + 14
    assert found.finish == 2 * DAY + 32


def test_a_way_may_bring_another_shop() -> None:
    problem = Problem(bare_shop(people=1), (Job("1", due=32),), (day_of_work("1-A", "1"),))
    known = planned(problem)
    way = Way("hand", "Ask for a hand", 9.0, replace(problem, shop=bare_shop(people=2)))
    (found,) = alternatives(problem, known, NEW, (day_of_work("new-A", "new"),), [way])
    assert (found.key, found.words, found.hours, found.finish) == (
        "hand",
        "Ask for a hand",
        9.0,
        32,
    )
