"""Others change hands or places so that an event can begin sooner: who does what afterwards, that
nothing is changed where it would not help, and that a try takes all of it back."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from jobs.planning.blocks import blocks_of
from jobs.planning.faults import sift
from jobs.planning.generate import SIZES, random_shop
from jobs.planning.lists import close_hold, earliest_due_first
from jobs.planning.loaded import state_of
from jobs.planning.problem import Hold, Job, Key, Person, Piece, Problem, Step, Window
from jobs.planning.rearrange import Lane
from jobs.planning.state import State, entry
from jobs.planning.takeover import obstacle_yet
from jobs.planning.tasks import NONE, Arrays, Schedule, Tasks, compile_tasks, plan_of
from tests.jobs.planning.shops import bare_shop, eventful_shop, piece

T = 14  # when the shop opens
HAND, SEALER, MOVER = "hand", "sealer", "mover"


@entry
def asked(a: Arrays, s: State, v: int, t: int) -> int:
    return obstacle_yet(a, s, v, t)


@entry
def closed(a: Arrays, s: State, hold: int, end: int) -> int:
    return close_hold(a, s, hold, end)


def with_people(*pieces: Piece, away: tuple[Window, ...] = (), movers: int = 0) -> Tasks:
    crew = (
        Person(SEALER, frozenset({"seal", "move"})),
        Person(HAND, frozenset({"move", "clean"}), away),
        *(Person(MOVER, frozenset({"move"})) for _ in range(movers)),
    )
    jobs = tuple(Job(each.job, due=0) for each in pieces)
    return compile_tasks(Problem(replace(bare_shop(), people=crew), jobs, pieces))


def placed(tasks: Tasks, *rows: tuple[int, str]) -> State:
    """Event by event when it begins and who does it; those left over are not in the plan."""
    bit = {person.name: 1 << index for index, person in enumerate(tasks.people)}
    events, holds = len(tasks.steps), len(tasks.hold)
    start = np.full(events, NONE, dtype=np.int64)
    who = np.zeros(events, dtype=np.int64)
    for v, (begin, name) in enumerate(rows):
        start[v], who[v] = begin, bit[name]
    return state_of(tasks, Schedule(start, who, np.full(holds, -1, dtype=np.int64), 0))


def people_of(tasks: Tasks, state: State, v: int) -> set[str]:
    return {
        person.name for index, person in enumerate(tasks.people) if int(state.who[v]) >> index & 1
    }


def by_name(tasks: Tasks, state: State, name: str) -> list[int]:
    """What the person is at, slot by slot of the first shift."""
    number = [person.name for person in tasks.people].index(name)
    return [int(v) for v in state.by[number, T : T + 6]]


def move(job: str, slots: int = 4) -> Piece:
    return piece(f"P{job}", Step("move", slots, 1, "move"), job=job)


def seal(job: str) -> Piece:
    return piece(f"P{job}", Step("coat", 2, 1, "seal"), job=job)


def test_who_is_free_takes_over_what_keeps_the_only_one_who_can() -> None:
    tasks = with_people(move("1"), seal("2"))
    state = placed(tasks, (T, SEALER))
    assert asked(tasks.arrays, state, 1, T + 1) == -1
    assert people_of(tasks, state, 0) == {HAND}
    assert state.relieved[: state.relieved[-1]].tolist() == [0]
    assert by_name(tasks, state, HAND) == [0, 0, 0, 0, -1, -1]
    assert by_name(tasks, state, SEALER) == [-1] * 6
    assert int(state.start[0]) == T


@pytest.mark.parametrize(
    ("why", "others", "away"),
    [
        ("the other is at something else for a part of it", ((T + 3, HAND),), ()),
        ("the other is away for a part of it", (), (Window(T + 3, T + 9),)),
    ],
)
def test_nobody_takes_over_a_part(
    why: str, others: tuple[tuple[int, str], ...], away: tuple[Window, ...]
) -> None:
    """Whoever begins a step is there to its end, whatever the coat would need of it."""
    cleaning = piece("P3", Step("clean", 4, 1, "clean"), job="3")
    tasks = with_people(move("1"), *((cleaning,) if others else ()), seal("2"), away=away)
    state = placed(tasks, (T, SEALER), *others)
    coat = len(tasks.steps) - 1
    before = state.who.copy(), state.by.copy(), state.free.copy()
    assert asked(tasks.arrays, state, coat, T) > T, why
    assert state.relieved[-1] == 0
    for was, now in zip(before, (state.who, state.by, state.free), strict=True):
        assert (was == now).all()


def test_what_has_begun_stays_with_who_began_it() -> None:
    begun = replace(move("1"), steps=(replace(move("1").steps[0], began=T, by=(SEALER,)),))
    tasks = with_people(begun, seal("2"))
    state = placed(tasks, (T, SEALER))
    assert asked(tasks.arrays, state, 1, T + 1) > T + 1
    assert people_of(tasks, state, 0) == {SEALER}


def test_two_steps_are_taken_over_where_both_are_in_the_way() -> None:
    """One by the mover, one by the hand, as neither is free for both."""
    tasks = with_people(move("1", slots=1), move("2", slots=1), seal("3"), movers=1)
    state = placed(tasks, (T, SEALER), (T + 1, SEALER))
    assert asked(tasks.arrays, state, 2, T) == -1
    assert {*people_of(tasks, state, 0), *people_of(tasks, state, 1)} == {HAND, MOVER}
    assert sorted(state.relieved[: state.relieved[-1]].tolist()) == [0, 1]
    assert by_name(tasks, state, SEALER) == [-1] * 6


def test_a_piece_stands_elsewhere_so_that_a_larger_one_has_its_table() -> None:
    """The small one was cast on the large table, the large one fits on no other."""
    both, large = ("small table", "large table"), ("large table",)
    rows = [
        piece("P1", Step("form", 2), Step("demold", 1), holds=(Hold(both, 0, 1, 8),), job="1"),
        piece("P2", Step("form", 2), Step("demold", 1), holds=(Hold(large, 0, 1, 28),), job="2"),
    ]
    tasks = compile_tasks(Problem(bare_shop(), (Job("1", 0), Job("2", 0)), tuple(rows)))
    a = tasks.arrays
    at = np.array([1, -1], dtype=np.int64)
    start = np.array([T, T + 6, T, T + 6], dtype=np.int64)
    for asking in (0, 1):
        state = state_of(tasks, Schedule(start, np.zeros(4, dtype=np.int64), at, 0))
        state.asks[0] = asking
        later = closed(a, state, 1, T + 7)
        if asking:
            assert later == -1
            assert state.at.tolist() == [0, 1]
            assert state.cleared[: state.cleared[-1]].tolist() == [0]
            assert state.room[:, T + 3].tolist()[:2] == [2, 2]
        else:
            assert later == T + 7
            assert state.at.tolist() == [1, -1]


def with_pins(problem: Problem) -> Problem:
    """Every sixth step that a piece has for itself stays where the list by due dates has it."""
    tasks = compile_tasks(problem)
    starts = plan_of(tasks, earliest_due_first(tasks)).starts
    rows = [
        replace(
            each,
            steps=tuple(
                step
                if step.together or (row + n) % 6
                else replace(step, pin=starts[Key(each.code, n)])
                for n, step in enumerate(each.steps)
            ),
        )
        for row, each in enumerate(problem.pieces)
    ]
    return replace(problem, pieces=tuple(rows))


@pytest.mark.parametrize("seed", range(8))
def test_all_that_was_changed_in_tries_not_kept_is_as_it_was(seed: int) -> None:
    """The state after many tries is the state that its own plan makes when it is loaded anew: by
    slot who is free and at what, what places and air have left."""
    problem = eventful_shop(seed) if seed < 4 else random_shop(SIZES["12 jobs"], seed)
    if seed > 5:
        problem = with_pins(problem)
    tasks = compile_tasks(sift(problem)[0])
    lane = Lane(tasks, blocks_of(tasks), earliest_due_first(tasks), seed + 1)
    changed = [0, 0]
    for _ in range(90):
        lane.go((20 * len(tasks.steps), 60.0, 60.0))
        state, marks = lane.state, lane.marks
        kept = Schedule(marks.start, marks.who, marks.at, 0, lane.schedule.left_out)
        again = state_of(tasks, kept)
        for name in ("start", "who", "at", "free", "by", "room", "dust", "coat"):
            assert (getattr(state, name) == getattr(again, name)).all(), name
        changed[0] += int(state.relieved[-1])
        changed[1] += int(state.cleared[-1])
    assert seed < 4 or all(changed)  # of the last try of each: it did happen
