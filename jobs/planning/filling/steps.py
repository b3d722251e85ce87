"""A piece's chain as the problem has it: steps of so many slots, their waits and places."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from curing.climate import Climate
from jobs.models import Piece as PieceRow
from jobs.planning.filling.chain import Line, Task, Waiting
from jobs.planning.filling.laws import NEVER, Law, Waits
from jobs.planning.filling.slots import EPS, HOURS, Slots, length_of
from jobs.planning.filling.stands import BAY, BOOTH, MIXER, RACK, TRUCK, needs_table, station
from jobs.planning.problem import After, Air, Fault, Hold, Lag, Piece, Step, Window
from jobs.services.plan_facts import PlanFacts
from shop.models import StepKind
from shop.models.crew import FORM

# A form that is set up blocks its table: it is not set up longer before its cast than this, beside
# what the shop is closed for. Common practice, no source.
FORM_KEEPS = 4 * 48
DUSTY = {StepKind.GRIND.value, StepKind.HONE.value}
UNWETTED = {StepKind.DEMOLD.value, StepKind.COAT.value}
FAR = 400 * 48  # slots beyond the horizon: for ever, as far as a plan goes


@dataclass(frozen=True)
class Ref:
    """A step of the problem: which task of the piece, and which part of it."""

    task: Task
    part: int
    parts: int


class Made(NamedTuple):
    """A piece's steps as far as they are made; of each task the first and the last of them."""

    steps: list[Step]
    first: dict[int, int]
    last: dict[int, int]
    refs: list[Ref]


@dataclass(frozen=True, eq=False)
class Asked:
    """What a wait in the problem is made of: of a piece, counted so many slots before the end of a
    step of `length`, or from when that was done [h]."""

    piece: PieceRow
    laws: tuple[Law, ...]
    length: int
    counted: int
    done: float | None


class Maker:
    """Turns lines into the problem's pieces. Windows and waits are made once for all that ask."""

    def __init__(self, known: PlanFacts, slots: Slots, closing: int) -> None:
        self.known, self.slots = known, slots
        self.waits = Waits(slots)
        self.tables = {table.name for table in known.tables}
        self.keeps = FORM_KEEPS + closing
        self.airs: dict[object, tuple[Window, ...]] = {}
        self.asked: dict[tuple[str, int, int], Asked] = {}

    def piece(self, line: Line) -> tuple[Piece, list[Ref]] | Fault:
        refs = [
            Ref(task, part, max(1, len(task.lengths)))
            for task in line.tasks
            for part in range(max(1, len(task.lengths)))
        ]
        first: dict[int, int] = {}
        last: dict[int, int] = {}
        place = {id(task): number for number, task in enumerate(line.tasks)}
        for number, ref in enumerate(refs):
            of = place[id(ref.task)]
            first.setdefault(of, number)
            last[of] = number
        steps = [self.step(line, ref) for ref in refs]
        for number, task in enumerate(line.tasks):
            if fault := self.wait(line, number, Made(steps, first, last, refs)):
                return fault
            if task.kind == FORM and task.open:
                steps[last[number]] = replace(
                    steps[last[number]],
                    lag=replace(steps[last[number]].lag, greatest=self.keeps),
                )
        leaving = line.leaving
        counts = first[leaving] if line.place(StepKind.DELIVER) is not None else None
        return (
            Piece(
                code=line.code,
                job=line.order.name,
                steps=tuple(steps),
                holds=tuple(self.holds(line, first, last)),
                counts=counts,
            ),
            refs,
        )

    def step(self, line: Line, ref: Ref) -> Step:
        task = ref.task
        name = f"{task.name} ({ref.part + 1} of {ref.parts})" if ref.parts > 1 else task.name
        if task.done is not None:
            return Step(name, 0, began=min(0, self.slots.down(task.done)))
        together = task.together
        if together and ref.parts > 1:
            together = f"{together} ({ref.part + 1})"
        return Step(
            name=name,
            slots=task.lengths[ref.part],
            crew=task.crew,
            skill=task.kind,
            uses=self.uses(line, task),
            air=self.air(line, task),
            together=together,
            windows=self.windows(line, ref),
            pin=task.pin if ref.part == 0 else None,
        )

    def uses(self, line: Line, task: Task) -> tuple[str, ...]:
        if task is line.cast:
            return (station(MIXER, self.tables),)
        if task.kind == StepKind.COAT:
            return (station(BOOTH, self.tables),)
        if task.kind == StepKind.DELIVER:
            return (station(TRUCK, self.tables),)
        if task.wets and task.kind not in UNWETTED:
            return (station(BAY, self.tables),)
        return ()

    def air(self, line: Line, task: Task) -> Air:
        if not self.known.stations.shared_air:
            return ""
        if task.kind == StepKind.COAT:
            return "coat"
        dusty = task is line.cast or (task.kind in DUSTY and not task.wets)
        return "dust" if dusty else ""

    def windows(self, line: Line, ref: Ref) -> tuple[Window, ...]:
        if ref.task.kind == StepKind.COAT:
            return self.coating(line)
        if ref.task.site is not None and ref.part == 0:
            return (Window(ref.task.site, self.slots.horizon + FAR),)
        return ()

    def coating(self, line: Line) -> tuple[Window, ...]:
        """Air that fits the sealer, where coats go on; none to say where it always fits."""
        facts = self.known.facts
        limits = line.sealer.limits
        key = (facts.booth_id or line.piece.room_id, limits)
        if key not in self.airs:
            climate = facts.coating_climate or facts.climate_of(line.piece.room_id)
            self.airs[key] = self.fitting(climate, climate.coatable_windows(limits).tolist())
        return self.airs[key]

    def fitting(self, climate: Climate, stretches: Sequence[Sequence[float]]) -> tuple[Window, ...]:
        slots = self.slots
        found = []
        for begin, end in stretches:
            first, last = max(0, slots.up(begin)), slots.down(end)
            if end >= float(climate.hours[-1]) - 0.1:
                last = slots.horizon + FAR
            if first < last:
                found.append(Window(first, last))
        if found and found[0].begin == 0 and found[0].end >= slots.horizon + FAR:
            return ()
        # Nothing fits: a window that is over before anything can be, so that it is said.
        return tuple(found) or (Window(0, 0),)

    # Waits.

    def wait(self, line: Line, number: int, made: Made) -> Fault | None:
        """Adds what a task waits for to the problem's steps."""
        steps, first, last, refs = made
        task, target = line.tasks[number], first[number]
        if not task.open:
            return None
        by_source: dict[int, list[Lag]] = {}
        laws: dict[int, list[Law]] = {}
        for waiting in task.waits:
            source = last[waiting.source]
            lag = self.lag(line, waiting, steps[source], task)
            if lag is None:
                continue
            if min(lag.by_day or (lag.least,)) >= NEVER:
                return self.never(line, task, waiting)
            by_source.setdefault(source, []).append(lag)
            laws.setdefault(source, []).append(waiting.law)
        afters = []
        for source, lags in by_source.items():
            lag = self.together(lags)
            if source == target - 1:
                steps[source] = replace(steps[source], lag=lag)
            else:
                afters.append(After(source, lag))
        kept = tuple(each for each in afters if self.bites(each, target, steps))
        if kept:
            steps[target] = replace(steps[target], after=kept)
        stands = {target - 1, *(each.step for each in kept)}
        for source, asked in laws.items():
            if source in stands and any(law.drawn is not None for law in asked):
                counted = line.cast.own if refs[source].task is line.cast else 0
                self.asked[line.code, target, source] = Asked(
                    line.piece,
                    tuple(asked),
                    steps[source].slots,
                    counted,
                    refs[source].task.done,
                )
        return None

    def lag(self, line: Line, waiting: Waiting, before: Step, task: Task) -> Lag | None:
        source = line.tasks[waiting.source]
        if source.done is not None:
            began = before.began or 0
            least = self.waits.until(waiting.law, source.done) - began
            closes = None
            if waiting.greatest is not None and not task.abrade:
                closes = self.slots.down(source.done + waiting.greatest) - began
            if least + began <= 0 and closes is None:
                return None
            return Lag(max(0, min(least, NEVER)), greatest=closes, why=waiting.why)
        length = before.slots
        counted = source.own if source is line.cast else 0
        by_day = self.waits.by_day(waiting.law, length, counted)
        greatest = None
        if waiting.greatest is not None and not task.abrade:
            greatest = window_of(waiting.greatest, source, length)
        if min(by_day) == max(by_day):
            return Lag(by_day[0], greatest=greatest, why=waiting.why)
        return Lag(by_day=by_day, greatest=greatest, why=waiting.why)

    def together(self, lags: Sequence[Lag]) -> Lag:
        """All of them: the longest of each day. What is mostly the longest says what it is for."""
        if len(lags) == 1:
            return lags[0]
        days = len(self.slots.day_starts)
        table = np.array([each.by_day or (each.least,) * days for each in lags])
        by_day = tuple(table.max(axis=0).tolist())
        why = lags[int(table.sum(axis=1).argmax())].why
        greatest = min((each.greatest for each in lags if each.greatest is not None), default=None)
        if min(by_day) == max(by_day):
            return Lag(by_day[0], greatest=greatest, why=why)
        return Lag(by_day=by_day, greatest=greatest, why=why)

    @staticmethod
    def bites(after: After, target: int, steps: Sequence[Step]) -> bool:
        """Whether the steps in between do not take as long anyway."""
        if after.lag.greatest is not None:
            return True
        between = sum(step.slots for step in steps[after.step + 1 : target])
        between += sum(
            min(step.lag.by_day or (step.lag.least,)) for step in steps[after.step : target]
        )
        return max(after.lag.by_day or (after.lag.least,)) > between

    def never(self, line: Line, task: Task, waiting: Waiting) -> Fault:
        return Fault(
            line.code,
            "never",
            f"{line.code}: {task.name} waits for {waiting.why}, which does not come within what "
            "is looked ahead. Look at its route, its section and its room's air.",
        )

    # Places.

    def holds(self, line: Line, first: dict[int, int], last: dict[int, int]) -> list[Hold]:
        found = []
        demold, cast = line.place(StepKind.DEMOLD), line.tasks.index(line.cast)
        if self.known.tables and needs_table(line):
            over = last[cast if demold is None else demold]
            at = line.stands if line.stands else ""
            found.append(Hold(line.tables, 0, over, line.area, at=at))
        start = cast if demold is None else demold
        leaving = line.place(StepKind.DELIVER)
        end = len(line.tasks) - 1 if leaving is None else leaving
        if line.tasks[end].open and start < end:
            rack = station(RACK, self.tables)
            held = "" if line.tasks[start].open else rack
            found.append(Hold((rack,), last[start], last[end], from_end=True, at=held))
        return found


def must_abrade(line: Line, slots: Slots, windows: Sequence[Window]) -> list[Task]:
    """Coats that no start brings into the recoat window of the one before."""
    found = []
    allowed = windows or (Window(0, slots.horizon),)
    for task in line.tasks:
        if not task.open or not task.coat:
            continue
        for wait in task.waits:
            if wait.greatest is None:
                continue
            before = line.tasks[wait.source]
            if not reachable((before, task), wait, allowed, slots):
                found.append(task)
    return found


def reachable(
    coats: tuple[Task, Task], wait: Waiting, allowed: Sequence[Window], slots: Slots
) -> bool:
    before, coat = coats
    least = slots.up(float(wait.law.until(np.array([slots.origin]))[0]))
    window = wait.greatest or 0.0
    starts = within(length_of(coat.hours), allowed, slots)
    if before.done is not None:
        begin, end = slots.up(before.done) + least, slots.down(before.done + window)
        return bool(((starts >= begin) & (starts <= end)).any())
    length = length_of(before.hours)
    ends = within(length, allowed, slots) + length
    place = np.searchsorted(starts, ends + least)
    met = place < len(starts)
    return bool((starts[place[met]] <= ends[met] + window_of(window, before, length)).any())


def window_of(hours: float, before: Task, length: int) -> int:
    """A greatest wait in slots. The work before is over sooner than its last slot is: the wait
    counts from there."""
    return int((hours - (length * HOURS - before.hours)) / HOURS + EPS)


def within(length: int, allowed: Sequence[Window], slots: Slots) -> NDArray[np.int64]:
    found = slots.starts(length)
    starts = found.slots[found.on_shift]
    kept = [starts[(starts >= b) & (starts + length <= e)] for b, e in allowed]
    return np.concatenate(kept) if kept else starts[:0]
