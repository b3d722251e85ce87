"""The checker refuses a plan that is broken in any one way, and says which."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from jobs.planning.check import broken_rules
from jobs.planning.faults import sift
from jobs.planning.lists import earliest_due_first
from jobs.planning.problem import After, Fault, Hold, Key, Lag, Person, Plan, Problem, Step, Window
from jobs.planning.tasks import compile_tasks, plan_of
from tests.jobs.planning.shops import bare_shop, eventful_shop, lag, one_job, piece


def plain_case() -> tuple[Problem, Plan]:
    """Two pieces cast together, coated one after the other, planned by hand."""
    shop = bare_shop(
        settle=2,
        people=3,
    )
    away = Person("away", frozenset({"cast"}), (Window(0, 480),))
    unskilled = Person("unskilled", frozenset())
    shop = replace(shop, people=(*shop.people, away, unskilled))
    steps = (
        Step("form", 4, 1, lag=lag(2)),
        Step("cast", 3, 2, "cast", air="dust", lag=lag(30), together="run"),
        Step("demold", 1, 1, lag=lag(0)),
        Step(
            "coat 1",
            2,
            1,
            uses=("booth",),
            air="coat",
            lag=lag(4, 10),
            after=(After(1, Lag(by_day=(60, 90), greatest=100)),),
        ),
        Step("coat 2", 1, 1, uses=("booth",), air="coat", windows=(Window(96, 144),)),
    )
    held = Hold(("small table", "large table"), 0, 2, amount=9)
    problem = one_job(
        shop, piece("1-A", *steps, holds=(held,)), piece("1-B", *steps, holds=(held,))
    )
    starts = {
        **{Key("1-A", n): slot for n, slot in enumerate((14, 20, 62, 110, 116))},
        **{Key("1-B", n): slot for n, slot in enumerate((14, 20, 62, 112, 118))},
    }
    people: dict[Key, tuple[str, ...]] = {
        key: (f"person {key.piece == '1-B':d}",) for key in starts
    }
    people[Key("1-A", 1)] = people[Key("1-B", 1)] = ("person 1", "person 2")
    held_at = {("1-A", 0): "small table", ("1-B", 0): "large table"}
    return problem, Plan(starts, people, held_at, {"1": 119})


def moved(key: Key, slot: int) -> Callable[[Plan], Plan]:
    return lambda plan: replace(plan, starts={**plan.starts, key: slot})


def by(key: Key, *names: str) -> Callable[[Plan], Plan]:
    return lambda plan: replace(plan, people={**plan.people, key: names})


def without(key: Key) -> Callable[[Plan], Plan]:
    return lambda plan: replace(
        plan, starts={other: slot for other, slot in plan.starts.items() if other != key}
    )


def test_the_plan_made_by_hand_is_accepted() -> None:
    problem, plan = plain_case()
    assert broken_rules(problem, plan) == []


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (without(Key("1-A", 2)), "nothing says why"),
        (moved(Key("1-A", 0), -4), "outside the time that is planned"),
        (moved(Key("1-A", 4), 500), "outside the time that is planned"),
        (moved(Key("1-A", 0), 12), "not within one shift"),
        (moved(Key("1-A", 2), 80), "not within one shift"),
        (moved(Key("1-B", 4), 158), "outside its windows"),
        (moved(Key("1-A", 1), 21), "not at the same time"),
        (by(Key("1-A", 1), "person 0", "person 2"), "not by the same people"),
        (moved(Key("1-A", 2), 52), "30 are needed"),
        (moved(Key("1-A", 4), 124), "10 at the most"),
        (moved(Key("1-B", 3), 82), "59 slots after cast, 60 are needed"),
        (moved(Key("1-B", 3), 124), "101 slots after cast, 100 at the most"),
        (by(Key("1-A", 0), "person 0", "person 1"), "2 people, 1 are needed"),
        (by(Key("1-A", 0)), "0 people, 1 are needed"),
        (by(Key("1-A", 0), "nobody"), "nobody is called"),
        (by(Key("1-A", 1), "person 1", "unskilled"), "cannot do cast"),
        (by(Key("1-A", 0), "away"), "away is away"),
        (by(Key("1-A", 0), "person 1"), "person 1 is at"),
        (
            lambda plan: replace(plan, held={("1-A", 0): "small table"}),
            "no place for what it holds",
        ),
        (
            lambda plan: replace(plan, held={**plan.held, ("1-A", 0): "rack"}),
            "may not stand at rack",
        ),
        (
            lambda plan: replace(plan, held={**plan.held, ("1-B", 0): "small table"}),
            "has room for 10",
        ),
        (moved(Key("1-B", 3), 111), "booth has room for 1"),
        (lambda plan: replace(plan, finish={"1": 118}), "is through at 119"),
        (lambda plan: replace(plan, finish={}), "is through at 119"),
    ],
)
def test_a_plan_broken_in_one_way_is_refused(change: Callable[[Plan], Plan], words: str) -> None:
    problem, plan = plain_case()
    said = broken_rules(problem, change(plan))
    assert any(words in each for each in said), said


def test_a_coat_while_dust_settles_is_refused() -> None:
    shop = bare_shop(settle=2)
    grind = piece("1-A", Step("grind", 2, 1, air="dust"))
    coat = piece("1-B", Step("coat", 2, 1, air="coat"))
    problem = one_job(shop, grind, coat)
    people = {Key("1-A", 0): ("person 0",), Key("1-B", 0): ("person 1",)}
    for start, kept in ((18, True), (17, False), (14, False), (12 + 48, True)):
        plan = Plan(
            {Key("1-A", 0): 14, Key("1-B", 0): start}, people, {}, {"1": max(16, start + 2)}
        )
        dusty = [each for each in broken_rules(problem, plan) if "dust from" in each]
        assert bool(dusty) is not kept, start


def test_a_pin_and_a_fact_may_not_move() -> None:
    shop = bare_shop()
    steps = (Step("form", 4, 1, began=-3, by=("person 0",)), Step("cast", 2, 1, pin=20))
    problem = one_job(shop, piece("1-A", *steps))
    people = {Key("1-A", 0): ("person 0",), Key("1-A", 1): ("person 1",)}
    good = Plan({Key("1-A", 0): -3, Key("1-A", 1): 20}, people, {}, {"1": 22})
    assert broken_rules(problem, good) == []
    assert "it is pinned to 20" in broken_rules(problem, moved(Key("1-A", 1), 21)(good))[0]
    assert "it began at -3" in broken_rules(problem, moved(Key("1-A", 0), -2)(good))[0]
    assert "began it" in broken_rules(problem, by(Key("1-A", 0), "person 1")(good))[0]


def test_drying_is_looked_up_by_the_day_of_the_last_wetting() -> None:
    shop = bare_shop()
    by_day = replace(lag(), by_day=(10, 60))
    problem = one_job(shop, piece("1-A", Step("wash", 2, 1, lag=by_day), Step("coat", 1, 1)))
    people = {Key("1-A", 0): ("person 0",), Key("1-A", 1): ("person 0",)}

    def said(first: int, second: int) -> list[str]:
        starts = {Key("1-A", 0): first, Key("1-A", 1): second}
        return broken_rules(problem, Plan(starts, people, {}, {"1": second + 1}))

    assert said(14, 26) == []
    assert "10 are needed" in said(14, 25)[0]
    assert "60 are needed" in said(62, 74)[0]
    assert "60 are needed" in said(14 + 5 * 48, 30 + 5 * 48)[0]


def test_a_job_that_is_left_out_must_be_named() -> None:
    problem, plan = plain_case()
    nothing = Plan({}, {}, {}, {})
    assert len(broken_rules(problem, nothing)) == 2
    assert broken_rules(problem, replace(nothing, faults=(Fault("1", "room", "No room."),))) == []
    assert plan.faults == ()


@pytest.mark.parametrize("seed", range(20))
def test_listed_plans_of_random_shops_are_accepted(seed: int) -> None:
    problem = eventful_shop(seed)
    kept, faults = sift(problem)
    tasks = compile_tasks(kept)
    schedule = earliest_due_first(tasks)
    plan = replace(plan_of(tasks, schedule), faults=faults)
    assert faults == ()
    assert schedule.left_out == ()
    assert broken_rules(problem, plan) == []
