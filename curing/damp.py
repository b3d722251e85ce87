"""When pieces are dry where the air comes up to the moisture target, as on damp nights.

The rule that adds (`curing.drying_rate`) cannot see that damp air wets a piece again, and is up to
40 % too soon there. So wherever the air comes near the target between a wetting and the rule's
answer, the drying is marched. One march takes some days of wettings side by side on a common grid
of time, by a method that keeps wetter columns wetter: a later wetting is never dry sooner, neither
here nor where the march hands over to the rule.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curing.air import TAIL, Climate
from curing.clock import Clock
from curing.diffusion import Grid, first_fall, humidity_at, march
from curing.diffusivity import drying_factor
from curing.drying_rate import DryingRate
from curing.moisture import PROBE_DEPTH

Array = NDArray[np.float64]

# Common practice, no source: what a room is taken to be where nobody has measured it.
UNKNOWN_HUMIDITY = 0.6
HOTTEST = 50.0  # °C, the end of the drying law
NEAR = 0.03  # of humidity under the target: drier air than this leaves the rule within 5 %

BLOCK = 96.0  # h of wettings in one march
SPACING = 2.0  # h between the wettings marched; one in between counts as the next of them
_CELLS = 16
_STEP_FO = 0.02
_SHORTEST, _LONGEST = 0.5, 2.0  # h of a step
_SAMPLES = 4  # of the air in a step


def moisture_until(climate: Climate, rate: DryingRate, wetted: float) -> float:
    """When a piece has come down to its moisture target in the air of its room [h].

    The rule's answer where the air stays clear of the target; else the later of rule and march,
    but not later than the rule says of the first wetting after the damp.

    Parameters
    ----------
    wetted : the last wetting, on the climate's axis [h]; inf gives inf
    """
    if not math.isfinite(wetted):
        return math.inf
    clock = moisture_clock(climate, rate)
    ruled = clock.time_of(wetted, 1.0)
    damp = _damp_hours(climate, rate)
    if not _touches(damp, wetted, ruled):
        return ruled
    marched = _marches(climate, rate).until(wetted)
    return min(max(ruled, marched), _ruled_when_clear(clock, damp, wetted))


def moisture_clock(climate: Climate, rate: DryingRate) -> Clock:
    """Counts the share of a slab's drying that the room's air does; dry at 1 since its wetting.

    Where no humidity is known it is taken as `UNKNOWN_HUMIDITY`.
    """

    def counted() -> Clock:
        celsius = np.minimum(climate.celsius, HOTTEST)
        gained = np.diff(rate.share(climate.hours, celsius, known(climate.humidity)))
        clock = Clock.from_steps(climate.hours, gained, np.zeros(len(gained)), 0.0, 0.0)
        end = float(climate.hours[-1])
        week = max(end - TAIL, float(climate.hours[0]))
        after = float(clock.between(week, end)) / max(end - week, 1e-9)
        return Clock(clock.hours, clock.total, clock.bend, clock.before, after)

    return climate.remembered(("moisture", *_key(rate)), counted)


def known(humidity: Array) -> Array:
    """Humidity with `UNKNOWN_HUMIDITY` where nothing is known."""
    return np.asarray(np.where(np.isfinite(humidity), humidity, UNKNOWN_HUMIDITY))


def _key(rate: DryingRate) -> tuple[object, ...]:
    return rate.concrete, rate.slab, rate.target


def _damp_hours(climate: Climate, rate: DryingRate) -> Array:
    """The knots at which the air comes near the target, rising."""

    def found() -> Array:
        return np.asarray(climate.hours[known(climate.humidity) > rate.target - NEAR])

    return climate.remembered(("damp", rate.target), found)


def _touches(damp: Array, start: float, end: float) -> bool:
    place = int(np.searchsorted(damp, start))
    return place < len(damp) and bool(damp[place] <= end)


def _ruled_when_clear(clock: Clock, damp: Array, wetted: float) -> float:
    """The rule's answer for the first later wetting whose drying meets no damp air."""
    ruled = clock.time_of(wetted, 1.0)
    while _touches(damp, wetted, ruled):
        last = int(np.searchsorted(damp, ruled, side="right")) - 1
        wetted = float(np.nextafter(damp[last], math.inf))
        ruled = clock.time_of(wetted, 1.0)
    return ruled


@dataclass(frozen=True, eq=False)
class _Marches:
    """Blocks of wettings, each marched when it is first asked for."""

    climate: Climate
    rate: DryingRate
    blocks: dict[int, tuple[Array, Array]]

    def until(self, wetted: float) -> float:
        number = math.floor(wetted / BLOCK)
        if number not in self.blocks:
            self.blocks[number] = _marched(self.climate, self.rate, number * BLOCK)
        starts, ends = self.blocks[number]
        return float(ends[np.searchsorted(starts, wetted)])


def _marches(climate: Climate, rate: DryingRate) -> _Marches:
    return climate.remembered(("marches", *_key(rate)), lambda: _Marches(climate, rate, {}))


def _marched(climate: Climate, rate: DryingRate, first: float) -> tuple[Array, Array]:
    """Wettings of a block, every `SPACING` hours, and when each is dry: inf past the climate."""
    starts = first + np.arange(0.0, BLOCK + SPACING / 2, SPACING)
    pace = rate.concrete.fo_per_hour(rate.slab)
    # A share of the spacing, so that steps begin at every wetting and in all blocks alike.
    number = math.ceil(SPACING / min(_LONGEST, max(_SHORTEST, _STEP_FO / pace)))
    length = SPACING / number
    steps = math.ceil((max(float(climate.hours[-1]), starts[-1]) - first) / length)
    edges = first + length * np.arange(steps + 1)
    factor, moist = _air(climate, rate, edges)
    begun = edges[:-1, None] >= starts - length / 2
    grid, law = Grid.of(cells=_CELLS), rate.concrete.law

    def all_dry(cells: Array, surface: Array) -> bool:
        # The last wetting is the wettest; before its time it stands at 1.
        last = humidity_at(law, grid, cells[-1:], surface[-1:], PROBE_DEPTH)
        return bool(last[0] <= rate.target)

    run = march(
        law,
        grid,
        np.where(begun, (pace * length * factor)[:, None], 0.0),
        np.where(begun, moist[:, None], 1.0),
        inverse_biot=rate.concrete.inverse_biot(rate.slab),
        stop=all_dry,
        ordered=True,
    )
    times = edges[: len(run.fo), None]
    ends = first_fall(times, run.at(PROBE_DEPTH), rate.target)
    return starts, np.maximum.accumulate(ends)


def _air(climate: Climate, rate: DryingRate, edges: Array) -> tuple[Array, Array]:
    """Mean drying factor and mean humidity of the air over each step."""
    shares = (np.arange(_SAMPLES) + 0.5) / _SAMPLES
    times = edges[:-1, None] + np.diff(edges)[:, None] * shares
    celsius = np.minimum(climate.celsius_at(times), HOTTEST)
    factor = drying_factor(celsius, rate.concrete.kelvin).mean(axis=1)
    return np.asarray(factor), np.asarray(known(climate.humidity_at(times)).mean(axis=1))
