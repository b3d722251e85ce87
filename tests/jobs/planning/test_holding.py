"""In shops small enough to be worked by hand it is known what holds a job, and it is found.

That setting it aside helps is also tried by brute force: every start of the job's steps, with the
checker as the only judge.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest

from jobs.planning.check import broken_rules
from jobs.planning.holding import what_holds
from jobs.planning.lists import earliest_due_first
from jobs.planning.problem import (
    After,
    Hold,
    Job,
    Key,
    Lag,
    Person,
    Piece,
    Place,
    Plan,
    Problem,
    Shop,
    Step,
    Window,
)
from jobs.planning.tasks import compile_tasks, plan_of
from tests.jobs.planning.test_brute import through, tiny_shop

ALL_DAY = Shop(
    horizon=200,
    day_starts=(0, 48, 96, 144),
    shifts=(Window(0, 48), Window(48, 96), Window(96, 144), Window(144, 192)),
    people=tuple(Person(f"person {n}", frozenset({"cast"})) for n in range(4)),
    places=(
        Place("table 1", 10, "table"),
        Place("racks", 1, "rack"),
        Place("booth", 1, "booth"),
        Place("bay", 1, "wet bay"),
        Place("pickup", 1, "truck"),
        Place("drum", 1, "mixer"),
    ),
)
TABLE, RACK = Hold(("table 1",), 0, 1, amount=10), Hold(("racks",), 0, 1, from_end=True)


def listed(problem: Problem) -> Plan:
    tasks = compile_tasks(problem)
    schedule = earliest_due_first(tasks)
    assert not schedule.left_out
    plan = plan_of(tasks, schedule)
    assert broken_rules(problem, plan) == []
    return plan


def two_jobs(
    steps: tuple[Step, ...], holds: tuple[Hold, ...] = (), shop: Shop = ALL_DAY
) -> Problem:
    """Job 1 first, and job 2 of the same kind behind it."""
    return Problem(
        shop,
        (Job("1", due=0), Job("2", due=1)),
        tuple(Piece(f"{name}-A", name, steps, holds) for name in "12"),
    )


@pytest.mark.parametrize(
    ("key", "steps", "holds", "step", "slots"),
    [
        # The first has the place for as long as it takes: by so much the second is later.
        ("table", (Step("form", 4, 1), Step("demold", 1, 1)), (TABLE,), 0, 5),
        ("rack", (Step("demold", 4, 1), Step("seal", 2, 1)), (RACK,), 0, 2),
        ("wet bay", (Step("grind", 5, 1, uses=("bay",)),), (), 0, 5),
        ("truck", (Step("deliver", 6, 1, uses=("pickup",)),), (), 0, 6),
        ("mixer", (Step("cast", 3, 1, uses=("drum",)),), (), 0, 3),
        ("booth", (Step("coat", 2, 1, uses=("booth",), air="coat"),), (), 0, 2),
        ("people", (Step("carry", 7, 3),), (), 0, 7),
        # Nothing is short: only its own waits are left, and the longest of them is named.
        ("cure", (Step("cast", 3, 1, lag=Lag(30, why="cure")), Step("demold", 1, 1)), (), 1, 30),
        (
            "drying",
            (
                Step("cast", 3, 1, lag=Lag(30, why="cure")),
                Step("wash", 1, 1, lag=Lag(by_day=(50, 70), why="drying")),
                Step("coat", 1, 1),
            ),
            (),
            2,
            50,
        ),
        (
            "recoat",
            (Step("coat 1", 1, 1, lag=Lag(8, (), 40, "recoat")), Step("coat 2", 1, 1)),
            (),
            1,
            8,
        ),
        (
            "strength",
            (
                Step("cast", 3, 1, lag=Lag(10, why="cure")),
                Step("demold", 1, 1),
                Step("grind", 1, 1, after=(After(0, Lag(60, why="strength")),)),
            ),
            (),
            2,
            49,  # the cure and the demold take 11 of the 60
        ),
        ("site", (Step("install", 4, 2, windows=(Window(96, 110),)),), (), 0, 96),
        (
            "sealing air",
            (Step("coat", 4, 2, air="coat", windows=(Window(96, 110),)),),
            (),
            0,
            96,
        ),
        ("pin", (Step("cast", 3, 1, pin=20), Step("demold", 1, 1)), (), 0, 20),
        ("none", (Step("cast", 3, 1), Step("demold", 1, 1)), (), None, 0),
        ("wait", (Step("form", 3, 1, lag=Lag(6)), Step("cast", 1, 1)), (), 1, 6),
    ],
)
def test_what_holds_the_second_of_two_jobs_alike(
    key: str, steps: tuple[Step, ...], holds: tuple[Hold, ...], step: int | None, slots: int
) -> None:
    problem = two_jobs(steps, holds)
    held = what_holds(problem, listed(problem))["2"]
    assert (held.key, held.step, held.slots) == (key, step, slots), held
    assert held.beside == ()
    assert held.piece == ("" if key == "none" else "2-A")
    assert key == "none" or f"2-A: {steps[step or 0].name}" in held.words


def test_working_hours_hold_what_waits_for_nothing_else() -> None:
    shop = replace(ALL_DAY, shifts=(Window(14, 32), Window(62, 80)))
    problem = Problem(shop, (Job("1", 0),), (Piece("1-A", "1", (Step("form", 4, 1),)),))
    held = what_holds(problem, listed(problem))["1"]
    assert (held.key, held.slots) == ("hours", 14)


def test_dust_waits_until_the_booth_is_not_in_use() -> None:
    shop = replace(ALL_DAY, settle=2)
    coat = Step("coat", 10, 1, uses=("booth",), air="coat", pin=4)
    grind = Step("grind", 6, 1, air="dust")
    problem = Problem(
        shop,
        (Job("1", due=0), Job("2", due=1)),
        (Piece("1-A", "1", (coat,)), Piece("2-A", "2", (grind,))),
    )
    held = what_holds(problem, listed(problem))["2"]
    assert (held.key, held.slots) == ("booth", 14)
    assert "makes dust" in held.words


def test_two_things_that_hold_only_together_are_both_named() -> None:
    """The first job has the only table and all four people until slot 5."""
    problem = two_jobs((Step("form", 4, 4), Step("demold", 1, 4)), (TABLE,))
    held = what_holds(problem, listed(problem))["2"]
    assert {held.key, *held.beside} == {"table", "people"}
    assert held.slots == 5
    assert "and then for" in held.words


def test_a_job_that_could_be_sooner_as_the_shop_stands_says_by_how_much() -> None:
    problem = Problem(ALL_DAY, (Job("1", 0),), (Piece("1-A", "1", (Step("form", 4, 1),)),))
    late = Plan({Key("1-A", 0): 30}, {Key("1-A", 0): ("person 1",)}, {}, {"1": 34})
    assert broken_rules(problem, late) == []
    held = what_holds(problem, late)["1"]
    assert (held.key, held.sooner) == ("none", 30)


def test_of_several_pieces_the_one_is_named_that_waits() -> None:
    """1-A goes on at once; 1-B, cast after it, waits for its table."""
    steps = (Step("form", 4, 1), Step("demold", 1, 1))
    pieces = tuple(Piece(code, "1", steps, (TABLE,)) for code in ("1-A", "1-B"))
    problem = Problem(ALL_DAY, (Job("1", due=0),), pieces)
    plan = listed(problem)
    second = max(pieces, key=lambda piece: plan.starts[Key(piece.code, 0)]).code
    held = what_holds(problem, plan)["1"]
    assert (held.key, held.piece, held.step, held.slots) == ("table", second, 0, 5)


def test_a_piece_left_out_has_no_holder_and_the_rest_have() -> None:
    big = Piece("3-A", "3", (Step("form", 4, 1),), (Hold(("table 1",), 0, 0, amount=11),))
    problem = two_jobs((Step("form", 4, 1),))
    plan = listed(problem)
    wider = replace(problem, jobs=(*problem.jobs, Job("3", 0)), pieces=(*problem.pieces, big))
    assert set(what_holds(wider, plan)) == {"1", "2"}


@pytest.mark.parametrize("seed", range(40))
def test_more_of_what_holds_makes_it_sooner_by_brute_force(seed: int) -> None:
    problem = tiny_shop(seed)
    schedule = earliest_due_first(compile_tasks(problem))
    if schedule.left_out:
        pytest.skip("it cannot be planned whole")
    plan = plan_of(compile_tasks(problem), schedule)
    for name, held in what_holds(problem, plan).items():
        if held.key in ("table", "booth", "people") and not held.beside:
            assert soonest(more_of(problem, held.key), plan, name) == (
                plan.finish[name] - held.sooner - held.slots
            ), held


def more_of(problem: Problem, key: str) -> Problem:
    shop = problem.shop
    if key == "people":
        more = tuple(Person(f"more {n}", frozenset({"cast", "seal"})) for n in range(2))
        return replace(problem, shop=replace(shop, people=(*shop.people, *more)))
    places = tuple(replace(p, room=p.room + 1) if p.name == key else p for p in shop.places)
    return replace(problem, shop=replace(shop, places=places))


def soonest(problem: Problem, plan: Plan, name: str) -> int:
    """The job's soonest end with all others as planned: every start and crew of its piece."""
    piece = next(each for each in problem.pieces if each.job == name)
    keys = [Key(piece.code, n) for n in range(len(piece.steps))]
    people = [person.name for person in problem.shop.people]
    pairs = [(one,) for one in people], [(a, b) for a, b in product(people, people) if a < b]
    rows = sorted(
        (through(piece, starts), starts)
        for starts in product(range(14), repeat=len(keys))
        if all(
            first + step.slots <= second
            for first, second, step in zip(starts, starts[1:], piece.steps, strict=False)
        )
    )
    for end, starts in rows:
        tried = replace(
            plan,
            starts={**plan.starts, **dict(zip(keys, starts, strict=True))},
            finish={**plan.finish, name: end},
        )
        crewless = [each for each in broken_rules(problem, tried) if not about_people(each, people)]
        if crewless:
            continue
        for crews in product(*(pairs[step.crew - 1] for step in piece.steps)):
            crewed = replace(tried, people={**plan.people, **dict(zip(keys, crews, strict=True))})
            if not broken_rules(problem, crewed):
                return end
    raise AssertionError("no plan at all")


def about_people(words: str, people: list[str]) -> bool:
    return "people" in words or any(f": {name} " in words for name in people)
