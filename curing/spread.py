"""The range of a piece's dates: the timeline gone through for many draws of what is not known.

Every draw follows the rules of `curing.timeline.derive` with its own air, curve, drying and hours
of work. What is not drawn, and so no part of the range: the humidity, the air in which coats are
put on, the hours a coat takes, the sealer's data sheet, and whether people come to work.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from curing.air import Climate
from curing.damp import moisture_clock, moisture_until
from curing.doubt import CurveDraws, Doubt, quantiles
from curing.drawn import DrawnAir
from curing.drying_rate import DryingRate
from curing.route import Step, Weighed
from curing.sealing import Sealer
from curing.shifts import Shifts
from curing.strength import Curve
from curing.timeline import case_of, coats_ahead, through
from curing.waits import (
    DAY,
    TO_WEIGH,
    Case,
    Progress,
    dries_first,
    uncovers,
)

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Streams:
    """Which random numbers a piece shares: those of its room's air, of its mix, and its own."""

    room: int | str = 0
    mix: int | str = 0
    piece: int | str = 0


@dataclass(frozen=True)
class Range:
    """Early, likely and late time of one moment [h]: 10, 50 and 90 % of the draws; inf: never."""

    early: float
    likely: float
    late: float

    @classmethod
    def of(cls, times: Array) -> Range:
        early, likely, late = quantiles(times).tolist()
        return cls(early, likely, late)


@dataclass(frozen=True, eq=False)
class Spread:
    """keys : of the steps; earliest, workable, finish : (steps, draws) [h], inf: never
    waits : of each step, criterion -> (draws,) when it is met [h]; nothing of a step that is done
    """

    keys: tuple[str, ...]
    earliest: Array
    workable: Array
    finish: Array
    waits: tuple[Mapping[str, Array], ...]

    def range_of(self, key: str) -> Range:
        """Of the moment a step can be done; KeyError if the route has none."""
        return Range.of(self.workable_of(key))

    def workable_of(self, key: str) -> Array:
        """(draws,) of one step, for what is asked of several pieces at once."""
        if key not in self.keys:
            raise KeyError(key)
        return np.asarray(self.workable[self.keys.index(key)])

    def ranges(self) -> tuple[Range, ...]:
        return tuple(Range.of(times) for times in self.workable)

    def finish_ranges(self) -> tuple[Range, ...]:
        return tuple(Range.of(times) for times in self.finish)


def chance(times: Array, deadline: float) -> float:
    """Share of the draws that are in time [0..1]."""
    return float(np.mean(times <= deadline + 1e-6))


def spread(
    *,
    cast: float,
    steps: Sequence[Step],
    climate: Climate,
    curve: Curve,
    shifts: Shifts,
    doubt: Doubt,
    curves: CurveDraws,
    streams: Streams = Streams(),
    activation_energy: float = 41500.0,
    reference: float = 20.0,
    sealer: Sealer | None = None,
    done: Mapping[str, float] | None = None,
    now: float | None = None,
    coating_climate: Climate | None = None,
) -> Spread:
    """Every milestone of one piece, for each draw.

    Parameters
    ----------
    doubt : the stated uncertainty; curves : the strength curve as it may be, `doubt.draws` of it
    streams : which draws are shared with other pieces
    others : as `curing.timeline.derive`, whose answer at the likely figures lies among the draws

    Raises
    ------
    ValueError
        As `derive`.
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
    return _Draws(case, steps, doubt, curves, streams).follow()


@dataclass(frozen=True, eq=False)
class _State:
    """Where a piece stands before a step, in each draw."""

    finish: Array
    wetted: Array
    last_coat: Array | None = None


@dataclass(frozen=True, eq=False)
class _Times:
    waits: Mapping[str, Array]
    earliest: Array
    workable: Array
    finish: Array


class _Draws:
    def __init__(
        self,
        case: Case,
        steps: Sequence[Step],
        doubt: Doubt,
        curves: CurveDraws,
        streams: Streams,
    ) -> None:
        self.case, self.steps, self.doubt = case, steps, doubt
        self.curves, self.streams = curves, streams
        self.air = DrawnAir.of(case.climate, doubt, streams.room)
        self.cast = self.all(case.cast)
        self._factors: Array | None = None
        self._met: dict[tuple[str, object, int], tuple[Array, Array]] = {}

    def all(self, value: float) -> Array:
        return np.full(self.doubt.draws, value)

    @property
    def drying_factors(self) -> Array:
        if self._factors is None:
            self._factors = self.doubt.drying_factors(self.streams.mix)
        return self._factors

    def follow(self) -> Spread:
        cast, steps = self.cast, self.steps
        found = [_Times({"cast": cast}, cast, cast, cast)]
        state = _State(cast, cast)
        while len(found) < len(steps):
            rest = steps[len(found) :]
            run = rest[: coats_ahead(self.case, rest)] or rest[:1]
            if run[0].coat and run[0].key not in self.case.done:
                times = self._coats(run, state)
            else:
                times = [self._plain(run[0], state)]
            for step, one in zip(run, times, strict=True):
                found.append(one)
                state = _after(step, one.finish, state)
        return Spread(
            keys=tuple(step.key for step in steps),
            earliest=np.array([one.earliest for one in found]),
            workable=np.array([one.workable for one in found]),
            finish=np.array([one.finish for one in found]),
            waits=tuple(one.waits for one in found),
        )

    def _plain(self, step: Step, state: _State) -> _Times:
        if step.key in self.case.done:
            done = self.all(self.case.done[step.key])
            return _Times({}, done, done, done)
        waits = self._waits(step, state)
        earliest = _latest(waits)
        soonest = np.maximum(earliest, self.case.now)
        labour = self.all(step.labour_hours)
        if step.labour_hours:
            labour = labour * self.doubt.labour_factors(self.streams.piece, step.key)
        workable, finish = self.case.shifts.first_fits(soonest, labour)
        return _Times(waits, earliest, workable, finish)

    def _waits(self, step: Step, state: _State) -> dict[str, Array]:
        """As `curing.waits.waits_of`, criterion by criterion."""
        waits = {"previous step": state.finish}
        if step.since_previous_hours:
            waits["step wait"] = state.finish + step.since_previous_hours
        waits |= self._concrete(step, state)
        sealer = self.case.sealer
        if sealer is not None and state.last_coat is not None:
            if step.coat:
                waits["recoat wait"] = state.last_coat + sealer.recoat_least
            if step.film:
                handle = self.all(sealer.handle)
                waits["sealer cure"] = self.air.film().time_of(state.last_coat, handle)
        return waits

    def _once(
        self, criterion: str, needed: object, start: Array, make: Callable[[], Array]
    ) -> Array:
        """A run of coats asks of its steps what each of them asks again: it is reckoned once."""
        key = (criterion, needed, id(start))
        if key not in self._met:
            self._met[key] = start, make()  # the start is kept, or another could have its id
        return self._met[key][1]

    def _concrete(self, step: Step, state: _State) -> dict[str, Array]:
        """As `curing.waits.concrete_waits`."""
        case, cast = self.case, self.cast
        waits: dict[str, Array] = {}
        for criterion, needed, curved in _ages_of(step):
            waits[criterion] = self._reached(needed, curved)
        if step.since_cast_hours:
            waits["clock floor"] = cast + step.since_cast_hours
        waits |= self._drying(step, state)
        if step.coat and case.sealer is not None and case.sealer.least_age:
            waits["concrete age"] = cast + case.sealer.least_age
        return waits

    def _reached(self, needed: float, curved: bool) -> Array:
        """(draws,) when an equivalent age, or a strength, is reached.

        All that the route asks for is reckoned at once, which takes hardly longer than one of
        them; and once for all pieces of one mix that are cast in this room at the same moment.
        """
        case = self.case
        clock = self.air.age(case.activation_energy, case.reference)
        key = ("reached", id(clock), case.cast)  # the climate keeps the clock: no other has its id
        known: dict[tuple[float, CurveDraws | None], Array] = case.climate.remembered(key, dict)

        def of(needed: float, curved: bool) -> tuple[float, CurveDraws | None]:
            return needed, self.curves if curved else None

        if of(needed, curved) not in known:
            open_ = [step for step in self.steps if step.key not in case.done]
            asked = [of(age, curve) for step in open_ for _, age, curve in _ages_of(step)]
            new = [age for age in dict.fromkeys([of(needed, curved), *asked]) if age not in known]
            ages = [curves.ages_at(age) if curves else self.all(age) for age, curves in new]
            times = clock.time_of(self.cast, np.array(ages))
            times.setflags(write=False)
            known.update(zip(new, times, strict=True))
        return known[of(needed, curved)]

    def _drying(self, step: Step, state: _State) -> dict[str, Array]:
        waits, wetted = {}, state.wetted
        if hours := step.drying_hours:
            waits["drying"] = self._once(
                "drying",
                hours,
                wetted,
                lambda: self.air.drying().time_of(wetted, self.all(hours)),
            )
        if (rate := step.dries) is not None:
            waits["moisture"] = self._once(
                "moisture", id(rate), wetted, lambda: self._moisture(rate, wetted)
            )
        if step.weighed is not None:
            waits["weighing"] = self._weighed(step.weighed, state.wetted)
        return waits

    def _weighed(self, weighed: Weighed, wetted: Array) -> Array:
        """As `curing.waits.weighed_until`."""
        now = self.case.now
        next_at = -math.inf if weighed.next_at is None else weighed.next_at
        expected = np.maximum(
            np.where(
                next_at < wetted + DAY,
                np.maximum(wetted, now) + DAY,
                max(next_at, now + TO_WEIGH),
            ),
            wetted + weighed.likely * self.drying_factors,
        )
        if weighed.dry_at is None:
            return np.asarray(expected)
        return np.where(weighed.dry_at >= wetted, weighed.dry_at, expected)

    def _moisture(self, rate: DryingRate, wetted: Array) -> Array:
        """A slab that is slower by a factor needs so much more of the same drying. Damp nights,
        which the rule that adds cannot see, stretch every draw as they stretch the middle one."""
        ruled = self.air.moisture(rate).time_of(wetted, self.drying_factors)
        middle = float(quantiles(wetted)[1])
        if not math.isfinite(middle):
            return ruled
        until = moisture_until(self.case.climate, rate, middle)
        by_rule = moisture_clock(self.case.climate, rate).time_of(middle, 1.0)
        if not middle < by_rule < until:
            return ruled
        return np.asarray(wetted + (ruled - wetted) * (until - middle) / (by_rule - middle))

    # Coats, by the timeline's own choice of them.

    def _coats(self, run: Sequence[Step], state: _State) -> list[_Times]:
        """Coats start on a grid, so that few choices answer all draws: each is made once."""
        bound = self._run_bound(run, state)
        waits = [self._waits(run[0], state)]
        soonest = np.maximum(np.maximum(_latest(waits[0]), bound), self.case.now)
        sealer, hours = self.case.sealer, self.case.coating
        if sealer is None or hours is None:
            raise ValueError("this route has coats, so it needs a sealer")
        starts = hours.options(run[0].labour_hours, sealer.abrade_hours).starts
        places, of = np.unique(np.searchsorted(starts, soonest - 1e-6), return_inverse=True)
        choice = _Choice(self.case, run, state)
        answers = [
            choice.at(float(starts[place]) if place < len(starts) else math.inf)
            for place in places.tolist()
        ]
        table = np.array(answers)[of]  # (draws, steps, 2)
        for number in range(1, len(run)):
            waits.append(self._waits_within(run[number], table[:, number - 1, 1]))
        return [
            _Times(one, np.minimum(_latest(one), times[:, 0]), times[:, 0], times[:, 1])
            for one, times in zip(waits, np.moveaxis(table, 1, 0), strict=True)
        ]

    def _waits_within(self, step: Step, before: Array) -> dict[str, Array]:
        """Of a later step of the run, whose concrete the first coat has waited for."""
        waits = {"previous step": before}
        if step.since_previous_hours:
            waits["step wait"] = before + step.since_previous_hours
        if step.coat and self.case.sealer is not None:
            waits["recoat wait"] = before + self.case.sealer.recoat_least
        return waits

    def _run_bound(self, run: Sequence[Step], state: _State) -> Array:
        """As `curing.timeline` bounds the first coat by what the concrete asks of later ones."""
        least = self.case.sealer.recoat_least if self.case.sealer else 0.0
        bound = self.all(-math.inf)
        passed, coated = 0.0, -math.inf
        for number, step in enumerate(run):
            passed += step.since_previous_hours if number else 0.0
            if step.coat:
                passed = max(passed, coated + least)
            for wait in self._concrete(step, state).values():
                bound = np.maximum(bound, wait - passed)
            passed += step.labour_hours
            coated = passed if step.coat else coated
        return bound


class _Choice:
    """Start and finish of each step of a run of coats, by when the first may start.

    Neither the draw nor the casting has a part in it: all pieces of a room that are coated alike,
    and all castings that are tried of one, ask the same.
    """

    def __init__(self, case: Case, run: Sequence[Step], state: _State) -> None:
        # Where there is a window to miss, a coat before the run is one that is on: one time.
        windowed = case.sealer is not None and case.sealer.recoat_greatest is not None
        coated = state.last_coat
        self.last_coat = float(coated[0]) if windowed and coated is not None else None
        bare, wetted = [], False
        for step in run:
            bare.append(_without_waits(step, drying=wetted and dries_first(step)))
            wetted = wetted or uncovers(step)
        self.run = tuple(bare)
        sealer = case.sealer and replace(case.sealer, least_age=0.0)
        self.case = replace(case, cast=-math.inf, sealer=sealer)
        done = tuple((step.key, case.done[step.key]) for step in run if step.key in case.done)
        key = ("coats", self.run, self.last_coat, sealer, case.shifts, case.coating, done)
        self.known: dict[float, list[tuple[float, float]]] = case.climate.remembered(key, dict)

    def at(self, start: float) -> list[tuple[float, float]]:
        """The first coat from `start` on."""
        if not math.isfinite(start):
            return [(math.inf, math.inf)] * len(self.run)
        if start not in self.known:
            progress = Progress(start, start, self.last_coat)
            found, _ = through(replace(self.case, now=start), self.run, progress)
            self.known[start] = [(one.workable, one.finish) for one in found]
        return self.known[start]


def _ages_of(step: Step) -> Iterator[tuple[str, float, bool]]:
    """What a step asks of the concrete: criterion, age [h] or strength [MPa], whether strength."""
    if step.equivalent_hours:
        yield "equivalent age", step.equivalent_hours, False
    if step.trusted_hours:
        yield "trusted age", step.trusted_hours, False
    if step.strength_mpa:
        yield "strength", step.strength_mpa, True
    if step.handling_mpa:
        yield "handling", step.handling_mpa, True


def _latest(waits: Mapping[str, Array]) -> Array:
    return np.asarray(np.maximum.reduce(list(waits.values())))


def _without_waits(step: Step, *, drying: bool) -> Step:
    """Without what the concrete asks, which the draws have been through already."""
    bare = replace(
        step,
        since_cast_hours=0.0,
        equivalent_hours=None,
        strength_mpa=None,
        handling_mpa=None,
        trusted_hours=None,
    )
    return bare if drying else replace(bare, drying_hours=None, dries=None, weighed=None)


def _after(step: Step, finish: Array, state: _State) -> _State:
    """As `curing.waits.progress_after`, whose tests are of what all draws have in common."""
    wetted = state.wetted
    if uncovers(step):
        wetted = finish
    elif step.coat and state.last_coat is not None:
        wetted = np.where(state.wetted >= state.last_coat, finish, state.wetted)
    return _State(finish, wetted, finish if step.coat else state.last_coat)


__all__ = ["Range", "Spread", "Streams", "chance", "spread"]
