"""A plan as what is to be carried out, in order: for `events`, which does so many times."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from jobs.planning.faults import starts_in
from jobs.planning.moment import ARC, EVENT, SLOT, STAY, TICKS, Course
from jobs.planning.problem import Key, Lag, Person, Plan, Problem, Shop, Step, Window
from jobs.planning.tables import Ints, Numbers, Shorts, table

BEYOND = 60  # days looked at after the plan's end, for samples that take longer


class Wait(NamedTuple):
    """That a step of a piece waits for an earlier one: the one before, or one named in `after`."""

    piece: str
    step: int
    since: int


class Stay(NamedTuple):
    """A place kept from the start of an event (its end, with `from_end`) to the end of another, in
    the plan from slot `begin` to `end`. `last` is -1 where the plan does not say until when."""

    place: str
    first: int
    last: int
    amount: int
    from_end: bool
    begin: int
    end: int


class Arc(NamedTuple):
    source: int
    target: int
    wait: Wait
    lag: Lag


@dataclass(frozen=True)
class Path:
    """The course of a plan, and what is needed to draw for it and to read what came of it."""

    course: Course
    keys: tuple[tuple[Key, ...], ...]  # the steps that each event is
    steps: tuple[Step, ...]  # of each event
    starts: Shorts  # of each event in the plan, in slots
    arcs: tuple[Arc, ...]  # in the order of Course.target
    jobs: dict[str, tuple[int, ...]]  # the events that each job's date is made by
    shop: Shop  # as long as is looked at

    def day_of(self, slot: int) -> int:
        return self.shop.day_of(slot)


def path_of(problem: Problem, plan: Plan, over: int, mend: int) -> Path:
    """`over` and `mend` in ticks. Steps that the plan does not place are left out."""
    walk = Walk(problem, plan)
    shop = walk.shop
    bit = {person.name: 1 << number for number, person in enumerate(by_skills(shop))}
    left, behind = walk.order_of_places()
    flat, cuts = flattened(walk.uses, walk.outs, walk.ended_by, behind)
    opens, until, kind = openings(shop, walk.steps, over)
    starts = ints(walk.start) * TICKS
    fixed = [-1 if arc.lag.by_day else arc.lag.least * TICKS for arc in walk.arcs]
    course = Course(
        event=table(
            EVENT,
            [sum(bit[name] for name in plan.people[keys[0]]) for keys in walk.keys],
            able_bits(shop, walk.steps, bit),
            starts,
            starts,
            [step.slots * TICKS for step in walk.steps],
            [step.began is not None for step in walk.steps],
            [step.crew for step in walk.steps],
            kind,
            [{"": 0, "dust": 1, "coat": 2}[step.air] for step in walk.steps],
            walk.pending(left),
            walk.urgent(),
            walk.holding(),
            *cuts[0],
            *cuts[1],
            *cuts[2],
        ),
        arc=table(
            ARC,
            [arc.target for arc in walk.arcs],
            fixed,
            [-1 if arc.lag.greatest is None else arc.lag.greatest * TICKS for arc in walk.arcs],
            *[[0] * len(walk.arcs)] * 4,
        ),
        stay=table(
            STAY,
            [each.first for each in walk.stays],
            [each.amount for each in walk.stays],
            left,
            *cuts[3],
        ),
        flat=flat,
        room=ints([place.room for place in shop.places]),
        opens=opens,
        until=until,
        slot=table(SLOT, *shift_ends(shop, over)),
        away=absences(shop, bit),
        rule=np.array((sum(bit.values()), shop.settle * TICKS, over, mend), dtype=np.int64),
    )
    keys = tuple(tuple(row) for row in walk.keys)
    return Path(
        course, keys, tuple(walk.steps), ints(walk.start), tuple(walk.arcs), walk.dated(), shop
    )


def ints(values: Sequence[int]) -> Shorts:
    return np.array(values, dtype=np.int32)


def flattened(*tables: Sequence[Sequence[int]]) -> tuple[Numbers, list[list[list[int]]]]:
    """All rows of all tables one after the other; per table where each begins and ends."""
    flat: list[int] = []
    cuts = []
    for rows in tables:
        begins, ends = [], []
        for row in rows:
            begins.append(len(flat))
            flat += row
            ends.append(len(flat))
        cuts.append([begins, ends])
    return np.array(flat, dtype=np.uint32), cuts


class Walk:
    """The plan's events in its order, and what ties them to each other."""

    def __init__(self, problem: Problem, plan: Plan) -> None:
        self.problem, self.plan = problem, plan
        self.keys = self.events()
        pieces = {piece.code: piece.steps for piece in problem.pieces}
        self.steps = [pieces[keys[0].piece][keys[0].step] for keys in self.keys]
        self.event = {key: v for v, keys in enumerate(self.keys) for key in keys}
        self.start = [plan.starts[keys[0]] for keys in self.keys]
        self.end = [t + step.slots for t, step in zip(self.start, self.steps, strict=True)]
        self.shop = reaching(problem.shop, max([0, *self.end]))
        self.arcs = [arc for v in range(len(self.steps)) for arc in self.arcs_of(v, pieces)]
        self.outs: list[list[int]] = [[] for _ in self.steps]
        for number, arc in enumerate(self.arcs):
            self.outs[arc.source].append(number)
        held = list(self.holds())
        self.held = {stay.place for stay in held}
        self.stays = [*held, *self.uses_of_held_places()]
        number_of = {place.name: number for number, place in enumerate(self.shop.places)}
        self.uses = [
            [number_of[name] for name in step.uses if name not in self.held] for step in self.steps
        ]
        self.ended_by: list[list[int]] = [[] for _ in self.steps]
        for number, stay in enumerate(self.stays):
            if stay.last >= 0:
                self.ended_by[stay.last].append(number)

    def events(self) -> list[list[Key]]:
        rows: dict[str, list[Key]] = defaultdict(list)
        for piece in self.problem.pieces:
            for index, step in enumerate(piece.steps):
                key = Key(piece.code, index)
                if key in self.plan.starts:
                    rows[step.together or f"{piece.code}\n{index}"].append(key)
        return sorted(rows.values(), key=lambda keys: (self.plan.starts[keys[0]], keys[0]))

    def arcs_of(self, v: int, pieces: Mapping[str, Sequence[Step]]) -> Iterator[Arc]:
        for code, index in self.keys[v]:
            steps = pieces[code]
            asked = [(after.step, after.lag) for after in steps[index].after]
            if index:
                asked.append((index - 1, steps[index - 1].lag))
            for since, lag in asked:
                yield Arc(self.event[Key(code, since)], v, Wait(code, index, since), lag)

    def pending(self, left: Sequence[int]) -> list[int]:
        counts = [0] * len(self.steps)
        for stay, room in zip(self.stays, left, strict=True):
            counts[stay.first] += room < 0
        for arc in self.arcs:
            counts[arc.target] += 1
        return counts

    def urgent(self) -> list[int]:
        """Those that have to follow something within a day."""
        found, day = [0] * len(self.steps), day_length(self.shop)
        for arc in self.arcs:
            if arc.lag.greatest is not None and arc.lag.greatest <= day:
                found[arc.target] = 1
        return found

    def holding(self) -> list[int]:
        """For each event the wait by which it is held until what follows can be begun in time: the
        one greatest wait after it, of something that waits for nothing that comes later."""
        found, latest = [-1] * len(self.steps), [-1] * len(self.steps)
        for arc in self.arcs:
            latest[arc.target] = max(latest[arc.target], arc.source)
        for u, outs in enumerate(self.outs):
            tight = [number for number in outs if self.arcs[number].lag.greatest is not None]
            if len(tight) == 1 and latest[self.arcs[tight[0]].target] <= u:
                found[u] = tight[0]
        return found

    def holds(self) -> Iterator[Stay]:
        for piece in self.problem.pieces:
            for number, hold in enumerate(piece.holds):
                place = self.plan.held.get((piece.code, number))
                first = self.event.get(Key(piece.code, hold.first))
                if place is None or first is None:
                    continue
                last = self.event.get(Key(piece.code, hold.last), -1)
                begin = self.end[first] if hold.from_end else self.start[first]
                end = self.end[last] if last >= 0 else self.problem.shop.horizon
                yield Stay(place, first, last, hold.amount, hold.from_end, begin, end)

    def uses_of_held_places(self) -> Iterator[Stay]:
        """Where something is kept, a step that takes room keeps to the order of the place, too."""
        for v, step in enumerate(self.steps):
            for place in step.uses:
                if place in self.held:
                    yield Stay(place, v, v, 1, False, self.start[v], self.end[v])

    def order_of_places(self) -> tuple[list[int], list[list[int]]]:
        """For each stay the room that is left beside it and those who come to the place before it;
        and those who come after it and wait for room, for when it is gone.

        Somebody who leaves in the plan just as this one comes, by a step that begins only after the
        one that brings it, is not counted: it could not be known to leave in time.
        """
        room = {place.name: place.room for place in self.shop.places}
        left = [room[stay.place] - stay.amount for stay in self.stays]
        behind: list[list[int]] = [[] for _ in self.stays]
        order = sorted(
            range(len(self.stays)), key=lambda n: (self.stays[n].begin, self.stays[n].end, n)
        )
        there: dict[str, list[int]] = defaultdict(list)
        for number in order:
            there[self.stays[number].place].append(number)
        for numbers in there.values():
            counted = np.triu(~self.leaving(numbers), 1)
            taken = np.array([self.stays[n].amount for n in numbers]) @ counted
            for number, amount in zip(numbers, taken.tolist(), strict=True):
                left[number] -= amount
            short = [left[number] < 0 for number in numbers]
            for number, row in zip(numbers, counted & short, strict=True):
                behind[number] = [numbers[n] for n in np.flatnonzero(row).tolist()]
        return left, behind

    def leaving(self, numbers: Sequence[int]) -> NDArray[np.bool_]:
        """Of stays, row by column, whether the one leaves just as the other comes."""
        stays = [self.stays[number] for number in numbers]
        knows = np.array([stay.last >= 0 for stay in stays])
        ends = np.array([stay.end for stay in stays])
        begins = np.array([stay.begin for stay in stays])
        over = np.array([self.end[stay.last] for stay in stays])  # of the step that it leaves by
        brought = np.array([self.start[stay.first] for stay in stays])
        found = (ends[:, None] <= begins) & (over[:, None] > brought) & knows[:, None]
        return np.asarray(found)

    def dated(self) -> dict[str, tuple[int, ...]]:
        rows: dict[str, list[int]] = defaultdict(list)
        for piece in self.problem.pieces:
            if piece.job in self.plan.finish and piece.counted in self.event:
                rows[piece.job].append(self.event[piece.counted])
        return {job: tuple(row) for job, row in rows.items()}


def reaching(shop: Shop, end: int) -> Shop:
    """The shop up to some time after `end`; where it says no more, its last week goes on."""
    starts = list(shop.day_starts)
    length = day_length(shop)
    horizon = end + BEYOND * length
    while starts[-1] + length < horizon:
        starts.append(starts[-1] + length)
    shifts = list(shop.shifts)
    last = max((shift.end for shift in shifts), default=horizon)
    week = [shift for shift in shifts if shift.begin >= last - 7 * length]
    turn = 1
    while week and last + 7 * length * (turn - 1) < horizon:
        by = 7 * length * turn
        shifts += [Window(shift.begin + by, shift.end + by) for shift in week]
        turn += 1
    kept = tuple(shift for shift in shifts if shift.begin < horizon)
    return replace(shop, horizon=horizon, day_starts=tuple(starts), shifts=kept)


def day_length(shop: Shop) -> int:
    starts = shop.day_starts
    return starts[-1] - starts[-2] if len(starts) > 1 else max(1, shop.horizon)


def by_skills(shop: Shop) -> list[Person]:
    """Those with the fewest skills first: of several who are free they are asked first."""
    return sorted(shop.people, key=lambda person: (len(person.skills), person.name))


def able_bits(shop: Shop, steps: Sequence[Step], bit: Mapping[str, int]) -> list[int]:
    bits = {
        skill: sum(bit[p.name] for p in shop.people if not skill or skill in p.skills)
        for skill in {step.skill for step in steps}
    }
    return [bits[step.skill] for step in steps]


def absences(shop: Shop, bit: Mapping[str, int]) -> Ints:
    rows = [
        (bit[person.name], each.begin * TICKS, each.end * TICKS)
        for person in shop.people
        for each in person.absences
    ]
    return np.array(rows, dtype=np.int64).reshape(-1, 3)


def openings(shop: Shop, steps: Sequence[Step], over: int) -> tuple[Shorts, Shorts, list[int]]:
    """Per slot and kind the next slot to start at, the last tick to start at; the events' kinds."""
    kinds: dict[tuple[object, ...], int] = {}
    rows, kind = [], []
    shifts = np.array(shop.shifts, dtype=np.int64).reshape(-1, 2)
    for step in steps:
        like = (step.slots, step.crew > 0, step.windows)
        if like not in kinds:
            kinds[like] = len(kinds)
            rows.append(last_starts(shop, step, over, shifts))
        kind.append(kinds[like])
    until = np.array(rows, dtype=np.int32).reshape(len(rows), shop.horizon + 1)
    slots = np.arange(shop.horizon + 1, dtype=np.int32)
    opens = np.where(until >= slots * TICKS, slots, shop.horizon + 1)
    opens = np.minimum.accumulate(opens[:, ::-1], axis=1)[:, ::-1]
    opens = np.where(opens > shop.horizon, -1, opens)
    return opens.T.astype(np.int32, order="C"), np.ascontiguousarray(until.T), kind


def last_starts(shop: Shop, step: Step, over: int, shifts: Ints) -> Ints:
    """Per slot the last tick of the stretch of starts it lies in. A step goes by its planned
    length: how long it takes, nobody knows before. It may pass closing by `over`."""
    spans = shifts if step.crew else np.array([[0, shop.horizon]])
    first = np.maximum(spans[:, 0], 0)
    last = np.minimum(spans[:, 1], shop.horizon) - step.slots
    if step.windows:
        # Those it had are gone: another day has to be agreed, and any may be.
        after = max(step.windows)[1]
        agreed = np.array(list(starts_in(shop, step)), dtype=np.int64).reshape(-1, 2)
        first = np.concatenate((agreed[:, 0], np.maximum(first, after)))
        last = np.concatenate((agreed[:, 1], last))
    first, last = first[first <= last], last[first <= last]
    edges = np.bincount(first, minlength=shop.horizon + 2)
    edges -= np.bincount(last + 1, minlength=shop.horizon + 2)
    allowed = np.cumsum(edges)[:-1] > 0
    turns = np.diff(allowed, prepend=False, append=False)
    first, last = np.flatnonzero(turns).reshape(-1, 2).T - [[0], [1]]
    if not len(first):
        return np.full(shop.horizon + 1, -1, dtype=np.int64)
    stays = step.crew and not step.windows
    longer = over * np.isin(last + step.slots, shifts[:, 1]) if stays else np.zeros_like(last)
    slots = np.arange(shop.horizon + 1)
    run = np.searchsorted(first, slots, side="right") - 1
    within = (run >= 0) & (slots <= (last + longer // TICKS)[run])
    return np.where(within, (last * TICKS + longer)[run], -1)


def shift_ends(shop: Shop, over: int) -> tuple[Ints, Ints, Ints]:
    """Per slot: the tick at which its shift ends, and at which the next one begins; its day."""
    closes, morning = (np.full(shop.horizon + 1, -1) for _ in range(2))
    following = -1
    for begin, end in reversed(shop.shifts):
        morning[max(begin, 0) : max(end, 0)] = following
        late = closes[max(begin, 0) : max(end + over // TICKS + 1, 0)]
        late[late < 0] = end * TICKS
        following = begin * TICKS
    days = np.searchsorted(shop.day_starts, np.arange(shop.horizon + 1), side="right") - 1
    return closes, morning, np.maximum(days, 0)
