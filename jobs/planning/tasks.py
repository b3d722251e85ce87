"""The problem as arrays, for the solvers: events for steps, bits for people, rows for places."""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple, TypeVar

import numpy as np

from jobs.planning.faults import starts_in
from jobs.planning.problem import Key, Lag, Person, Piece, Plan, Problem, Shop, Step
from jobs.planning.tables import Ints, Numbers, Rows, Shorts, ints, ragged, table
from jobs.planning.visits import visits_of

TURNS = 8  # orders of the pieces of a group that a search may choose from
NONE = -1_000_000  # a start that is not fixed; before anything that has happened
T = TypeVar("T")


class Arrays(NamedTuple):
    """What compiled code reads: tables of rows with named columns, and ragged rows kept flat.

    Where a row owns others, `x` and `x_end` are the first and one past the last of them in the
    flat array `x`. Few tables rather than an array a column: compiling takes seconds so, not
    minutes. Narrow ones, so that a shop stays in the nearest memory.
    """

    horizon: int
    settle: int
    move_cost: int
    day: Shorts  # of each slot
    free: Ints  # per slot, the bits of the people who are here
    room: Ints  # per place
    opening: Shorts  # per kind and slot: the next start that is allowed; the horizon if none is
    lag: Shorts  # least lag, per row and day
    event: Rows  # columns of EVENT
    use: Numbers  # places
    before: Rows  # columns of ARC
    closing: Numbers  # holds
    hold: Rows  # columns of HOLD
    fit: Numbers  # places
    group: Rows  # columns of GROUP
    seq: Numbers  # events, in orders in which they can be placed
    open: Numbers  # holds that a fact has begun and no fact has ended
    job: Rows  # columns of JOB
    last: Numbers  # events


EVENT = (
    "slots",
    "crew",
    "able",  # bits of those with the skill
    "air",  # 0, 1 dusty, 2 coat
    "kind",  # row of `opening`
    "fixed",  # start that is a fact or a pin, else NONE
    "fact",  # 1 if it has begun
    "by",  # bits of those at it, for facts
    "group",
    *("use", "use_end", "before", "before_end", "closing", "closing_end"),
)
ARC = ("source", "lag", "most")  # the event before, row of `lag`, greatest lag or -1
HOLD = ("first", "last", "from_end", "amount", "fit", "fit_end")
GROUP = ("seq", "seq_end", "open", "open_end", "events")  # events in each of its orders
JOB = ("due", "weight", "told", "last", "last_end")  # told: beyond the horizon if nothing was


@dataclass(frozen=True)
class Tasks:
    problem: Problem
    arrays: Arrays
    event: dict[Key, int]
    steps: tuple[Step, ...]  # one for each event
    hold: dict[tuple[str, int], int]
    jobs: tuple[str, ...]  # a name for each row of jobs; of a visit one that no job has
    groups: tuple[tuple[int, ...], ...]  # jobs of each group, and their visits
    rank: tuple[int, ...]  # of each group: 0 stands on a place, 1 has a fact or a pin, 2 free
    people: tuple[Person, ...]  # by bit, those with the fewest skills first


@dataclass(frozen=True)
class Schedule:
    """Starts of events, bits of their people, places of holds; NONE and -1 where not placed."""

    start: Ints
    who: Ints
    at: Ints
    cost: int
    left_out: tuple[int, ...] = ()  # groups


def number(rows: dict[T, int], key: T) -> int:
    return rows.setdefault(key, len(rows))


def compile_tasks(problem: Problem) -> Tasks:
    """`problem` must have been sifted."""
    shop, horizon = problem.shop, problem.shop.horizon
    people = tuple(sorted(shop.people, key=lambda person: (len(person.skills), person.name)))
    bit = {person.name: 1 << index for index, person in enumerate(people)}
    place = {each.name: index for index, each in enumerate(shop.places)}

    event, steps = number_events(problem)
    before, lags = number_waits(problem, event, len(steps))
    days = len(shop.day_starts)
    arcs = [arc for row in before for arc in row]

    hold = {(piece.code, index): 0 for piece in problem.pieces for index in range(len(piece.holds))}
    hold = {key: index for index, key in enumerate(hold)}
    holds = [(piece.code, each) for piece in problem.pieces for each in piece.holds]
    hold_first = [event[Key(code, each.first)] for code, each in holds]
    hold_last = [event[Key(code, each.last)] for code, each in holds]
    closing: list[list[int]] = [[] for _ in steps]
    for index, last in enumerate(hold_last):
        closing[last].append(index)
    fits = [
        sorted(
            (
                place[name]
                for name in ((each.at,) if each.at else each.places)
                if shop.places[place[name]].room >= each.amount
            ),
            key=lambda index: (shop.places[index].room, index),
        )
        if all(name in place for name in each.places)
        else []
        for _, each in holds
    ]

    kind, kinds = number_kinds(shop, steps)
    job_names = tuple(job.name for job in problem.jobs)
    groups, group = number_groups(problem, event, len(steps))
    behind = [frozenset(u for u, _, _ in row) for row in before]
    orders = [
        [order_of(pieces, event, behind, turn) for turn in range(TURNS)]
        for pieces in pieces_of(problem, groups)
    ]
    seq = [turns[0] for turns in orders]
    fact = [step.began is not None for step in steps]
    opened = [
        [
            index
            for index, (first, last) in enumerate(zip(hold_first, hold_last, strict=True))
            if group[first] == g and fact[first] and not fact[last]
        ]
        for g in range(len(groups))
    ]
    lasts: dict[str, list[int]] = defaultdict(list)
    for piece in problem.pieces:
        final = event[piece.counted]
        if final not in lasts[piece.job]:
            lasts[piece.job].append(final)

    # What was agreed for what follows the steps that count is a row as a job's own, behind them.
    visits = visits_of(problem, event)
    rows = (*problem.jobs, *(visit.row for visit in visits))
    groups = tuple(
        (*jobs, *(n for n, visit in enumerate(visits, len(job_names)) if visit.job in jobs))
        for jobs in groups
    )

    everyone, slots = sum(bit.values()), np.arange(horizon + 1)
    day = np.maximum(np.searchsorted(shop.day_starts, slots, side="right") - 1, 0)
    use, use_cuts = ragged([[place[name] for name in step.uses] for step in steps])
    _, before_cuts = ragged([[0] * len(row) for row in before])
    closing_flat, closing_cuts = ragged(closing)
    fit, fit_cuts = ragged(fits)
    seq_flat, seq_cuts = ragged([[v for turn in turns for v in turn] for turns in orders])
    open_flat, open_cuts = ragged(opened)
    last_flat, last_cuts = ragged(
        [*(lasts[name] for name in job_names), *(visit.lasts for visit in visits)]
    )
    arrays = Arrays(
        horizon=horizon,
        settle=shop.settle,
        move_cost=problem.move_cost,
        day=day.astype(np.int32),
        free=here(people, horizon),
        room=ints(each.room for each in shop.places),
        opening=np.array([next_starts(spans, horizon) for spans in kinds], dtype=np.int32).reshape(
            -1, horizon + 1
        ),
        lag=np.array(list(lags) or [(0,) * days], dtype=np.int32),
        event=table(
            EVENT,
            [step.slots for step in steps],
            [step.crew for step in steps],
            [
                sum(bit[p.name] for p in people if step.skill in p.skills)
                if step.skill
                else everyone
                for step in steps
            ],
            [{"": 0, "dust": 1, "coat": 2}[step.air] for step in steps],
            kind,
            [fixed_start(step) for step in steps],
            fact,
            [sum(bit[name] for name in step.by) for step in steps],
            group,
            *use_cuts,
            *before_cuts,
            *closing_cuts,
        ),
        use=use,
        before=table(ARC, *zip(*arcs, strict=True)) if arcs else table(ARC, [], [], []),
        closing=closing_flat,
        hold=table(
            HOLD,
            hold_first,
            hold_last,
            [each.from_end for _, each in holds],
            [each.amount for _, each in holds],
            *fit_cuts,
        ),
        fit=fit,
        group=table(GROUP, *seq_cuts, *open_cuts, [len(row) for row in seq]),
        seq=seq_flat,
        open=open_flat,
        job=table(
            JOB,
            [job.due for job in rows],
            [job.weight for job in rows],
            [10 * horizon if job.told is None else job.told for job in rows],
            *last_cuts,
        ),
        last=last_flat,
    )
    rank = tuple(
        0 if opened[g] else 1 if any(fixed_start(steps[v]) != NONE for v in row) else 2
        for g, row in enumerate(seq)
    )
    names = tuple(row.name for row in rows)
    return Tasks(problem, arrays, event, steps, hold, names, groups, rank, people)


def names_of_group(tasks: Tasks, group: int) -> list[str]:
    known = {job.name for job in tasks.problem.jobs}
    return [name for job in tasks.groups[group] if (name := tasks.jobs[job]) in known]


def fixed_start(step: Step) -> int:
    if step.began is not None:
        return step.began
    return NONE if step.pin is None else step.pin


def turned(pieces: list[Piece], turn: int) -> list[Piece]:
    """Another order for each turn: from the front, from the back, then shuffled."""
    if turn == 2:
        pieces = pieces[::-1]
    elif turn > 2:
        pieces = list(pieces)
        random.Random(turn).shuffle(pieces)  # noqa: S311 - an order to try, no secret
    return sorted(pieces, key=lambda piece: (not has_begun(piece), not is_anchored(piece)))


def is_anchored(piece: Piece) -> bool:
    return any(fixed_start(step) != NONE for step in piece.steps)


def has_begun(piece: Piece) -> bool:
    return any(step.began is not None for step in piece.steps)


def number_kinds(
    shop: Shop, steps: Sequence[Step]
) -> tuple[list[int], dict[tuple[tuple[int, int], ...], int]]:
    """Steps that may start at the same times are of one kind."""
    kinds: dict[tuple[tuple[int, int], ...], int] = {}
    known: dict[tuple[object, ...], int] = {}
    kind = []
    for step in steps:
        like = (step.slots, step.crew > 0, step.windows)
        if like not in known:
            known[like] = number(kinds, tuple(starts_in(shop, step)))
        kind.append(known[like])
    return kind, kinds


def number_events(problem: Problem) -> tuple[dict[Key, int], tuple[Step, ...]]:
    event: dict[Key, int] = {}
    shared: dict[str, int] = {}
    steps: list[Step] = []
    for piece in problem.pieces:
        for index, step in enumerate(piece.steps):
            if step.together and step.together in shared:
                event[Key(piece.code, index)] = shared[step.together]
                continue
            if step.together:
                shared[step.together] = len(steps)
            event[Key(piece.code, index)] = len(steps)
            steps.append(step)
    return event, tuple(steps)


def number_waits(
    problem: Problem, event: dict[Key, int], events: int
) -> tuple[list[list[tuple[int, int, int]]], dict[tuple[int, ...], int]]:
    """Per event what it waits for, as ARC has it; and the rows of least lags by day."""
    before: list[list[tuple[int, int, int]]] = [[] for _ in range(events)]
    lags: dict[tuple[int, ...], int] = {}
    days = range(len(problem.shop.day_starts))
    row_of: dict[tuple[Lag, int | None], int] = {}

    def wait(piece: Piece, earlier: int, later: int, lag: Lag) -> None:
        began = piece.steps[earlier].began
        fact = None if began is None else lag.after(problem.shop.day_of(began))
        if (lag, fact) not in row_of:
            row = tuple(lag.after(day) if fact is None else fact for day in days)
            row_of[lag, fact] = number(lags, row)
        most = -1 if lag.greatest is None else lag.greatest
        u, v = event[Key(piece.code, earlier)], event[Key(piece.code, later)]
        before[v].append((u, row_of[lag, fact], most))

    for piece in problem.pieces:
        for index, step in enumerate(piece.steps):
            if index:
                wait(piece, index - 1, index, piece.steps[index - 1].lag)
            for after in step.after:
                wait(piece, after.step, index, after.lag)
    return before, lags


def number_groups(
    problem: Problem, event: dict[Key, int], events: int
) -> tuple[tuple[tuple[int, ...], ...], list[int]]:
    """Jobs that share an event are placed as one group."""
    job = {each.name: index for index, each in enumerate(problem.jobs)}
    root = list(range(len(job)))

    def top(index: int) -> int:
        while root[index] != index:
            index = root[index]
        return index

    owner = [-1] * events
    for piece in problem.pieces:
        for index in range(len(piece.steps)):
            v = event[Key(piece.code, index)]
            mine = top(job[piece.job])
            if owner[v] >= 0:
                root[max(mine, top(owner[v]))] = min(mine, top(owner[v]))
            owner[v] = mine
    with_pieces = {job[piece.job] for piece in problem.pieces}
    rows: dict[int, list[int]] = defaultdict(list)
    for index in sorted(with_pieces):
        rows[top(index)].append(index)
    groups = tuple(tuple(rows[key]) for key in sorted(rows))
    numbers = {each: index for index, jobs in enumerate(groups) for each in jobs}
    return groups, [numbers[each] for each in owner]


def pieces_of(problem: Problem, groups: Sequence[Sequence[int]]) -> list[list[Piece]]:
    group = {problem.jobs[job].name: g for g, jobs in enumerate(groups) for job in jobs}
    rows: list[list[Piece]] = [[] for _ in groups]
    for piece in problem.pieces:
        rows[group[piece.job]].append(piece)
    return rows


def order_of(
    unturned: list[Piece], event: dict[Key, int], behind: list[frozenset[int]], turn: int
) -> list[int]:
    """Each piece's chain as far as it goes; what several share once the last of them is there.

    Pieces with a fact or a pin come first, they can't make way for the others; the rest as the
    shop lists them, or turned over by `turn`. With `turn` 1 all go on by a step at a time.
    What a piece under way shares with others is gone on with from that piece, which keeps the
    place it has: theirs are sought beside it.
    """
    pieces = turned(unturned, turn)
    chains = [
        [event[Key(piece.code, index)] for index in range(len(piece.steps))] for piece in pieces
    ]
    begun = sum(has_begun(piece) for piece in pieces)
    shared = {v for chain in chains[:begun] for v in chain}
    order: list[int] = []
    done: set[int] = set()
    moved = True
    while moved:
        moved = again = False
        for number, chain in enumerate(chains):
            for v in chain:
                if v in done:
                    continue
                if not behind[v] <= done:
                    break
                order.append(v)
                done.add(v)
                moved = True
                again = number >= begun and v in shared
                if turn == 1 or again:
                    break
            if again:
                break
    if len(done) < len({v for chain in chains for v in chain}):
        raise ValueError("steps that are done together wait for each other")
    return order


def here(people: Sequence[Person], horizon: int) -> Ints:
    free = np.full(horizon + 1, (1 << len(people)) - 1, dtype=np.int64)
    for index, person in enumerate(people):
        for begin, end in person.absences:
            free[max(0, begin) : max(0, end)] &= ~np.int64(1 << index)
    return free


def next_starts(spans: Iterable[tuple[int, int]], horizon: int) -> Shorts:
    opening = np.full(horizon + 1, horizon, dtype=np.int32)
    for first, last in spans:
        opening[first : last + 1] = np.arange(first, last + 1)
    opening[horizon] = horizon
    # Backwards, each slot takes the nearest start that follows it.
    return np.minimum.accumulate(opening[::-1])[::-1].copy()


def names_of(tasks: Tasks, bits: int) -> tuple[str, ...]:
    return tuple(p.name for index, p in enumerate(tasks.people) if bits >> index & 1)


def plan_of(tasks: Tasks, schedule: Schedule) -> Plan:
    placed = {key: v for key, v in tasks.event.items() if schedule.start[v] != NONE}
    ends = {key: int(schedule.start[v]) + tasks.steps[v].slots for key, v in placed.items()}
    finish: dict[str, int] = {}
    for name in tasks.jobs:
        pieces = [piece for piece in tasks.problem.pieces if piece.job == name]
        lasts = [piece.counted for piece in pieces]
        if lasts and all(key in ends for key in lasts):
            finish[name] = max(ends[key] for key in lasts)
    places = tasks.problem.shop.places
    return Plan(
        starts={key: int(schedule.start[v]) for key, v in placed.items()},
        people={key: names_of(tasks, int(schedule.who[v])) for key, v in placed.items()},
        held={
            key: places[int(schedule.at[index])].name
            for key, index in tasks.hold.items()
            if schedule.at[index] >= 0
        },
        finish=finish,
    )
