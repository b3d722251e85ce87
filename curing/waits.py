"""What a step of a piece waits for, and when each of its criteria is met."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from curing.air import Climate
from curing.coats import CoatHours
from curing.damp import moisture_until
from curing.route import Step, Wait, Weighed
from curing.sealing import Sealer
from curing.shifts import Shifts
from curing.strength import Curve

DAY = 24.0
TO_WEIGH = 1.0  # h until a piece that may be dry is on the scale; common practice, no source


@dataclass(frozen=True, eq=False)
class Case:
    cast: float
    climate: Climate
    curve: Curve
    shifts: Shifts
    coating: CoatHours | None
    activation_energy: float
    reference: float
    sealer: Sealer | None
    done: Mapping[str, float]
    now: float


@dataclass(frozen=True)
class Progress:
    """Where a piece stands before a step."""

    finish: float
    wetted: float
    last_coat: float | None = None


def uncovers(step: Step) -> bool:
    """Finishing it starts the drying clock."""
    return step.wets or step.kind == "demold"


def progress_after(step: Step, finish: float, progress: Progress) -> Progress:
    wetted, last_coat = progress.wetted, progress.last_coat
    # A coat over what was wetted after the coat before shuts it in: drying counts from there.
    if uncovers(step) or (step.coat and last_coat is not None and wetted >= last_coat):
        wetted = finish
    return Progress(finish, wetted, finish if step.coat else last_coat)


def waits_of(case: Case, step: Step, progress: Progress) -> list[Wait]:
    waits = [Wait("previous step", progress.finish)]
    if step.since_previous_hours:
        hours = step.since_previous_hours
        waits.append(Wait("step wait", progress.finish + hours, hours, "h"))
    return waits + concrete_waits(case, step, progress) + _film_waits(case, step, progress)


def concrete_waits(case: Case, step: Step, progress: Progress) -> list[Wait]:
    waits = _maturity_waits(case, step)
    if step.since_cast_hours:
        hours = step.since_cast_hours
        waits.append(Wait("clock floor", case.cast + hours, hours, "h"))
    waits += drying_waits(case, step, progress)
    if step.coat and case.sealer is not None and case.sealer.least_age:
        hours = case.sealer.least_age
        waits.append(Wait("concrete age", case.cast + hours, hours, "h"))
    return waits


def drying_waits(case: Case, step: Step, progress: Progress) -> list[Wait]:
    waits = []
    if step.drying_hours:
        until = _later(case.climate.time_of_drying, progress.wetted, step.drying_hours)
        waits.append(Wait("drying", until, step.drying_hours, "h"))
    if step.dries is not None:
        until = moisture_until(case.climate, step.dries, progress.wetted)
        waits.append(Wait("moisture", until, 100.0 * step.dries.target, "% RH inside"))
    if step.weighed is not None:
        now = -math.inf if step.key in case.done else case.now
        waits.append(Wait("weighing", weighed_until(step.weighed, progress.wetted, now)))
    return waits


def dries_first(step: Step) -> bool:
    """Whether a step waits for drying, by whichever rule."""
    return bool(step.drying_hours) or step.dries is not None or step.weighed is not None


def weighed_until(weighed: Weighed, wetted: float, now: float = -math.inf) -> float:
    """Shown dry by the scale, or else when that may be expected, never before the next weighing.

    Two weighings a day apart are the least that can show it; what is expected and not shown does
    not come to pass with the clock.
    """
    if weighed.dry_at is not None and weighed.dry_at >= wetted:
        return weighed.dry_at
    if weighed.next_at is None or weighed.next_at < wetted + DAY:
        next_at = max(wetted, now) + DAY
    else:
        next_at = max(weighed.next_at, now + TO_WEIGH)
    return max(next_at, wetted + weighed.likely)


def _maturity_waits(case: Case, step: Step) -> list[Wait]:
    waits = []
    if step.equivalent_hours:
        until = _time_of_age(case, step.equivalent_hours)
        waits.append(Wait("equivalent age", until, step.equivalent_hours, _at(case.reference)))
    if step.strength_mpa:
        until = _time_of_age(case, case.curve.age_at(step.strength_mpa))
        waits.append(Wait("strength", until, step.strength_mpa, "MPa"))
    if step.handling_mpa:
        until = _time_of_age(case, case.curve.age_at(step.handling_mpa))
        waits.append(Wait("handling", until, step.handling_mpa, "MPa"))
    if step.trusted_hours:
        until = _time_of_age(case, step.trusted_hours)
        waits.append(Wait("trusted age", until, step.trusted_hours, _at(case.reference)))
    return waits


def _at(reference: float) -> str:
    return f"h at {reference:g} °C"


def _time_of_age(case: Case, age: float) -> float:
    if not math.isfinite(age):
        return math.inf
    return case.climate.time_of_age(case.cast, age, case.activation_energy, case.reference)


def _later(search: Callable[[float, float], float], start: float, amount: float) -> float:
    return search(start, amount) if math.isfinite(start) else math.inf


def _film_waits(case: Case, step: Step, progress: Progress) -> list[Wait]:
    sealer, last_coat = case.sealer, progress.last_coat
    if sealer is None or last_coat is None:
        return []
    waits = []
    if step.coat:
        until = last_coat + sealer.recoat_least
        waits.append(Wait("recoat wait", until, sealer.recoat_least, "h"))
    if step.film:
        until = _later(case.climate.time_of_film, last_coat, sealer.handle)
        waits.append(Wait("sealer cure", until, sealer.handle, "h at 23 °C"))
    return waits


def soonest_of(case: Case, step: Step, progress: Progress) -> float:
    return max([case.now, *(wait.until for wait in waits_of(case, step, progress))])
