"""What breaks a rule is left out of a plan and named; the rest stays as it was found."""

from __future__ import annotations

from dataclasses import replace

import pytest

from jobs.planning.check import broken_rules
from jobs.planning.problem import Hold, Job, Key, Piece, Plan, Problem, Step
from jobs.planning.search import Spend, plans
from jobs.planning.sound import BROKEN, sound
from tests.jobs.planning.shops import bare_shop, eventful_shop, lag

QUICK = Spend(rounds=1, neighbourhoods=0, work=0.01, whole_work=0.0)


def three_jobs() -> tuple[Problem, Plan]:
    """A piece each, planned by hand: cast one after the other on a table each."""
    held = Hold(("small table", "large table"), 0, 1, amount=9)
    steps = Step("cast", 3, 1, lag=lag(30)), Step("demold", 1, 1)
    pieces = tuple(Piece(f"{n}-A", str(n), steps, (held,)) for n in (1, 2, 3))
    jobs = tuple(Job(str(n), 480, weight=n) for n in (1, 2, 3))
    starts = {
        Key("1-A", 0): 14,
        Key("1-A", 1): 62,
        Key("2-A", 0): 17,
        Key("2-A", 1): 63,
        Key("3-A", 0): 64,
        Key("3-A", 1): 110,
    }
    plan = Plan(
        starts,
        dict.fromkeys(starts, ("person 0",)),
        {("1-A", 0): "small table", ("2-A", 0): "large table", ("3-A", 0): "small table"},
        {"1": 63, "2": 64, "3": 111},
    )
    return Problem(bare_shop(), jobs, pieces), plan


def without_job(plan: Plan, job: str) -> Plan:
    piece = f"{job}-A"
    return replace(
        plan,
        starts={key: at for key, at in plan.starts.items() if key.piece != piece},
        people={key: who for key, who in plan.people.items() if key.piece != piece},
        held={key: at for key, at in plan.held.items() if key[0] != piece},
        finish={name: end for name, end in plan.finish.items() if name != job},
    )


def test_a_plan_that_keeps_the_rules_stays_as_it_is() -> None:
    problem, plan = three_jobs()
    assert broken_rules(problem, plan) == []
    assert sound(problem, plan) == (plan, [])


@pytest.mark.parametrize(
    ("key", "slot", "goes"),
    [
        (Key("2-A", 0), 10, "2"),  # before the shift
        (Key("2-A", 0), 15, "1"),  # at once with job 1's, whose lateness costs less
        (Key("3-A", 0), 62, "3"),  # its person is at both others' demolds then
    ],
)
def test_the_one_goes_that_most_rules_name_or_whose_lateness_costs_least(
    key: Key, slot: int, goes: str
) -> None:
    problem, plan = three_jobs()
    plan = replace(plan, starts={**plan.starts, key: slot})
    rules = broken_rules(problem, plan)
    left, told = sound(problem, plan)
    assert told == rules != []
    assert [(fault.about, fault.key) for fault in left.faults] == [(goes, BROKEN)]
    assert f"Job {goes} is left out" in left.faults[0].words
    assert broken_rules(problem, left) == []
    assert replace(left, faults=()) == without_job(plan, goes)


def test_what_has_begun_stays() -> None:
    problem, plan = three_jobs()
    first = problem.pieces[0]
    begun = replace(first.steps[0], began=14, by=("person 0",))
    first = replace(first, steps=(begun, *first.steps[1:]))
    problem = replace(problem, pieces=(first, *problem.pieces[1:]))
    plan = replace(plan, starts={**plan.starts, Key("2-A", 0): 15})
    left, _ = sound(problem, plan)
    assert [fault.about for fault in left.faults] == ["2"]


def test_a_date_that_is_not_its_pieces_end_is_not_shown() -> None:
    problem, plan = three_jobs()
    left, told = sound(problem, replace(plan, finish={**plan.finish, "3": 100}))
    assert told == ["job 3 is through at 111, the plan says 100"]
    assert [fault.about for fault in left.faults] == ["3"]
    assert sorted(left.finish) == ["1", "2"]


def test_as_many_go_as_have_to() -> None:
    problem, plan = three_jobs()
    early = dict.fromkeys((Key("1-A", 0), Key("2-A", 0), Key("3-A", 0)), 2)
    left, told = sound(problem, replace(plan, starts={**plan.starts, **early}))
    assert sorted(fault.about for fault in left.faults) == ["1", "2", "3"]
    assert (left.starts, left.finish) == ({}, {})
    assert len(told) > 3  # all that was broken, for the log


@pytest.mark.parametrize("seed", range(40))
def test_in_what_is_found_nothing_has_to_go(seed: int) -> None:
    problem = eventful_shop(seed)
    for plan, _ in plans(problem, QUICK):
        assert sound(problem, plan) == (plan, [])
