"""What is done together: casts out of one run, a job's delivery, its install."""

from __future__ import annotations

import datetime as dt
import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from itertools import pairwise

from curing.packing import pack
from jobs.models import Batch
from jobs.planning.filling.chain import Line, Task
from jobs.planning.filling.slots import EPS, HOURS, Slots, length_of, parts_of
from jobs.planning.filling.stands import lie_together
from jobs.planning.problem import Fault
from jobs.services.plan_facts import PlanFacts
from jobs.services.pours import pours_of
from shop.models import RouteStep, StepKind
from shop.models.crew import FORM

# Slots that people stay for a cast somebody set too late in a shift. Common practice, no source.
OVER = 1
# Work that can't be left half done overnight, or over lunch.
WHOLE = {StepKind.DEMOLD.value, StepKind.COAT.value, StepKind.DELIVER.value}


def gather(known: PlanFacts, lines: Sequence[Line], slots: Slots) -> tuple[list[Fault], list[str]]:
    """Gives every open task its length; its people, pin and site's day where others share it."""
    notes: list[str] = []
    for line in lines:
        lengthen(line, slots)
        pin_steps(known, line, slots)
    faults = cast_together(known, lines, slots, notes)
    by_job: dict[str, list[Line]] = defaultdict(list)
    for line in lines:
        by_job[line.order.name].append(line)
    for name, rows in by_job.items():
        deliver_together(name, rows)
        install_together(name, rows, slots, notes)
    return faults, notes


def lengthen(line: Line, slots: Slots) -> None:
    for task in line.tasks:
        if not task.open:
            continue
        hours = task.hours + (line.sealer.abrade_hours if task.abrade else 0.0)
        length = length_of(hours)
        whole = task.kind in WHOLE or task is line.cast
        task.lengths = (length,) if whole else tuple(parts_of(length, slots.longest))
        task.own = length


def pin_steps(known: PlanFacts, line: Line, slots: Slots) -> None:
    pins = {
        row.step_key: slots.slot(row.starts_at)
        for row in known.planned.get(line.piece.pk, ())
        if row.pinned
    }
    for task in line.tasks:
        if task.open and pins.get(task.key, -1) >= 0:
            task.pin = pins[task.key]


# Casts.


def cast_together(
    known: PlanFacts, lines: Sequence[Line], slots: Slots, notes: list[str]
) -> list[Fault]:
    faults = []
    waiting = []
    for line in lines:
        if not line.cast.open:
            continue
        if line.cast.own > slots.longest:
            faults.append(too_long(line, slots))
        else:
            waiting.append(line)
    set_up: dict[int, list[Line]] = defaultdict(list)
    for line in waiting:
        if line.piece.batch is not None:
            set_up[line.piece.batch.pk].append(line)
    for rows in set_up.values():
        as_set(rows, slots, faults, notes)
    for rows in matching(line for line in waiting if line.piece.batch is None):
        for number, run in enumerate(by_mixer(known, rows, slots), 1):
            join([line.cast for line in run], f"run {rows[0].order.name} {number}")
    return faults


def too_long(line: Line, slots: Slots) -> Fault:
    if not slots.longest:
        return Fault(
            line.code,
            "hours",
            f"{line.code}: nobody is on shift in the days that are planned. Enter working hours.",
        )
    return Fault(
        line.code,
        "long",
        f"{line.code}: its cast takes {line.cast.own * HOURS:g} h, longer than every shift "
        f"({slots.longest * HOURS:g} h). Split the piece, or work a longer day.",
    )


def as_set(rows: Sequence[Line], slots: Slots, faults: list[Fault], notes: list[str]) -> None:
    """A cast that somebody set is one, as far as it fits a shift; what does not follows it.

    What runs over the shift's end by no more than OVER is taken to be finished by those who began.
    """
    batch = rows[0].piece.batch
    assert batch is not None  # they were chosen by it
    pins = [line.cast.pin for line in rows if line.cast.pin is not None]
    at = pinned_to(batch, slots)
    pin = min(pins, default=None) if at is None else at
    left, number = list(rows), 0
    while left:
        room = slots.longest if pin is None else rest_of_shift(pin, slots)
        part = fitting(left, room + (OVER if pin is not None else 0))
        if not part and number == 0 and pin is not None:
            faults += [past_closing(line, pin, slots) for line in left]
            return
        part = part or left[:1]
        number += 1
        join([line.cast for line in part], f"batch {batch.pk} {number}")
        left = left[len(part) :]
        length = part[0].cast.lengths[0]
        if pin is not None and length > room:
            length = room
            notes.append(f"{codes(part)}: the cast runs over the end of the shift it is set in.")
        for line in part:
            line.cast.pin, line.cast.lengths = pin, (length,)
            line.cast.own = min(line.cast.own, length)
        if left and pin is not None:
            pin = next_fit(pin + length, left[0].cast.own, slots)
    if number > 1:
        notes.append(f"{codes(rows)}: set as one cast, longer than its shift; planned in parts.")


def codes(rows: Sequence[Line]) -> str:
    return ", ".join(line.code for line in rows)


def pinned_to(batch: Batch, slots: Slots) -> int | None:
    at = slots.slot(batch.planned_for)
    return at if batch.pinned and at >= 0 else None


def rest_of_shift(at: int, slots: Slots) -> int:
    """Slots from there to the end of the shift; none where nobody is there."""
    return next((end - at for begin, end in slots.shifts if begin <= at < end), 0)


def past_closing(line: Line, pin: int, slots: Slots) -> Fault:
    local = slots.moment(pin).astimezone(slots.zone)
    rest = rest_of_shift(pin, slots)
    why = (
        f"It takes {line.cast.own * HOURS:g} h, and {rest * HOURS:g} h of that shift are left"
        if rest
        else "Nobody is on shift then"
    )
    return Fault(
        line.code,
        "pin",
        f"{line.code}: its cast is set for {said(local)}. {why}: set it for another time.",
    )


def fitting(rows: Sequence[Line], room: int) -> list[Line]:
    """Those from the front that fit so many slots together."""
    part: list[Line] = []
    for line in rows:
        hours = math.fsum(each.cast.hours for each in (*part, line))
        if length_of(hours) > room:
            break
        part.append(line)
    return part


def in_shifts(rows: Sequence[Line], longest: int) -> list[list[Line]]:
    parts, left = [], list(rows)
    while left:
        parts.append(fitting(left, longest) or left[:1])
        left = left[len(parts[-1]) :]
    return parts


def next_fit(after: int, length: int, slots: Slots) -> int | None:
    for begin, end in slots.shifts:
        if max(begin, after) + length <= end:
            return max(begin, after)
    return None


def matching(lines: Iterable[Line]) -> list[list[Line]]:
    """Pieces of a job that are to match: of one mix, in one room."""
    sets: dict[tuple[object, ...], list[Line]] = defaultdict(list)
    for line in lines:
        piece = line.piece
        if piece.matches_job and line.cast.pin is None:
            sets[line.order.name, piece.mix_id, piece.room_id].append(line)
    return [rows for rows in sets.values() if len(rows) > 1]


def by_mixer(known: PlanFacts, rows: Sequence[Line], slots: Slots) -> list[list[Line]]:
    """As few runs as the mixer allows, none longer than a shift, that the tables take at once."""
    room = known.facts.shop.mixer_kg
    loads = []
    for line in rows:
        pours = pours_of([line.piece], known.facts.shop)
        loads.append(math.fsum(p.volume_m3 * p.density * (1 + p.waste) for p in pours))
    small = [number for number, load in enumerate(loads) if load <= room]
    found: dict[int, list[Line]] = defaultdict(list)
    for number, run in zip(small, pack([loads[n] for n in small], room), strict=True):
        found[run].append(rows[number])
    runs = []
    for shared in found.values():
        for part in in_shifts(shared, slots.longest):
            if len(part) > 1 and lie_together(part, known.tables):
                runs.append(part)
    return runs


def join(tasks: Sequence[Task], name: str) -> None:
    """One event: all of the work, by as many people as the one that asks for most."""
    if len(tasks) < 2:
        return
    length = length_of(math.fsum(task.hours for task in tasks))
    crew = max(task.crew for task in tasks)
    for task in tasks:
        task.lengths, task.crew, task.together = (length,), crew, name


# Out of the shop.


def deliver_together(name: str, rows: Sequence[Line]) -> None:
    """One trip: its hours are driven once, what goes by area is done for each piece."""
    found = [(line, task) for line in rows if (task := line.task(StepKind.DELIVER)) and task.open]
    if len(found) < 2:
        return
    steps = [route_step(line, task.key) for line, task in found]
    areas = [line.piece.area_m2 for line, _ in found]
    hours = max(step.labour_hours for step in steps) + math.fsum(
        step.labour_hours_m2 * area for step, area in zip(steps, areas, strict=True)
    )
    share(found, hours, (length_of(hours),), f"deliver {name}")


def route_step(line: Line, key: str) -> RouteStep:
    return next(step for step in line.piece.route.steps.all() if step.key == key)


def install_together(name: str, rows: Sequence[Line], slots: Slots, notes: list[str]) -> None:
    """One visit, on the day that was agreed or as soon after the delivery as may be."""
    found = [(line, task) for line in rows if (task := line.task(StepKind.INSTALL)) and task.open]
    if not found:
        return
    install = rows[0].order.install
    hours = math.fsum(task.hours for _, task in found)
    if install is None or install.starts_at < slots.start:
        share(found, hours, tuple(parts_of(length_of(hours), slots.longest)), f"install {name}")
        return
    at = slots.slot(install.starts_at)
    length = length_of(install.hours)
    lengths = parts_from(at, length, slots)
    if not lengths:
        local = install.starts_at.astimezone(slots.zone)
        notes.append(
            f"Job {name}: its install is set for {said(local)}, when nobody is on shift; it is "
            "planned for the next shift."
        )
        lengths = tuple(parts_of(length, slots.longest))
    share(found, install.hours, lengths, f"install {name}")
    for _, task in found:
        task.crew, task.site = install.people, at


def said(local: dt.datetime) -> str:
    return f"{local:%a} {local.day} {local:%b} {local:%H:%M}"


def parts_from(at: int, length: int, slots: Slots) -> tuple[int, ...]:
    """Work begun at a slot as the shifts cut it; nothing where nobody is there then."""
    parts: list[int] = []
    for begin, end in slots.shifts:
        if end <= at:
            continue
        if not parts and begin > at:
            return ()
        taken = min(length, end - max(begin, at))
        parts.append(taken)
        length -= taken
        if not length:
            return tuple(parts)
    return ()


def share(
    found: Sequence[tuple[Line, Task]], hours: float, lengths: tuple[int, ...], name: str
) -> None:
    crew = max(task.crew for _, task in found)
    pins = [task.pin for _, task in found if task.pin is not None]
    for _, task in found:
        task.hours, task.lengths, task.crew = hours, lengths, crew
        task.pin = min(pins, default=None)
        task.together = name if len(found) > 1 else ""


def fits_before(line: Line, slots: Slots, wait_hours: float) -> bool:
    """Whether its form can be set up, by the hours alone, before its cast is pinned."""
    form, pin = line.tasks[0], line.cast.pin
    if form.kind != FORM or not form.open or pin is None:
        return True
    end = 0
    for length in form.lengths:
        begin = next(
            (max(first, end) for first, last in slots.shifts if max(first, end) + length <= last),
            None,
        )
        if begin is None:
            return False
        end = begin + length
    return end + math.ceil(wait_hours / HOURS - EPS) <= pin


def longest_closing(slots: Slots) -> int:
    """Slots from one shift's end to the next one's start, at the most."""
    return max((after[0] - before[1] for before, after in pairwise(slots.shifts)), default=0)
