"""What has to make way for a block: once it is out there is room, and no more than that is out."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from jobs.planning.blocks import IN_WAY, Blocks, Marks, blocks_of, marks_of
from jobs.planning.choosing import could_begin, in_way_of
from jobs.planning.generate import SIZES, random_shop
from jobs.planning.lists import earliest_due_first
from jobs.planning.loaded import state_of
from jobs.planning.outin import free_places, take_out
from jobs.planning.state import BARE, State, njit
from jobs.planning.taking import obstacle
from jobs.planning.tasks import Arrays, compile_tasks

entry = njit(**{**BARE, "cache": False})


@entry
def could_be_at(a: Arrays, s: State, v: int) -> int:
    return could_begin(a, s, v)[0]


@entry
def makes_way(a: Arrays, s: State, b: Blocks, m: Marks, move: Any) -> Any:
    """How many blocks have to, and the obstacle at t when they and the block itself are out."""
    number, t = move
    v = b.seq[b.row[number].seq]
    many = in_way_of(a, s, b, m, (number, s.start[v] - t))
    free_places(a, s, b, number)
    take_out(a, s, b, number)
    for index in range(many):
        free_places(a, s, b, m.in_way[index])
        take_out(a, s, b, m.in_way[index])
    return many, obstacle(a, s, v, t)


def test_what_has_to_make_way_is_all_that_is_in_the_way_and_nothing_else() -> None:
    counts = [in_the_way(seed) for seed in range(6)]
    seen, by_people = map(sum, zip(*counts, strict=True))
    assert seen > 300
    assert by_people > 20


def in_the_way(seed: int) -> tuple[int, int]:
    """How many moves have been looked at, and those for which only people were lacking."""
    tasks = compile_tasks(random_shop(SIZES["12 jobs"], seed))
    a, blocks, schedule = tasks.arrays, blocks_of(tasks), earliest_due_first(tasks)
    here = state_of(tasks, schedule)
    by_people = seen = 0
    for number, t in moves(a, blocks, here):
        event = a.event[blocks.seq[blocks.row[number].seq]]
        end = t + int(event.slots)
        present = int(np.bitwise_and.reduce(a.free[t:end])) & int(event.able)
        if present.bit_count() < event.crew:
            continue  # nobody can make room where nobody is
        state = state_of(tasks, schedule)
        marks = marks_of(tasks, blocks, state, seed * 1000 + number)
        marks.chosen[number] = 1
        many, later = makes_way(a, state, blocks, marks, (number, t))
        if many == IN_WAY:  # some of more
            continue
        seen += many > 0
        assert later < 0, (number, t)
        places = [int(here.room[k, t:end].min()) for k in a.use[event.use : event.use_end]]
        air = {1: here.coat[t : end + a.settle], 2: here.dust[t:end]}.get(int(event.air))
        if event.crew > 1 or not many or 0 in places or (air is not None and air.any()):
            continue
        by_people += 1  # only somebody is lacking: what one of those who could do it is at
        out = {int(block) for block in marks.in_way[:many]}
        assert any(
            out == {int(blocks.of[w]) for w in here.by[person, t:end] if w >= 0}
            for person in range(len(here.by))
            if present >> person & 1
        )
    return seen, by_people


def moves(a: Arrays, blocks: Blocks, here: State) -> Iterator[tuple[int, int]]:
    """Blocks of one event, and slots at which each could begin sooner if all that it needs were
    free."""
    for number, row in enumerate(blocks.row):
        v = int(blocks.seq[row.seq])
        if row.seq_end - row.seq == 1:
            for t in range(could_be_at(a, here, v), int(here.start[v])):
                if a.opening[a.event[v].kind, t] == t:
                    yield number, t
