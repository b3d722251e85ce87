"""What a plan is made from, and the plan.

Time is whole slots (half an hour, unless the caller says otherwise) from the plan's start; what
happened before it has negative slots. Windows are half open: (begin, end).
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

Air = Literal["", "dust", "coat"]


class Window(NamedTuple):
    begin: int
    end: int


class Key(NamedTuple):
    """A step of a piece, by the piece's code and its place in the chain."""

    piece: str
    step: int


@dataclass(frozen=True)
class Person:
    name: str
    skills: frozenset[str]
    absences: tuple[Window, ...] = ()


@dataclass(frozen=True)
class Place:
    """A table, the racks, a wet bay, a booth, the mixer, a truck.

    `room` is what it holds at one time, in the unit in which holds are counted: places of a rack,
    square feet of a table, or just 1. `kind` is the shop's word for what it is (table, rack, booth,
    wet bay, truck, mixer), by which a plan says what holds a job.
    """

    name: str
    room: int = 1
    kind: str = ""


@dataclass(frozen=True)
class Shop:
    """`day_starts` are the slots at which the shop's days begin, the first at or before 0: a lag by
    day is looked up by them, and a night with a daylight-saving change has its own length.
    `stays_closed` are the numbers of days on which nobody is asked in: holidays, vacations."""

    horizon: int
    day_starts: tuple[int, ...]
    shifts: tuple[Window, ...]
    people: tuple[Person, ...]
    places: tuple[Place, ...]
    settle: int = 0  # slots after dusty work before a coat may begin
    stays_closed: frozenset[int] = frozenset()

    def day_of(self, slot: int) -> int:
        return max(0, bisect_right(self.day_starts, slot) - 1)


@dataclass(frozen=True)
class Lag:
    """Slots from the end of a step to the start of the next.

    With `by_day` the least is looked up by the day on which the step before starts (cure by the day
    of casting, drying by the day of the last wetting); days beyond the table take its last figure.
    `why` is what is waited for in a word: cure, drying, recoat, strength or another.
    """

    least: int = 0
    by_day: tuple[int, ...] = ()
    greatest: int | None = None
    why: str = ""

    def after(self, day: int) -> int:
        if not self.by_day:
            return self.least
        return self.by_day[min(day, len(self.by_day) - 1)]


@dataclass(frozen=True)
class After:
    """A further wait since the end of an earlier step of the same piece, by its place in the chain:
    strength since the casting for a later grind, drying since the last wetting."""

    step: int
    lag: Lag


@dataclass(frozen=True)
class Step:
    """One piece of work. With a crew it lies within one shift; without one it may run at night.

    Steps with the same `together` are one event (a run of the mixer, a delivery): same start, one
    crew, each place of `uses` taken once. `began` is a fact from a mark; `pin` was set by somebody.
    """

    name: str
    slots: int
    crew: int = 0
    skill: str = ""
    uses: tuple[str, ...] = ()  # places each taken by one while the step lasts
    air: Air = ""
    lag: Lag = field(default_factory=Lag)  # to the next step of the piece
    together: str = ""
    windows: tuple[Window, ...] = ()  # none: any shift
    pin: int | None = None
    began: int | None = None
    by: tuple[str, ...] = ()  # who is at it, for a step under way
    after: tuple[After, ...] = ()  # beside the lag of the step before


@dataclass(frozen=True)
class Hold:
    """A place that a piece keeps over several steps: a table from form to demold, a rack after it.

    From the start of step `first` (its end, with `from_end`) to the end of step `last`. `at` names
    the place, for a piece that stands there already or whose place is pinned.
    """

    places: tuple[str, ...]  # those that fit
    first: int
    last: int
    amount: int = 1
    from_end: bool = False
    at: str = ""


@dataclass(frozen=True)
class Piece:
    """`counts` is the step whose end is held against the job's due slot; None: the last. What
    comes after it (an install) is held against the job's visit, if a day was agreed for that."""

    code: str
    job: str
    steps: tuple[Step, ...]
    holds: tuple[Hold, ...] = ()
    counts: int | None = None

    @property
    def counted(self) -> Key:
        return Key(self.code, len(self.steps) - 1 if self.counts is None else self.counts)

    @property
    def visit(self) -> Key | None:
        """Its last step, where another is counted."""
        last = len(self.steps) - 1
        return None if self.counts is None or self.counts >= last else Key(self.code, last)


@dataclass(frozen=True)
class Job:
    """`due` is the slot by which all its pieces are to be through; `told` the last one said to the
    customer, kept apart because moving it costs `Problem.move_cost` whatever the delay. `visit` is
    the slot by which what follows the steps that count is to be through: a day that was agreed with
    the site costs `visit_weight` for each slot of delay, whenever the pieces themselves leave."""

    name: str
    due: int
    weight: int = 1
    told: int | None = None
    visit: int | None = None
    visit_weight: int = 1


@dataclass(frozen=True)
class Problem:
    shop: Shop
    jobs: tuple[Job, ...]
    pieces: tuple[Piece, ...]
    move_cost: int = 0


@dataclass(frozen=True)
class Fault:
    """Why a piece or a job is not in the plan, in the shop's words: what is wrong, what to do."""

    about: str  # a piece's code or a job's name
    key: str
    words: str


@dataclass(frozen=True)
class Plan:
    starts: dict[Key, int]
    people: dict[Key, tuple[str, ...]]
    held: dict[tuple[str, int], str]  # by piece and number of the hold
    finish: dict[str, int]  # by job; a job with a piece left out is not in it
    faults: tuple[Fault, ...] = ()


def visit_ends(problem: Problem, plan: Plan) -> dict[str, int]:
    """By job with all of it in the plan: when what follows the steps that count is through."""
    ends: dict[str, int] = {}
    for piece in problem.pieces:
        key = piece.visit
        if key is not None and piece.job in plan.finish and key in plan.starts:
            end = plan.starts[key] + piece.steps[key.step].slots
            ends[piece.job] = max(end, ends.get(piece.job, end))
    return ends


def visits_missed(problem: Problem, plan: Plan) -> dict[str, int]:
    """By job: the slots by which a day agreed with its site is missed, where it is."""
    ends = visit_ends(problem, plan)
    return {
        job.name: ends[job.name] - job.visit
        for job in problem.jobs
        if job.visit is not None and ends.get(job.name, job.visit) > job.visit
    }


def visits_late(problem: Problem, plan: Plan) -> int:
    """Weighted slots by which days agreed with a site are missed."""
    missed = visits_missed(problem, plan)
    return sum(job.visit_weight * missed.get(job.name, 0) for job in problem.jobs)


def cost_of(problem: Problem, plan: Plan) -> int:
    """Weighted slots late, and the price of each told date that moves."""
    total = visits_late(problem, plan)
    for job in problem.jobs:
        if job.name not in plan.finish:
            continue
        end = plan.finish[job.name]
        total += job.weight * max(0, end - job.due)
        if job.told is not None and end > job.told:
            total += problem.move_cost
    return total


def told_moved(problem: Problem, finish: dict[str, int]) -> tuple[str, ...]:
    return tuple(
        job.name
        for job in problem.jobs
        if job.told is not None and job.name in finish and finish[job.name] > job.told
    )
