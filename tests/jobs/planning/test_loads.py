"""Loads against sums made by hand, and against a count slot by slot over random shops."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from jobs.planning.faults import sift
from jobs.planning.lists import earliest_due_first
from jobs.planning.loads import PersonDay, PlaceDay, loads
from jobs.planning.problem import Hold, Job, Key, Person, Place, Plan, Problem, Shop, Step, Window
from jobs.planning.tasks import compile_tasks, plan_of
from tests.jobs.planning.shops import eventful_shop, one_job, piece

SHOP = Shop(
    horizon=3 * 48,
    day_starts=(-10, 38, 86),
    shifts=(Window(0, 8), Window(48, 66), Window(96, 114)),
    people=(
        Person("one", frozenset(), (Window(60, 100),)),
        Person("two", frozenset()),
    ),
    places=(Place("table", 20), Place("racks", 4), Place("booth")),
)


def test_a_table_over_a_night_people_and_the_booth_by_hand() -> None:
    steps = (Step("cast", 4, 2), Step("demold", 2, 1), Step("coat", 3, 1, uses=("booth",)))
    holds = (Hold(("table",), 0, 1, amount=15), Hold(("racks",), 1, 2, from_end=True))
    problem = one_job(SHOP, piece("1-A", *steps, holds=holds))
    plan = Plan(
        {Key("1-A", 0): 2, Key("1-A", 1): 50, Key("1-A", 2): 100},
        {Key("1-A", 0): ("one", "two"), Key("1-A", 1): ("one",), Key("1-A", 2): ("two",)},
        {("1-A", 0): "table", ("1-A", 1): "racks"},
        {"1": 103},
    )
    found = loads(problem, plan)
    assert found.days == (0, 38, 86)
    # The table from slot 2 to 52, 15 of 20: 36 of the 38 slots left today, 14 of 48 tomorrow.
    assert found.places["table"] == (
        PlaceDay(pytest.approx(36 / 38 * 0.75), 36, 15, 20),
        PlaceDay(pytest.approx(14 / 48 * 0.75), 14, 15, 20),
        PlaceDay(0.0, 0, 0, 20),
    )
    assert [day.peak for day in found.places["racks"]] == [0, 1, 1]
    assert [day.busy for day in found.places["booth"]] == [0, 0, 3]
    # One is away from slot 60 of a shift to 66, and until 100 of the next from 96 on.
    assert found.people["one"] == (PersonDay(4, 8), PersonDay(2, 12), PersonDay(0, 14))
    assert found.people["two"] == (PersonDay(4, 8), PersonDay(0, 18), PersonDay(3, 18))
    assert found.used() == (8, 2, 3)
    assert found.there() == (16, 30, 32)


def test_what_is_done_together_counts_once_and_what_is_past_does_not() -> None:
    run = Step("cast", 6, 1, uses=("booth",), together="run", began=-2, by=("two",))
    problem = Problem(SHOP, (Job("1", due=0),), tuple(piece(code, run) for code in ("1-A", "1-B")))
    keys = [Key("1-A", 0), Key("1-B", 0)]
    plan = Plan(dict.fromkeys(keys, -2), dict.fromkeys(keys, ("two",)), {}, {"1": 4})
    found = loads(problem, plan)
    assert found.places["booth"][0] == PlaceDay(pytest.approx(4 / 38), 4, 1, 1)
    assert found.people["two"][0].used == 4


@pytest.mark.parametrize("seed", range(5))
def test_no_place_is_over_its_room_and_nobody_over_their_hours(seed: int) -> None:
    problem = sift(eventful_shop(seed))[0]
    tasks = compile_tasks(problem)
    plan = plan_of(tasks, earliest_due_first(tasks))
    found = loads(problem, plan)
    for rows in found.places.values():
        assert all(0 <= day.share <= 1 and day.peak <= day.room for day in rows)
    # Work that began before anybody knew of an absence or a shift may lie outside of both.
    later = [rows[1:] for rows in found.people.values()]
    assert all(day.used <= day.there for rows in later for day in rows)
    events = {step.together or key: (key, step) for key, step in steps_of(problem)}
    asked = sum(
        step.crew * (step.slots - max(0, min(step.slots, -plan.starts[key])))
        for key, step in events.values()
    )
    assert sum(found.used()) == asked
    for name, rows in found.places.items():
        for day, row in zip(windows(problem), rows, strict=True):
            counted = [standing(problem, plan, name, slot) for slot in range(*day)]
            assert (row.peak, row.busy) == (max(counted), sum(each > 0 for each in counted))
            assert row.share == pytest.approx(sum(counted) / len(counted) / row.room)


def steps_of(problem: Problem) -> list[tuple[Key, Step]]:
    return [(Key(p.code, n), step) for p in problem.pieces for n, step in enumerate(p.steps)]


def windows(problem: Problem) -> list[Window]:
    starts = (*problem.shop.day_starts, problem.shop.horizon)
    return [Window(*pair) for pair in pairwise(starts)]


def standing(problem: Problem, plan: Plan, name: str, slot: int) -> int:
    """Counted as somebody would who walks through the shop at that time."""
    seen = set()
    total = 0
    for key, step in steps_of(problem):
        begin = plan.starts[key]
        if name in step.uses and begin <= slot < begin + step.slots:
            seen.add(step.together or key)
    for each in problem.pieces:
        for number, hold in enumerate(each.holds):
            first, last = (Key(each.code, n) for n in (hold.first, hold.last))
            begin = plan.starts[first] + hold.from_end * each.steps[hold.first].slots
            end = plan.starts[last] + each.steps[hold.last].slots
            if plan.held[each.code, number] == name and begin <= slot < end:
                total += hold.amount
    return total + len(seen)


def test_a_plan_without_a_piece_counts_the_others() -> None:
    problem = one_job(SHOP, piece("1-A", Step("cast", 4, 1)), piece("1-B", Step("cast", 4, 1)))
    plan = Plan({Key("1-A", 0): 0}, {Key("1-A", 0): ("one",)}, {}, {})
    assert loads(problem, plan).used() == (4, 0, 0)
    wider = replace(problem, shop=replace(SHOP, horizon=100))
    assert loads(wider, plan).days == (0, 38, 86)
