"""A job put behind those that are compiled: the same arrays, and so the same date, as anew."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from jobs.planning import adapt as adapting
from jobs.planning.adapt import adapt
from jobs.planning.check import broken_rules
from jobs.planning.faults import sift
from jobs.planning.generate import DAY, random_shop
from jobs.planning.ground import Ground, with_job
from jobs.planning.problem import (
    Fault,
    Job,
    Person,
    Piece,
    Plan,
    Problem,
    Step,
    Window,
    visit_ends,
)
from jobs.planning.promise import Offer, alternatives, offer, slack
from jobs.planning.search import Spend, plans
from jobs.planning.tasks import Schedule, Tasks, compile_tasks
from tests.jobs.planning.shops import TINY, bare_shop, eventful_shop, like, piece

NEW = Job("new", due=0)
QUICK = Spend(rounds=1, neighbourhoods=0, whole_work=0.0)


def listed(problem: Problem) -> Plan:
    plan, _ = next(plans(problem, QUICK))
    return plan


def like_last(problem: Problem) -> tuple[Piece, ...]:
    return like(problem, problem.jobs[-1].name)


def assert_same(one: Tasks, other: Tasks) -> None:
    for field in fields(Tasks):
        if field.name != "arrays":
            assert getattr(one, field.name) == getattr(other, field.name), field.name
    for name, mine, theirs in zip(one.arrays._fields, one.arrays, other.arrays, strict=True):
        np.testing.assert_array_equal(mine, theirs, err_msg=name)
        assert np.asarray(mine).dtype == np.asarray(theirs).dtype, name


@pytest.mark.parametrize("seed", range(12))
def test_it_is_what_compiling_all_anew_gives(seed: int) -> None:
    problem = (eventful_shop if seed % 2 else lambda s: random_shop(TINY, s))(seed)
    if seed % 3 == 0:
        problem = with_visits(problem)
    kept, _ = sift(problem)
    new = like_last(problem)
    whole = replace(kept, jobs=(*kept.jobs, NEW), pieces=(*kept.pieces, *new))
    assert_same(with_job(compile_tasks(kept), NEW, new), compile_tasks(whole))


def test_starts_and_waits_that_nobody_else_has_get_rows_of_their_own() -> None:
    problem = Problem(bare_shop(), (Job("1", due=32),), (piece("1-A", Step("trim", 4, 1)),))
    step = Step("mix", 6, 2, windows=(Window(DAY, 3 * DAY),))
    new = (piece("new-A", step, Step("trim", 4, 1), job="new"),)
    whole = replace(problem, jobs=(*problem.jobs, NEW), pieces=(*problem.pieces, *new))
    assert_same(with_job(compile_tasks(problem), NEW, new), compile_tasks(whole))


@pytest.mark.parametrize("seed", range(6))
def test_a_promise_from_the_ground_is_the_one_without_it(seed: int) -> None:
    problem = random_shop(TINY, seed)
    ground = Ground.of(problem, listed(problem))
    pieces = like_last(problem)
    assert ground.bears(problem, ground.plan, pieces)
    found = offer(problem, ground.plan, NEW, pieces, ground=ground)
    assert isinstance(found, Offer)
    assert found == offer(problem, ground.plan, NEW, pieces)
    assert found.moved == ()
    whole = replace(problem, jobs=(*problem.jobs, NEW), pieces=(*problem.pieces, *pieces))
    assert broken_rules(whole, found.plan) == []


@pytest.mark.parametrize("seed", range(4))
def test_no_day_agreed_with_a_site_gives_way_to_a_new_job(seed: int) -> None:
    problem = with_visits(random_shop(TINY, seed))
    known = listed(problem)
    agreed = visit_ends(problem, known)
    jobs = tuple(
        replace(job, due=known.finish[job.name] + 5 * DAY, visit=agreed[job.name])
        for job in problem.jobs
    )
    problem = replace(problem, jobs=jobs)
    pieces = like_last(problem)
    found = offer(problem, known, NEW, pieces, ground=Ground.of(problem, known))
    assert isinstance(found, Offer)
    assert found == offer(problem, known, NEW, pieces)
    ways = list(alternatives(problem, known, NEW, pieces, (slack(problem, known),)))
    for each in [found, *(each for each in ways if isinstance(each, Offer))]:
        ends = visit_ends(problem, each.plan)
        assert all(ends[name] <= end for name, end in agreed.items())


def with_visits(problem: Problem) -> Problem:
    """The last step of every piece but those of one step is for a day agreed with the site."""
    pieces = tuple(
        replace(each, counts=len(each.steps) - 2) if len(each.steps) > 1 else each
        for each in problem.pieces
    )
    jobs = tuple(replace(job, visit=job.due + number) for number, job in enumerate(problem.jobs))
    return replace(problem, jobs=jobs, pieces=pieces)


def test_ground_of_other_facts_is_not_stood_on() -> None:
    problem = random_shop(TINY, 1)
    ground = Ground.of(problem, listed(problem))
    pieces = like_last(problem)
    hired = replace(
        problem.shop, people=(*problem.shop.people, Person("Ada Quill", frozenset({"cast"})))
    )
    other = replace(problem, shop=hired)
    assert not ground.bears(other, ground.plan, pieces)
    found = offer(other, ground.plan, NEW, pieces, ground=ground)
    assert isinstance(found, Offer)
    assert found == offer(other, ground.plan, NEW, pieces)
    later = replace(ground.plan, starts={key: at + 1 for key, at in ground.plan.starts.items()})
    assert not ground.bears(problem, later, pieces)
    first = pieces[0]
    pinned = replace(first, steps=(replace(first.steps[0], pin=DAY + 20), *first.steps[1:]))
    assert not ground.bears(problem, ground.plan, (pinned, *pieces[1:]))


def test_what_is_wrong_with_the_new_job_is_said() -> None:
    problem = random_shop(TINY, 2)
    ground = Ground.of(problem, listed(problem))
    strange = (piece("new-A", Step("gild", 2, 1, skill="gild"), job="new"),)
    found = offer(problem, ground.plan, NEW, strange, ground=ground)
    assert isinstance(found, Fault)
    assert (found.about, found.key) == ("new-A", "skill")
    nothing = offer(problem, ground.plan, NEW, (), ground=ground)
    assert isinstance(nothing, Fault)
    assert nothing.key == "empty"


def test_a_job_that_finds_no_room_is_told_so() -> None:
    shop = bare_shop(days=2, people=1)
    problem = Problem(shop, (Job("1", due=32),), (piece("1-A", Step("trim", 18, 1)),))
    ground = Ground.of(problem, listed(problem))
    for slots, room in ((18, True), (10, True)):
        one = piece("new-A", Step("trim", slots, 1), job="new")
        assert isinstance(offer(problem, ground.plan, NEW, (one,), ground=ground), Offer) is room
    two = tuple(piece(f"new-{n}", Step("trim", 18, 1), job="new") for n in "AB")
    found = offer(problem, ground.plan, NEW, two, ground=ground)
    assert isinstance(found, Fault)
    assert found.key == "room"


@pytest.mark.parametrize("seed", range(8))
def test_where_all_can_stay_no_other_order_is_needed(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is kept whole at once is what trying every order gives."""
    problem = eventful_shop(seed)
    kept, _ = sift(problem)
    tasks = compile_tasks(kept)
    known = listed(problem)
    at_once = adapt(tasks, known)
    said: list[bool] = []

    def never(*_: object) -> bool:
        said.append(True)
        return False

    monkeypatch.setattr(adapting, "is_all_kept", never)
    assert_like(at_once, adapt(tasks, known))
    assert len(said) > 1
    assert {key: int(at_once.start[v]) for key, v in tasks.event.items()} == known.starts


def assert_like(one: Schedule, other: Schedule) -> None:
    np.testing.assert_array_equal(one.start, other.start)
    np.testing.assert_array_equal(one.who, other.who)
    np.testing.assert_array_equal(one.at, other.at)
    assert (one.cost, one.left_out) == (other.cost, other.left_out)
