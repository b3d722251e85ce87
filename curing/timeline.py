"""The milestones of one piece: when each step may be done, when it will be, and what decides.

Everything is hours on one axis. Each rule keeps the order: cast later, nothing comes earlier.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from curing.air import Climate
from curing.coats import GRID, Coat, CoatHours, CoatOptions, choose
from curing.route import CRITERIA, Milestone, Step, Wait, Weighed
from curing.sealing import Sealer
from curing.shifts import MINUTE, Shifts
from curing.strength import Curve
from curing.waits import (
    Case,
    Progress,
    concrete_waits,
    dries_first,
    progress_after,
    soonest_of,
    uncovers,
    waits_of,
)

__all__ = [
    "CRITERIA",
    "Milestone",
    "Shifts",
    "Step",
    "Wait",
    "Weighed",
    "derive",
    "latest_cast",
    "pending",
    "ready",
]

Array = NDArray[np.float64]

HELD = "held back so that the next coat falls in its window"
ABRADE = "abrade first: the recoat window has closed"
_EPS = 1e-6


def derive(
    *,
    cast: float,
    steps: Sequence[Step],
    climate: Climate,
    curve: Curve,
    shifts: Shifts,
    activation_energy: float = 41500.0,
    reference: float = 20.0,
    sealer: Sealer | None = None,
    done: Mapping[str, float] | None = None,
    now: float | None = None,
    coating_climate: Climate | None = None,
) -> tuple[Milestone, ...]:
    """The milestones of one piece.

    Parameters
    ----------
    cast : water-in time, or when it is planned [h]
    steps : the route, the casting first
    climate : air of the room the piece cures in
    curve : strength against equivalent age
    shifts : working hours
    activation_energy, reference : [J/mol], [°C]
    sealer : needed where the route has coats or waits for the sealer's film
    done : step key -> time it was done, facts [h]
    now : an undone step cannot be done before it [h]
    coating_climate : air where coats are put on, where that is another room

    Returns
    -------
    one Milestone a step, in order. A time is inf where it is not reached within what is known.

    Raises
    ------
    ValueError
        No steps, a time that is not finite, or a route that needs a sealer without one.
    """
    case = case_of(
        cast=cast,
        steps=steps,
        climate=climate,
        curve=curve,
        shifts=shifts,
        activation_energy=activation_energy,
        reference=reference,
        sealer=sealer,
        done=done,
        now=now,
        coating_climate=coating_climate,
    )
    first = _casting(case, steps[0])
    return (first, *_follow(case, steps[1:], Progress(first.finish, first.finish)))


def case_of(
    *,
    cast: float,
    steps: Sequence[Step],
    climate: Climate,
    curve: Curve,
    shifts: Shifts,
    activation_energy: float,
    reference: float,
    sealer: Sealer | None,
    done: Mapping[str, float] | None,
    now: float | None,
    coating_climate: Climate | None,
) -> Case:
    """What `derive` goes through a route with. Parameters and errors as there."""
    if not steps:
        raise ValueError("a route has at least the casting")
    if not math.isfinite(cast):
        raise ValueError("cast must be a finite time")
    if sealer is None and any(step.coat or step.film for step in steps):
        raise ValueError("this route has coats, so it needs a sealer")
    return Case(
        cast=cast,
        climate=climate,
        curve=curve,
        shifts=shifts,
        coating=_coat_hours(shifts, coating_climate or climate, sealer),
        activation_energy=activation_energy,
        reference=reference,
        sealer=sealer,
        done=done or {},
        now=-math.inf if now is None else now,
    )


def _coat_hours(shifts: Shifts, air: Climate, sealer: Sealer | None) -> CoatHours | None:
    if sealer is None:
        return None
    limits = sealer.limits
    return air.remembered(
        ("coating", limits, shifts),
        lambda: CoatHours.of(shifts, shifts.within(air.coatable_windows(limits))),
    )


def _casting(case: Case, step: Step) -> Milestone:
    done = step.key in case.done
    return Milestone(
        key=step.key,
        name=step.name,
        earliest=case.cast,
        workable=case.cast,
        finish=case.cast,
        governs="cast",
        detail="water-in time" if done else "planned casting time",
        waits=(Wait("cast", case.cast),),
        done=done,
    )


def _follow(case: Case, steps: Sequence[Step], progress: Progress) -> list[Milestone]:
    milestones: list[Milestone] = []
    while len(milestones) < len(steps):
        rest = steps[len(milestones) :]
        run = rest[: coats_ahead(case, rest)] or rest[:1]
        found, progress = through(case, run, progress)
        milestones += found
    return milestones


def coats_ahead(case: Case, steps: Sequence[Step]) -> int:
    """How many steps from here, a coat that is not on yet, to the last one before a coat that is:
    their coats are chosen together. None where no recoat window can close."""
    if case.sealer is None or case.sealer.recoat_greatest is None:
        return 0
    if not steps[0].coat or steps[0].key in case.done:
        return 0
    open_ = [number for number, step in enumerate(steps) if step.coat]
    on = [number for number in open_ if steps[number].key in case.done]
    return max(number for number in open_ if not on or number < on[0]) + 1


def through(
    case: Case, run: Sequence[Step], progress: Progress
) -> tuple[list[Milestone], Progress]:
    """The run's steps, each as soon as it may be; where that misses a recoat window, its coats
    are chosen together."""
    if len(run) == 1:
        return _in_turn(case, run, progress, {})
    bound = _run_bound(case, run, progress)
    found, after = _in_turn(case, run, progress, {run[0].key: bound})
    if any(milestone.note == ABRADE or math.isinf(milestone.finish) for milestone in found):
        starts = _chosen(case, run, progress, bound, limit=found[-1].finish)
        found, after = _in_turn(case, run, progress, starts)
    return found, after


def _in_turn(
    case: Case, run: Sequence[Step], progress: Progress, starts: Mapping[str, float]
) -> tuple[list[Milestone], Progress]:
    """One step after the other; coats not before the starts that are given for them."""
    found: list[Milestone] = []
    for step in run:
        milestone = _milestone(case, step, progress, starts.get(step.key, -math.inf))
        found.append(milestone)
        progress = progress_after(step, milestone.finish, progress)
    return found, progress


def _run_bound(case: Case, run: Sequence[Step], progress: Progress) -> float:
    """The first coat's start from which no later step of the run waits for the concrete.

    What the concrete asks of a later coat is asked of the first one, less the time between them:
    else a later casting could leave a coat unheld that an earlier one holds back.
    """
    sealer, _ = _sealing(case)
    bounds: list[float] = []
    passed, coated = 0.0, -math.inf
    for step in run:
        passed += step.since_previous_hours if bounds else 0.0
        if step.coat:
            passed = max(passed, coated + sealer.recoat_least)
        waits = concrete_waits(case, step, progress)
        bounds.append(max((wait.until for wait in waits), default=-math.inf) - passed)
        passed += step.labour_hours
        coated = passed if step.coat else coated
    return max(bounds)


def _chosen(
    case: Case, run: Sequence[Step], progress: Progress, bound: float, *, limit: float
) -> dict[str, float]:
    """Step key -> start of each coat of the run, inf for those that cannot be reached."""
    sealer, _ = _sealing(case)
    numbers = [number for number, step in enumerate(run) if step.coat]
    first = max(soonest_of(case, run[0], progress), bound)
    coats = [Coat(_options(case, run[0]), lambda finishes: np.full(len(finishes), first))]
    for earlier, number in pairwise(numbers):
        between = _bounds_between(case, run, (earlier, number), progress)
        coats.append(Coat(_options(case, run[number]), between))
    taken = choose(
        coats,
        before=-math.inf if progress.last_coat is None else progress.last_coat,
        greatest=math.inf if sealer.recoat_greatest is None else sealer.recoat_greatest,
        limit=limit,
    )
    starts = {run[number].key: math.inf for number in numbers}
    for number, coat, option in zip(numbers, coats, taken, strict=False):
        starts[run[number].key] = float(coat.options.starts[option])
    return starts


def _bounds_between(
    case: Case, run: Sequence[Step], coats: tuple[int, int], progress: Progress
) -> Callable[[Array], Array]:
    """From the finish of one coat of a run to the soonest start of the next one."""
    earlier, number = coats
    sealer, _ = _sealing(case)
    step, between = run[number], run[earlier + 1 : number]
    wetted_in_run = any(uncovers(step) for step in run[: earlier + 1])

    def soonest(finish: float) -> float:
        wetted = finish if wetted_in_run else progress.wetted
        _, then = _in_turn(case, between, Progress(finish, wetted, last_coat=finish), {})
        return soonest_of(case, step, then)

    if between or (wetted_in_run and dries_first(step)):
        return lambda finishes: np.array([soonest(float(finish)) for finish in finishes])
    fixed = max([case.now, *(wait.until for wait in concrete_waits(case, step, progress))])
    pause = max(step.since_previous_hours, sealer.recoat_least)
    return lambda finishes: np.maximum(finishes + pause, fixed)


def _sealing(case: Case) -> tuple[Sealer, CoatHours]:
    if case.sealer is None or case.coating is None:
        raise ValueError("this route has coats, so it needs a sealer")
    return case.sealer, case.coating


def _options(case: Case, step: Step) -> CoatOptions:
    sealer, hours = _sealing(case)
    return hours.options(step.labour_hours, sealer.abrade_hours)


def _milestone(case: Case, step: Step, progress: Progress, not_before: float) -> Milestone:
    waits = sorted(waits_of(case, step, progress), key=lambda wait: wait.until, reverse=True)
    if step.key in case.done:
        return _told(step, waits, case.done[step.key], case.done[step.key], done=True)
    if step.coat:
        return _coat(case, step, progress, waits, not_before)
    soonest = max(waits[0].until, case.now)
    workable, finish = case.shifts.first_fit(soonest, step.labour_hours)
    held_by = "crew hours" if workable > soonest + _EPS else ""
    return _told(step, waits, workable, finish, held_by=held_by)


def _coat(
    case: Case, step: Step, progress: Progress, waits: Sequence[Wait], not_before: float
) -> Milestone:
    sealer, _ = _sealing(case)
    closes = math.inf
    if sealer.recoat_greatest is not None and progress.last_coat is not None:
        closes = progress.last_coat + sealer.recoat_greatest
    soonest = max(waits[0].until, case.now)
    options = _options(case, step)
    start, finish, abraded = options.first(max(soonest, not_before), closes)
    workable = max(start - sealer.abrade_hours if abraded else start, soonest)
    note = ABRADE if abraded else ""
    held_by = ""
    if start > options.first(soonest, closes)[0] and not abraded:
        note = HELD
    elif workable > soonest + GRID:
        on_shift, _ = case.shifts.first_fit(soonest, step.labour_hours)
        held_by = "sealing air" if workable > on_shift + GRID else "crew hours"
    return _told(step, waits, workable, finish, held_by=held_by, note=note)


def _told(
    step: Step,
    waits: Sequence[Wait],
    workable: float,
    finish: float,
    *,
    done: bool = False,
    held_by: str = "",
    note: str = "",
) -> Milestone:
    governing = waits[0]
    needed = "" if governing.needed is None else f" ({governing.needed:g} {governing.unit})"
    return Milestone(
        key=step.key,
        name=step.name,
        earliest=governing.until,
        workable=workable,
        finish=finish,
        governs=governing.criterion,
        detail=f"{CRITERIA[governing.criterion]}{needed}",
        waits=tuple(waits),
        done=done,
        held_by=held_by,
        note=note,
    )


def ready(milestones: Sequence[Milestone], key: str) -> float:
    """The workable time of the step with this key [h]; KeyError if the route has none."""
    for milestone in milestones:
        if milestone.key == key:
            return milestone.workable
    raise KeyError(key)


def pending(milestones: Sequence[Milestone]) -> Milestone | None:
    """The first step that is not done."""
    return next((milestone for milestone in milestones if not milestone.done), None)


def latest_cast(
    deadline: float,
    *,
    ready_key: str,
    not_before: float,
    steps: Sequence[Step],
    climate: Climate,
    curve: Curve,
    shifts: Shifts,
    activation_energy: float = 41500.0,
    reference: float = 20.0,
    sealer: Sealer | None = None,
    coating_climate: Climate | None = None,
    cast_labour: float = 0.0,
) -> float | None:
    """The last on-shift casting time from which a step is workable by a deadline.

    By bisection, which the order of all rules allows: cast later, nothing comes earlier.

    Parameters
    ----------
    deadline : [h]
    ready_key : the step that must be workable by then
    not_before : casting times before this are not looked at [h]
    cast_labour : hours of work from water-in that must fit the shift [h]
    others : as `derive`

    Returns
    -------
    time [h], to the minute, or None when even `not_before` is too late
    """

    def in_time(cast: float) -> bool:
        milestones = derive(
            cast=cast,
            steps=steps,
            climate=climate,
            curve=curve,
            shifts=shifts,
            activation_energy=activation_energy,
            reference=reference,
            sealer=sealer,
            coating_climate=coating_climate,
        )
        return ready(milestones, ready_key) <= deadline + _EPS

    first, _ = shifts.first_fit(not_before, cast_labour)
    if not first <= deadline or not in_time(first):
        return None
    # Whole minutes; `early` is always in time, `late` never looked at or too late.
    early, late = math.floor(first / MINUTE), math.floor(deadline / MINUTE) + 1
    while late - early > 1:
        middle = (early + late) // 2
        early, late = (middle, late) if in_time(middle * MINUTE) else (early, middle)
    return max(first, shifts.last_start(early * MINUTE, cast_labour))
