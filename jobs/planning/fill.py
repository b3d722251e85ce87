"""The plan's problem from what is stored, and back: which step is which, what a slot is.

The waits are the engine's. Of each day the longest of all its starts is taken, so that every start
of a plan is one that the concrete allows.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from jobs.models import PlannedStep
from jobs.planning.filling.chain import Line, line_of
from jobs.planning.filling.draws import factors
from jobs.planning.filling.runs import fits_before, gather, longest_closing
from jobs.planning.filling.slots import EPS, HOURS, Slots, length_of
from jobs.planning.filling.stands import places, stand
from jobs.planning.filling.steps import Asked, Maker, Ref, must_abrade
from jobs.planning.problem import (
    Fault,
    Job,
    Key,
    Person,
    Piece,
    Plan,
    Problem,
    Shop,
    Window,
)
from jobs.planning.simulate import Doubt, Wait
from jobs.services.facts import AHEAD
from jobs.services.plan_facts import (
    Draft,
    DraftPiece,
    Order,
    PlanFacts,
    drafted,
    is_stored,
    plan_facts,
)
from shop.localtime import to_hours
from shop.models import StepKind
from shop.models.crew import FORM
from shop.services.crew import Hand

__all__ = [
    "Draft",
    "DraftPiece",
    "Filled",
    "PlanFacts",
    "StepRef",
    "doubt",
    "fill",
    "known_plan",
    "plan_facts",
]

# A told date is worth two days of lateness of a job of middling weight: the shop's own choice.
MOVE_DAYS = 2
SLOTS_A_DAY = 48
MOST_HANDS = 62  # as the core keeps them, by bits
# How far is planned: half as long again as the work alone takes, and a chain's own length.
ROOM, CHAIN_DAYS = 1.5, 28


@dataclass(frozen=True)
class StepRef:
    """Which step of which piece. `part` counts from 1 where work is longer than a shift."""

    piece_id: int | None  # None: of a draft
    code: str
    step_key: str
    name: str
    kind: str
    part: int = 1
    parts: int = 1


@dataclass(frozen=True)
class Filled:
    """`undated` jobs have a piece that is left out: what is planned of them is not all."""

    problem: Problem
    slots: Slots
    steps: dict[Key, StepRef]
    jobs: dict[str, int | None]
    faults: tuple[Fault, ...]
    notes: tuple[str, ...]
    undated: frozenset[str] = frozenset()
    asked: dict[tuple[str, int, int], Asked] = field(default_factory=dict, repr=False)

    @property
    def starts_at(self) -> dt.datetime:
        return self.slots.start

    def slot(self, at: dt.datetime) -> int:
        """The first slot that begins at or after a moment."""
        return self.slots.slot(at)

    def moment(self, slot: int) -> dt.datetime:
        return self.slots.moment(slot)

    def whole(self, plan: Plan) -> Plan:
        """With what was left out before the core saw it: its faults, and no date for its job."""
        finish = {name: end for name, end in plan.finish.items() if name not in self.undated}
        return replace(plan, finish=finish, faults=(*self.faults, *plan.faults))

    def apart(self, name: str) -> tuple[Problem, Job, tuple[Piece, ...]]:
        """The problem without a job, the job and its pieces."""
        job = next(job for job in self.problem.jobs if job.name == name)
        mine = tuple(piece for piece in self.problem.pieces if piece.job == name)
        rest = replace(
            self.problem,
            jobs=tuple(other for other in self.problem.jobs if other is not job),
            pieces=tuple(piece for piece in self.problem.pieces if piece.job != name),
        )
        return rest, job, mine


def fill(known: PlanFacts, drafts: Sequence[Draft] = (), days: int | None = None) -> Filled:
    """days : how far ahead is planned, for what is laid beside a problem that is filled already"""
    facts = known.facts
    orders = [*known.orders(), *drafted(drafts, facts)]
    lines, faults = lines_of(known, orders)
    ahead = days_ahead(known, lines) if days is None else days
    slots = Slots.of(facts.now, facts.shop.zone, facts.shifts, ahead)
    maker = Maker(known, slots, longest_closing(slots))
    for line in lines:
        coat_anew(line, maker)
    more, notes = gather(known, lines, slots)
    faults += more
    notes += take_as_set_up(known, lines, slots)
    more, said = stand(lines, known.tables)
    faults += more
    notes += said
    out = {fault.about for fault in faults}
    pieces: list[Piece] = []
    steps: dict[Key, StepRef] = {}
    for line in lines:
        if line.code in out:
            continue
        made = maker.piece(line)
        if isinstance(made, Fault):
            faults.append(made)
            continue
        piece, refs = made
        pieces.append(piece)
        steps |= {Key(line.code, n): ref_of(line, ref) for n, ref in enumerate(refs)}
    out = {fault.about for fault in faults}
    undated = frozenset(line.order.name for line in lines if line.code in out) | {
        order.name for order in orders if any(piece.code in out for piece in order.pieces)
    }
    planned = {piece.job for piece in pieces}
    jobs = [order for order in orders if order.name in planned]
    return Filled(
        problem=Problem(
            shop=shop_of(known, slots),
            jobs=tuple(job_of(order, pieces, slots, undated) for order in jobs),
            pieces=tuple(pieces),
            move_cost=move_cost(jobs),
        ),
        slots=slots,
        steps=steps,
        jobs={order.name: order.id for order in jobs},
        faults=tuple(faults),
        notes=tuple(notes),
        undated=undated,
        asked=maker.asked,
    )


def doubt(known: PlanFacts, made: Filled) -> Doubt:
    """What is not known of the plan's times: waits by the engine's own draws, hours of work by the
    shop's own spread."""
    drawn = factors(known.facts, made.slots, made.asked)
    return Doubt(
        work=known.stations.labour_spread,
        wait=0.0,
        shared_wait=0.0,
        factors={Wait(*key): each for key, each in drawn.items()},
    )


def lines_of(known: PlanFacts, orders: Sequence[Order]) -> tuple[list[Line], list[Fault]]:
    lines, faults = [], []
    for order in orders:
        for piece in order.pieces:
            line = line_of(known, order, piece)
            if line is None:
                continue
            if line.standing.hold is None:
                lines.append(line)
                continue
            why = line.standing.hold.reason.rstrip(".")
            faults.append(
                Fault(
                    line.code,
                    "hold",
                    f"{line.code} is on hold{f' ({why})' if why else ''}: it is left out, and its "
                    "job has no planned date until it is released.",
                )
            )
    return lines, faults


def days_ahead(known: PlanFacts, lines: Sequence[Line]) -> int:
    """Days to plan: for the work there is, and to the last date that anybody has set."""
    facts = known.facts
    hours = math.fsum(task.hours * task.crew for line in lines for task in line.tasks if task.open)
    windows = facts.shifts.windows
    now = to_hours(facts.now)
    ahead = windows[windows[:, 1] > now] if len(windows) else windows
    open_hours = float((ahead[:, 1] - ahead[:, 0]).sum()) / AHEAD.days if len(ahead) else 0.0
    work = hours / (open_hours * max(1, len(known.hands))) if open_hours else AHEAD.days
    last = max((to_hours(at) for line in lines for at in set_dates(line)), default=now)
    wanted = max(ROOM * work + CHAIN_DAYS, (last - now) / 24 + CHAIN_DAYS / 2)
    return min(AHEAD.days, math.ceil(wanted))


def set_dates(line: Line) -> list[dt.datetime]:
    order, batch = line.order, line.piece.batch
    dates = [order.promised_at, order.told_at]
    if order.install is not None:
        dates.append(order.install.starts_at)
    if batch is not None and batch.pinned:
        dates.append(batch.planned_for)
    return [at for at in dates if at is not None]


def coat_anew(line: Line, maker: Maker) -> None:
    """Coats that miss the window of the one before are abraded for, as the engine has it."""
    if not any(task.open and task.coat > 1 for task in line.tasks):
        return
    for task in must_abrade(line, maker.slots, maker.coating(line)):
        task.abrade = True


def take_as_set_up(known: PlanFacts, lines: Sequence[Line], slots: Slots) -> list[str]:
    """A form that nobody marked, with no time left to set it up before its cast, stands already."""
    notes = []
    for line in lines:
        if fits_before(line, slots, known.stations.form_wait_hours):
            continue
        form = line.tasks[0]
        form.done = slots.origin - known.stations.form_wait_hours
        form.lengths = ()
        notes.append(
            f"{line.code}: its cast is too near for a form to be set up before it; the form is "
            "taken to stand already. Mark it on the floor, or move the cast."
        )
    return notes


def ref_of(line: Line, ref: Ref) -> StepRef:
    return StepRef(
        piece_id=line.piece.pk if is_stored(line.piece) else None,
        code=line.code,
        step_key=ref.task.key,
        name=ref.task.name,
        kind=ref.task.kind,
        part=ref.part + 1,
        parts=ref.parts,
    )


# The shop, and its jobs.


def shop_of(known: PlanFacts, slots: Slots) -> Shop:
    stations = known.stations
    shared = stations.shared_air
    return Shop(
        horizon=slots.horizon,
        day_starts=slots.day_starts,
        shifts=slots.shifts,
        people=tuple(person_of(hand, slots) for hand in known.hands[:MOST_HANDS]),
        places=places(known.tables, stations),
        settle=math.ceil(stations.settle_hours / HOURS - EPS) if shared else 0,
        stays_closed=frozenset(
            number
            for number in range(len(slots.day_starts))
            if slots.date_of(number) in known.closed
        ),
    )


def person_of(hand: Hand, slots: Slots) -> Person:
    absences = [window for first, last in hand.absences if (window := slots.days(first, last))]
    edges = (*slots.day_starts, slots.horizon)
    for number in range(len(slots.day_starts)):
        if slots.date_of(number).weekday() not in hand.weekdays:
            absences.append(Window(max(0, edges[number]), edges[number + 1]))
    return Person(hand.name, hand.works, tuple(sorted(absences)))


def job_of(order: Order, pieces: Sequence[Piece], slots: Slots, undated: frozenset[str]) -> Job:
    """A promise is kept when the last piece leaves by its hour: the delivery may begin then."""
    mine = [piece for piece in pieces if piece.job == order.name]
    visit = visit_of(order, mine, slots)
    ends = [piece.steps[piece.counted.step] for piece in mine]
    if all(step.began is not None for step in ends):
        return Job(order.name, due=slots.horizon, weight=0, visit=visit, visit_weight=order.weight)
    leaving = max(
        (step.slots for step in ends if step.skill == StepKind.DELIVER and step.began is None),
        default=0,
    )
    due = slots.horizon
    weight = order.weight
    if order.promised_at is not None:
        due = slots.down(to_hours(order.promised_at)) + leaving
    else:
        weight = min(1, weight)
    told = None
    if order.told_at is not None and order.name not in undated:
        told = slots.down(to_hours(order.told_at)) + leaving
    return Job(order.name, due, weight, told, visit, order.weight)


def visit_of(order: Order, mine: Sequence[Piece], slots: Slots) -> int | None:
    """By when an install is over that begins when it was agreed to; where nobody is on shift then,
    when somebody is. None if no day was agreed or it has begun."""
    visits = [(piece, key.step) for piece in mine if (key := piece.visit) is not None]
    installs = [
        piece.steps[step]
        for piece, step in visits
        if piece.steps[step].skill == StepKind.INSTALL and piece.steps[step].began is None
    ]
    if order.install is None or not installs:
        return None
    return slots.worked_off(slots.slot(order.install.starts_at), length_of(order.install.hours))


def move_cost(orders: Sequence[Order]) -> int:
    weights = [order.weight for order in orders if order.promised_at is not None]
    middling = sum(weights) / len(weights) if weights else 1.0
    return round(MOVE_DAYS * SLOTS_A_DAY * middling)


# The plan that was accepted.


def known_plan(filled: Filled, known: PlanFacts) -> Plan | None:
    """What was accepted, as a plan of this problem. What was done since stands where it was done;
    what is new since is not in it. None where nothing was accepted."""
    rows = {(piece_id, row.step_key): row for piece_id, own in known.planned.items() for row in own}
    if not rows:
        return None
    starts: dict[Key, int] = {}
    people: dict[Key, tuple[str, ...]] = {}
    held: dict[tuple[str, int], str] = {}
    for piece in filled.problem.pieces:
        for number, step in enumerate(piece.steps):
            key = Key(piece.code, number)
            ref = filled.steps[key]
            if step.began is not None:
                starts[key], people[key] = step.began, step.by
                continue
            row = rows.get((ref.piece_id or 0, ref.step_key))
            if row is not None:
                starts[key] = begins(row, ref, step.slots, filled)
                again = part_of(row, ref)
                people[key] = tuple(again[1] if again else row.people)
        held |= held_by(piece, filled, rows)
    finish = {}
    for job in filled.problem.jobs:
        mine = [piece for piece in filled.problem.pieces if piece.job == job.name]
        if mine and all(piece.counted in starts for piece in mine):
            finish[job.name] = max(
                starts[piece.counted] + piece.steps[piece.counted.step].slots for piece in mine
            )
    return Plan(starts, people, held, finish)


def begins(row: PlannedStep, ref: StepRef, slots: int, filled: Filled) -> int:
    """Of a part of the work; where it has other parts than it was stored with, those between the
    first and the last follow the first."""
    if again := part_of(row, ref):
        return filled.slot(dt.datetime.fromisoformat(again[0]))
    if ref.part == ref.parts and ref.parts > 1:
        return filled.slot(row.ends_at) - slots
    return filled.slot(row.starts_at) + (ref.part - 1) * slots


def part_of(row: PlannedStep, ref: StepRef) -> tuple[str, list[str]] | None:
    """Start and people of a part after the first, if the work had as many parts when stored."""
    if ref.part == 1 or len(row.parts) != ref.parts - 1:
        return None
    start, people = row.parts[ref.part - 2]
    return start, people


def held_by(
    piece: Piece, filled: Filled, rows: dict[tuple[int, str], PlannedStep]
) -> dict[tuple[str, int], str]:
    """The table as the form's or the cast's row has it; what there is one of by itself."""
    found = {}
    for number, hold in enumerate(piece.holds):
        if hold.at:
            found[piece.code, number] = hold.at
        elif len(hold.places) == 1:
            found[piece.code, number] = hold.places[0]
        else:
            ref = filled.steps[Key(piece.code, hold.first)]
            row = rows.get((ref.piece_id or 0, FORM)) or rows.get((ref.piece_id or 0, ref.step_key))
            if row is not None and row.place in hold.places:
                found[piece.code, number] = row.place
    return found
