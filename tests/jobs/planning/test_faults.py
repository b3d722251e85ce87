"""What no plan can meet is named by piece, with what to do; the rest is planned."""

from __future__ import annotations

from dataclasses import replace

import pytest

from jobs.planning.check import broken_rules
from jobs.planning.faults import sift
from jobs.planning.problem import After, Hold, Job, Lag, Piece, Problem, Step, Window
from jobs.planning.search import Spend, plans
from tests.jobs.planning.shops import bare_shop, one_job, piece

FORM = Step("form", 4, 1)
TABLE = Hold(("small table", "large table"), 0, 0, amount=8)
QUICK = Spend(rounds=1, neighbourhoods=1, whole_work=0.1)


def beside_a_good_one(bad: Piece) -> Problem:
    problem = one_job(bare_shop(), piece("2-A", FORM, holds=(TABLE,), job="2"), bad)
    return replace(problem, jobs=(*problem.jobs, Job("2", due=20)))


@pytest.mark.parametrize(
    ("bad", "key", "words"),
    [
        (piece("1-A", FORM, holds=(replace(TABLE, amount=31),)), "size", "larger than every place"),
        (piece("1-A", Step("form", 4, 1, pin=4)), "pin", "pinned to a time outside the shifts"),
        (piece("1-A", Step("form", 4, 1, pin=30)), "pin", "pinned to a time outside the shifts"),
        (piece("1-A", Step("weld", 2, 1, "weld")), "skill", "1 who can do it, and 0 can"),
        (piece("1-A", Step("cast", 2, 3, "cast")), "skill", "3 who can do it, and 2 can"),
        (piece("1-A", Step("cast", 19, 1)), "long", "longer than every shift"),
        (piece("1-A", Step("seal", 2, 1, uses=("oven",))), "place", "needs oven"),
        (
            piece("1-A", Step("fit", 2, 1, windows=(Window(33, 60),))),
            "window",
            "fits in no shift within its days",
        ),
        (piece("1-A"), "empty", "no steps"),
        (piece("1-A", FORM, Step("cast", 1, 1, began=-2)), "order", "form before it has not"),
        (piece("1-A", Step("form", 1, 1, began=3)), "future", "a time that is to come"),
        (piece("1-A", Step("form", 1, 1, began=-1, by=("a ghost",))), "who", "a ghost"),
        (
            piece("1-A", Step("form", 4, 1, began=-1), holds=(TABLE,)),
            "where",
            "say where it stands",
        ),
        (piece("1-A", Step("form", -4, 1)), "negative", "below nothing"),
        (
            piece("1-A", FORM, Step("grind", 2, 1, after=(After(1, Lag(4)),))),
            "after",
            "grind waits for a step that does not come before it",
        ),
        (
            piece("1-A", FORM, Step("grind", 2, 1, after=(After(0, Lag(by_day=(4, -1))),))),
            "negative",
            "grind has a length, a crew or a wait below nothing",
        ),
        (piece("1-A", FORM, job="9"), "job", "belongs to no job"),
    ],
)
def test_it_is_named_and_the_rest_is_planned(bad: Piece, key: str, words: str) -> None:
    problem = beside_a_good_one(bad)
    for plan, _ in plans(problem, QUICK):
        assert [(fault.about, fault.key) for fault in plan.faults] == [("1-A", key)]
        assert words in plan.faults[0].words
        assert plan.finish == {"2": 18}
        assert broken_rules(problem, plan) == []


def test_a_promise_in_the_past_is_named_and_planned_all_the_same() -> None:
    problem = replace(beside_a_good_one(piece("1-A", FORM)), jobs=(Job("1", due=-5), Job("2", 20)))
    *_, (plan, _) = plans(problem, QUICK)
    assert [(fault.about, fault.key) for fault in plan.faults] == [("1", "past")]
    assert plan.finish == {"1": 18, "2": 18}


def test_a_job_that_finds_no_room_before_the_plan_ends_is_named() -> None:
    long = piece("1-A", replace(FORM, lag=Lag(480)), Step("cast", 1, 1))
    problem = beside_a_good_one(long)
    *_, (plan, _) = plans(problem, QUICK)
    assert [(fault.about, fault.key) for fault in plan.faults] == [("1", "room")]
    assert "finds no room in the days that are planned" in plan.faults[0].words
    assert plan.finish == {"2": 18}
    assert broken_rules(problem, plan) == []


def test_a_run_that_does_not_fit_its_tables_is_named() -> None:
    cast = Step("cast", 2, 1, together="run")
    held = Hold(("large table",), 0, 0, amount=20)
    problem = one_job(
        bare_shop(), piece("1-A", cast, holds=(held,)), piece("1-B", cast, holds=(held,))
    )
    _, faults = sift(problem)
    assert [(fault.about, fault.key) for fault in faults] == [("1-B", "run")]
    assert "second run" in faults[0].words


def test_steps_that_differ_cannot_be_done_together() -> None:
    one = piece("1-A", Step("cast", 2, 1, together="run"))
    other = piece("1-B", Step("cast", 3, 1, together="run"))
    kept, faults = sift(one_job(bare_shop(), one, other))
    assert [(fault.about, fault.key) for fault in faults] == [("1-B", "together")]
    assert [each.code for each in kept.pieces] == ["1-A"]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"horizon": 0}, "at least one slot"),
        ({"day_starts": (5,)}, "at or before slot 0"),
        ({"shifts": (Window(4, 8), Window(6, 9))}, "follow each other"),
    ],
)
def test_a_shop_that_makes_no_sense_is_refused(changes: dict[str, object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        sift(one_job(bare_shop(**changes), piece("1-A", FORM)))
