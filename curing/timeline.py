"""The milestones of one piece: when each step may be done, when it will be, and what decides.

Everything is hours on one axis. Each rule keeps the order: cast later, nothing comes earlier.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from curing.climate import Climate
from curing.sealing import Sealer
from curing.shifts import Shifts
from curing.strength import Curve

__all__ = [
    "CRITERIA",
    "Milestone",
    "Shifts",
    "Step",
    "Wait",
    "derive",
    "latest_cast",
    "pending",
    "ready",
]

CRITERIA: dict[str, str] = {
    "cast": "casting",
    "strength": "strength for handling",
    "equivalent age": "equivalent age",
    "clock floor": "the least hours after casting",
    "step wait": "the wait after the step before",
    "drying": "drying since the last wetting",
    "concrete age": "the sealer's least concrete age",
    "recoat wait": "the recoat wait",
    "sealer cure": "sealer cure before handling",
    "previous step": "the step before",
    "crew hours": "crew hours",
    "sealing air": "air that fits the sealer",
}

# Coats start on the quarter hour. A grid that does not move with the casting time is what keeps
# the search for a better start from ever making a later casting come out earlier.
GRID = 0.25
_EPS = 1e-6


@dataclass(frozen=True)
class Step:
    """One step of a route. Hours; strength in MPa. The first step is the casting itself.

    since_cast_hours : clock hours after casting, at the least
    since_previous_hours : clock hours after the step before is finished
    equivalent_hours : equivalent age after casting, at the least
    strength_mpa : strength by the mix's curve
    drying_hours : after the last wetting, half counted while cold or humid
    coat : which coat of the sealer this is, 0 for none
    film : waits until the sealer may be handled
    wets : finishing it starts the drying clock again
    """

    key: str
    name: str
    since_cast_hours: float = 0.0
    since_previous_hours: float = 0.0
    equivalent_hours: float | None = None
    strength_mpa: float | None = None
    drying_hours: float | None = None
    coat: int = 0
    film: bool = False
    wets: bool = False
    labour_hours: float = 0.0
    kind: str = ""


@dataclass(frozen=True)
class Wait:
    """One criterion of a step: when it is met [h], and the figure it asks for."""

    criterion: str
    until: float
    needed: float | None = None
    unit: str = ""


@dataclass(frozen=True)
class Milestone:
    """When a step may be done (earliest), can be (workable), and is finished.

    governs : the criterion that set `earliest`
    held_by : what moved `workable` past it: 'crew hours', 'sealing air', or nothing
    """

    key: str
    name: str
    earliest: float
    workable: float
    finish: float
    governs: str
    detail: str
    waits: tuple[Wait, ...] = ()
    done: bool = False
    held_by: str = ""
    note: str = ""


@dataclass(frozen=True, eq=False)
class _Case:
    cast: float
    climate: Climate
    curve: Curve
    shifts: Shifts
    coating: Shifts
    activation_energy: float
    reference: float
    sealer: Sealer | None
    done: Mapping[str, float]
    now: float


@dataclass(frozen=True)
class _Progress:
    """Where a piece stands before a step."""

    finish: float
    wetted: float
    last_coat: float | None = None


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
    if not steps:
        raise ValueError("a route has at least the casting")
    if not math.isfinite(cast):
        raise ValueError("cast must be a finite time")
    if sealer is None and any(step.coat or step.film for step in steps):
        raise ValueError("this route has coats, so it needs a sealer")
    coating = shifts
    if sealer is not None:
        coating = _coating_shifts(shifts, coating_climate or climate, sealer)
    case = _Case(
        cast=cast,
        climate=climate,
        curve=curve,
        shifts=shifts,
        coating=coating,
        activation_energy=activation_energy,
        reference=reference,
        sealer=sealer,
        done=done or {},
        now=-math.inf if now is None else now,
    )
    first = _casting(case, steps[0])
    return (first, *_follow(case, steps[1:], _Progress(first.finish, first.finish)))


def _coating_shifts(shifts: Shifts, air: Climate, sealer: Sealer) -> Shifts:
    key = ("coating", sealer.limits, id(shifts))
    if key not in air._clocks:
        # The working hours are kept along: their id must not be given to another object.
        air._clocks[key] = (shifts, shifts.within(air.coatable_windows(sealer.limits)))
    narrowed: Shifts = air._clocks[key][1]
    return narrowed


def _casting(case: _Case, step: Step) -> Milestone:
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


def _follow(case: _Case, steps: Sequence[Step], progress: _Progress) -> list[Milestone]:
    milestones: list[Milestone] = []
    for index, step in enumerate(steps):
        if _starts_coating(case, step):
            best = _coats_and_after(case, steps[index:], progress)
            return milestones + best
        milestone = _milestone(case, step, progress)
        milestones.append(milestone)
        progress = _after(step, milestone, progress)
    return milestones


def _starts_coating(case: _Case, step: Step) -> bool:
    """The first coat that is not on yet: from here a start may be held back."""
    sealer = case.sealer
    return bool(
        step.coat
        and step.key not in case.done
        and sealer is not None
        and sealer.recoat_greatest is not None
        and sealer.coats > step.coat
    )


def _coats_and_after(case: _Case, steps: Sequence[Step], progress: _Progress) -> list[Milestone]:
    """Coats from the first open one on, at the start that has the last of them on soonest."""
    count = next((i for i, step in enumerate(steps) if not step.coat), len(steps))
    coats, rest = steps[:count], steps[count:]
    best, after = _coats_from(case, coats, progress, -math.inf)
    if any("abrade" in milestone.note for milestone in best[1:]):
        best, after = _held_back(case, coats, progress, (best, after))
    return best + _follow(case, rest, after)


def _coats_from(
    case: _Case, coats: Sequence[Step], progress: _Progress, not_before: float
) -> tuple[list[Milestone], _Progress]:
    milestones = []
    for step in coats:
        milestone = _milestone(case, step, progress, not_before)
        not_before = -math.inf
        milestones.append(milestone)
        progress = _after(step, milestone, progress)
    return milestones, progress


def _held_back(
    case: _Case,
    coats: Sequence[Step],
    progress: _Progress,
    plain: tuple[list[Milestone], _Progress],
) -> tuple[list[Milestone], _Progress]:
    best, after = plain
    start = best[0].workable
    if not math.isfinite(start):
        return plain
    begin = _next_workable(case, start, coats[0])
    while begin < after.finish:
        tried, ended = _coats_from(case, coats, progress, begin)
        if ended.finish < after.finish - _EPS:
            note = "held back so that the next coat falls in its window"
            best, after = [replace(tried[0], note=note), *tried[1:]], ended
        begin = _next_workable(case, begin, coats[0])
    return best, after


def _next_workable(case: _Case, moment: float, step: Step) -> float:
    """The next start after this one: no point of the grid may be left out."""
    following = math.floor(moment / GRID + 1e-9) * GRID + GRID
    return case.coating.first_fit(following, step.labour_hours)[0]


def _on_grid(moment: float) -> float:
    return math.ceil(moment / GRID - 1e-9) * GRID if math.isfinite(moment) else moment


def _after(step: Step, milestone: Milestone, progress: _Progress) -> _Progress:
    uncovers = step.wets or step.kind == "demold"
    return _Progress(
        finish=milestone.finish,
        wetted=milestone.finish if uncovers else progress.wetted,
        last_coat=milestone.finish if step.coat else progress.last_coat,
    )


def _milestone(
    case: _Case, step: Step, progress: _Progress, not_before: float = -math.inf
) -> Milestone:
    waits = sorted(_waits(case, step, progress), key=lambda wait: wait.until, reverse=True)
    governing = waits[0]
    earliest = governing.until
    if step.key in case.done:
        at = case.done[step.key]
        return _told(step, earliest, at, at, waits, done=True)
    soonest = max(earliest, case.now)
    # `not_before` is a start already looked up: rounding it again would leave that start out.
    begin = max(_on_grid(soonest) if step.coat else soonest, not_before)
    labour, note = _labour(case, step, progress, begin)
    on_shift, _ = case.shifts.first_fit(begin, labour)
    hours = case.coating if step.coat else case.shifts
    workable, finish = hours.first_fit(begin, labour)
    held_by = ""
    if workable > soonest + GRID:
        held_by = "sealing air" if step.coat and workable > on_shift + GRID else "crew hours"
    return replace(
        _told(step, earliest, workable, finish, waits, done=False), held_by=held_by, note=note
    )


def _labour(case: _Case, step: Step, progress: _Progress, begin: float) -> tuple[float, str]:
    """Hours of work, with abrading where the recoat window has closed by then."""
    sealer = case.sealer
    if not step.coat or sealer is None or progress.last_coat is None:
        return step.labour_hours, ""
    if sealer.recoat_greatest is None:
        return step.labour_hours, ""
    start, _ = case.coating.first_fit(begin, step.labour_hours)
    if start - progress.last_coat <= sealer.recoat_greatest + _EPS:
        return step.labour_hours, ""
    return step.labour_hours + sealer.abrade_hours, "abrade first: the recoat window has closed"


def _told(
    step: Step,
    earliest: float,
    workable: float,
    finish: float,
    waits: Sequence[Wait],
    *,
    done: bool,
) -> Milestone:
    governing = waits[0]
    needed = "" if governing.needed is None else f" ({governing.needed:g} {governing.unit})"
    return Milestone(
        key=step.key,
        name=step.name,
        earliest=earliest,
        workable=workable,
        finish=finish,
        governs=governing.criterion,
        detail=f"{CRITERIA[governing.criterion]}{needed}",
        waits=tuple(waits),
        done=done,
    )


def _waits(case: _Case, step: Step, progress: _Progress) -> list[Wait]:
    waits = [Wait("previous step", progress.finish)]
    if step.since_previous_hours:
        hours = step.since_previous_hours
        waits.append(Wait("step wait", progress.finish + hours, hours, "h"))
    if step.since_cast_hours:
        hours = step.since_cast_hours
        waits.append(Wait("clock floor", case.cast + hours, hours, "h"))
    waits += _maturity_waits(case, step)
    if step.drying_hours:
        until = _later(case.climate.time_of_drying, progress.wetted, step.drying_hours)
        waits.append(Wait("drying", until, step.drying_hours, "h"))
    return waits + _sealer_waits(case, step, progress)


def _maturity_waits(case: _Case, step: Step) -> list[Wait]:
    waits = []
    if step.equivalent_hours:
        until = _time_of_age(case, step.equivalent_hours)
        unit = f"h at {case.reference:g} °C"
        waits.append(Wait("equivalent age", until, step.equivalent_hours, unit))
    if step.strength_mpa:
        until = _time_of_age(case, case.curve.age_at(step.strength_mpa))
        waits.append(Wait("strength", until, step.strength_mpa, "MPa"))
    return waits


def _time_of_age(case: _Case, age: float) -> float:
    if not math.isfinite(age):
        return math.inf
    return case.climate.time_of_age(case.cast, age, case.activation_energy, case.reference)


def _later(search: object, start: float, amount: float) -> float:
    if not math.isfinite(start):
        return math.inf
    return float(search(start, amount))  # type: ignore[operator]


def _sealer_waits(case: _Case, step: Step, progress: _Progress) -> list[Wait]:
    sealer = case.sealer
    if sealer is None or not (step.coat or step.film):
        return []
    waits = []
    if step.coat and sealer.least_age:
        waits.append(Wait("concrete age", case.cast + sealer.least_age, sealer.least_age, "h"))
    if step.coat and progress.last_coat is not None:
        until = progress.last_coat + sealer.recoat_least
        waits.append(Wait("recoat wait", until, sealer.recoat_least, "h"))
    if step.film and progress.last_coat is not None:
        until = _later(case.climate.time_of_film, progress.last_coat, sealer.handle)
        waits.append(Wait("sealer cure", until, sealer.handle, "h at 23 °C"))
    return waits


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
) -> float | None:
    """The last on-shift casting time from which a step is workable by a deadline.

    By bisection, which the order of all rules allows: cast later, nothing comes earlier.

    Parameters
    ----------
    deadline : [h]
    ready_key : the step that must be workable by then
    not_before : casting times before this are not looked at [h]
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

    first, _ = shifts.first_fit(not_before, 0.0)
    if not first <= deadline or not in_time(first):
        return None
    low, high = first, deadline
    if in_time(high):
        return shifts.last_moment(high)
    while high - low > 1.0 / 120.0:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if in_time(middle) else (low, middle)
    return max(first, shifts.last_moment(math.floor(low * 60 + _EPS) / 60))
