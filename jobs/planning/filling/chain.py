"""A piece's chain before it has slots: form, route, what each step waits for, what is done."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from curing.route import Step as EngineStep
from curing.sealing import Sealer
from curing.waits import uncovers
from jobs.models import FormSetUp, Mark, Piece
from jobs.planning.filling.laws import (
    Age,
    Law,
    age_law,
    drying_law,
    film_law,
    hours_law,
    moisture_law,
    weighing_law,
)
from jobs.services.facts import Facts
from jobs.services.plan_facts import Order, PlanFacts
from jobs.services.route_steps import PieceStep, engine_sealer, piece_steps
from jobs.services.standing import Standing, standing_of
from jobs.services.trust import alike_of
from shop.localtime import to_hours
from shop.models import Stations, StepKind
from shop.models.crew import FORM
from shop.services.materials import curve_of

FORM_NAME = "set up the form"
WORDS = {StepKind.DEMOLD.value: "cure"}  # what the concrete is waited for, by kind of step


@dataclass(frozen=True)
class Waiting:
    """That a task waits for an earlier one, by its place in the chain.

    law : counts from the earlier task's end, or from casting; greatest : hours after it, None for
        no end
    """

    source: int
    law: Law
    why: str
    greatest: float | None = None


@dataclass
class Task:
    """One thing to be done to a piece: its form, or a step of its route.

    hours : of work; own : slots of the piece's own part of a cast, filled in with its run
    done : when it was, on the engine's axis [h]
    """

    key: str
    name: str
    kind: str
    hours: float
    crew: int
    wets: bool = False
    coat: int = 0
    done: float | None = None
    waits: list[Waiting] = field(default_factory=list)
    abrade: bool = False
    # Filled in once it is known with what it is done together.
    lengths: tuple[int, ...] = ()
    own: int = 0
    together: str = ""
    pin: int | None = None
    site: int | None = None

    @property
    def open(self) -> bool:
        return self.done is None


@dataclass
class Line:
    """One piece in the plan."""

    order: Order
    piece: Piece
    tasks: list[Task]
    sealer: Sealer
    standing: Standing
    form: FormSetUp | None
    stands: str = ""  # the table it is known, or taken, to stand on
    tables: tuple[str, ...] = ()
    area: int = 0

    @property
    def code(self) -> str:
        return self.piece.code

    def place(self, kind: str) -> int | None:
        return next((n for n, task in enumerate(self.tasks) if task.kind == kind), None)

    def task(self, kind: str) -> Task | None:
        place = self.place(kind)
        return None if place is None else self.tasks[place]

    @property
    def cast(self) -> Task:
        """The first step of a route is the casting, whatever its kind."""
        return self.tasks[1] if self.tasks[0].kind == FORM else self.tasks[0]

    @property
    def leaving(self) -> int:
        """Of the step by whose time the piece counts as ready."""
        place = self.place(StepKind.DELIVER)
        return len(self.tasks) - 1 if place is None else place


def line_of(known: PlanFacts, order: Order, piece: Piece) -> Line | None:
    """None for a piece that is through, or has no route."""
    facts = known.facts
    gate = facts.remembered(("gate", alike_of(piece)), lambda: facts.gate_of(piece))
    steps = piece_steps(piece, facts.shop, gate)
    standing = standing_of(piece.marks.all())
    done = {key: to_hours(at) for key, at in standing.finished_at().items()}
    if not steps or all(step.engine.key in done for step in steps):
        return None
    form = form_of(known, piece, standing)
    tasks = [task_of(step, done.get(step.engine.key)) for step in steps]
    settle_skipped(tasks)
    sealer = engine_sealer(piece.sealer)
    add_waits(facts, piece, steps, tasks, sealer)
    if tasks[0].open or (form is not None and not is_demolded(tasks)):
        tasks = with_form(tasks, form_task(known.stations, piece, form), known.stations)
    return Line(order, piece, tasks, sealer, standing, form)


def form_of(known: PlanFacts, piece: Piece, standing: Standing) -> FormSetUp | None:
    """Its form, unless that was of a casting that was lost since."""
    form = known.forms.get(piece.pk)
    if form is None or not standing.castings_lost:
        return form
    lost = max(mark.happened_at for mark in piece.marks.all() if mark.kind == Mark.Kind.RECAST)
    return form if form.set_up_at >= lost else None


def is_demolded(tasks: Sequence[Task]) -> bool:
    return any(task.kind == StepKind.DEMOLD and not task.open for task in tasks)


def task_of(step: PieceStep, done: float | None) -> Task:
    engine = step.engine
    return Task(
        key=engine.key,
        name=engine.name,
        kind=str(step.kind),
        hours=engine.labour_hours,
        crew=max(1, step.people),
        wets=engine.wets,
        coat=engine.coat,
        done=done,
    )


def settle_skipped(tasks: Sequence[Task]) -> None:
    """A step that was passed over counts as done with the one that was marked after it."""
    later: float | None = None
    for task in reversed(tasks):
        if task.done is None:
            task.done = later
        else:
            later = task.done


def form_task(stations: Stations, piece: Piece, form: FormSetUp | None) -> Task:
    return Task(
        key=FORM,
        name=FORM_NAME,
        kind=FORM,
        hours=stations.form_hours + stations.form_hours_m2 * piece.area_m2,
        crew=stations.form_people,
        done=to_hours(form.set_up_at) if form else None,
    )


def with_form(tasks: Sequence[Task], form: Task, stations: Stations) -> list[Task]:
    """The chain with its form in front; what waits for earlier steps counts one further on."""
    for task in tasks:
        task.waits = [replace(wait, source=wait.source + 1) for wait in task.waits]
    if tasks[0].open:
        tasks[0].waits.append(Waiting(0, hours_law(stations.form_wait_hours), "caulk"))
    return [form, *tasks]


@dataclass(frozen=True)
class Passed:
    """As `curing.waits.Progress`, by places in the chain."""

    before: int = 0
    wetted: int = 0
    last_coat: int | None = None


def add_waits(
    facts: Facts,
    piece: Piece,
    steps: Sequence[PieceStep],
    tasks: Sequence[Task],
    sealer: Sealer,
) -> None:
    """As `curing.waits.waits_of` has them, each by the step that it counts from."""
    passed = Passed()
    for number, step in enumerate(steps):
        if number and tasks[number].open:
            tasks[number].waits += waits_of(facts, piece, step.engine, passed, sealer)
        passed = gone(passed, number, step.engine, tasks) if number else passed


def gone(passed: Passed, number: int, step: EngineStep, tasks: Sequence[Task]) -> Passed:
    """As `curing.waits.progress_after`: times of steps to come follow their order."""
    wetted, last = passed.wetted, passed.last_coat
    if uncovers(step) or (step.coat and last is not None and is_after(wetted, last, tasks)):
        wetted = number
    return Passed(number, wetted, number if step.coat else last)


def is_after(one: int, other: int, tasks: Sequence[Task]) -> bool:
    first, second = tasks[one].done, tasks[other].done
    if first is None or second is None:
        return one >= other
    return first >= second


def waits_of(
    facts: Facts, piece: Piece, step: EngineStep, passed: Passed, sealer: Sealer
) -> list[Waiting]:
    room, climate = piece.room_id, facts.climate_of(piece.room_id)
    concrete = WORDS.get(step.kind, "strength")
    waits = []
    if step.since_previous_hours:
        waits.append(Waiting(passed.before, hours_law(step.since_previous_hours), "wait"))
    age, asked = age_asked(facts, piece, step)
    if age > 0:
        waits.append(Waiting(0, age_law(room, climate, age, asked), concrete))
    floor = max(step.since_cast_hours, sealer.least_age if step.coat else 0.0)
    if floor:
        waits.append(Waiting(0, hours_law(floor), concrete))
    for law in drying_laws(facts, piece, step):
        waits.append(Waiting(passed.wetted, law, "drying"))
    if passed.last_coat is not None and step.coat:
        recoat = hours_law(sealer.recoat_least)
        waits.append(Waiting(passed.last_coat, recoat, "recoat", sealer.recoat_greatest))
    if passed.last_coat is not None and step.film:
        film = film_law(room, climate, sealer.handle)
        waits.append(Waiting(passed.last_coat, film, "sealer cure"))
    return waits


def drying_laws(facts: Facts, piece: Piece, step: EngineStep) -> list[Law]:
    room, climate = piece.room_id, facts.climate_of(piece.room_id)
    laws = []
    if step.drying_hours:
        laws.append(drying_law(room, climate, step.drying_hours))
    if step.dries is not None:
        laws.append(moisture_law(room, climate, step.dries, piece.mix_id))
    if step.weighed is not None:
        laws.append(weighing_law(step.weighed, to_hours(facts.now), piece.mix_id))
    return laws


def age_asked(facts: Facts, piece: Piece, step: EngineStep) -> tuple[float, Age]:
    """The equivalent age from which age and strength are both met [h], inf: never; and what is
    asked."""
    curve = facts.remembered(("curve", piece.mix_id), lambda: curve_of(piece.mix))
    strengths = tuple(mpa for mpa in (step.strength_mpa, step.handling_mpa) if mpa)
    hours = max(step.equivalent_hours or 0.0, step.trusted_hours or 0.0)
    ages = [float(curve.age_at(mpa)) if math.isfinite(mpa) else math.inf for mpa in strengths]
    asked = Age(hours, strengths, piece.mix.activation_energy, piece.mix_id)
    return max([hours, *ages]), asked
