"""Drying of a cast slab from its last wetting, in the air of its room.

A slab starts wet through (H = 1) at its last wetting and dries from one face or from both, through
a thin film of still air, after the moisture law of the Model Code. Warmth hastens all of it alike,
the film too: saturated vapour thickens with warmth about as fast as moisture moves in concrete. So
temperature only stretches time, and times go with thickness squared (at one Biot number) and
inversely with D1.

What this leaves out: the polymer and the fibre of GFRC, water taken by hydration, the gain of
density with age, and that a piece wetted anew is dry inside. The first makes real pieces slower,
the others faster. All results are an estimate until the shop has weighed its own pieces dry.

`curing.drying_rate` has the same for all open pieces at once.

References
----------
CEB-FIP Model Code 1990, 2.1.8.4. Bažant and Najjar 1972 (film, temperature). ASTM F2170 (depth).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from curing.diffusion import SLAB, Grid, March, first_fall, humidity_at, march
from curing.diffusivity import (
    DRYING_KELVIN,
    MODEL_CODE,
    HumidityLaw,
    drying_factor,
    fractions,
)
from curing.maturity import checked

Array = NDArray[np.float64]

HOUR = 3600.0  # s
ESTIMATE = (
    "Drying is an estimate: it follows a law for plain concrete and is not yet calibrated "
    "with this shop's own weighings."
)
# Early, likely and late, as multiples of the likely time. Our judgement, no source: polymer and
# fibre slow a piece more than anything left out hastens it.
BAND = (0.7, 1.0, 2.0)

# ASTM F2170: read at 40 % of the thickness when one face dries, at 20 % when both do.
PROBE_SHARE = {1: 0.40, 2: 0.20}
PROBE_DEPTH = 0.40  # of the drying length, the same in both cases
DRY_HUMIDITY = 0.85  # at the probe's depth; common practice, the sealer's data sheet governs
DRY_PERCENT = 0.15  # of the weight a day; common practice, 0.1 to 0.2

FILM_LENGTH = 0.75e-3  # m of concrete at D1; from memory of Bažant and Najjar 1972
THICKNESS_RANGE = (0.002, 0.2)  # m; our own: thinner is all surface, thicker a job of months
_FIRST_STEPS = (np.arange(1, 9) / 8.0) ** 3
_LARGEST = 1.0  # h, of the first steps
_STEP_FO = 0.02
_GROWTH = 48.0


@dataclass(frozen=True)
class Slab:
    """A piece that dries through its thickness.

    thickness : [m], 0.002 to 0.2
    faces : 1 when one face is open (lying on plastic, or sealed), 2 when both are

    Raises
    ------
    ValueError
        Outside these.
    """

    thickness: float
    faces: int = 2

    def __post_init__(self) -> None:
        least, greatest = THICKNESS_RANGE
        if not least <= self.thickness <= greatest:
            raise ValueError(f"a slab is 0.002 to 0.2 m thick, got {self.thickness}")
        if self.faces not in (1, 2):
            raise ValueError(f"a slab dries from 1 face or 2, got {self.faces}")

    @property
    def length(self) -> float:
        """How far the innermost moisture travels [m]."""
        return self.thickness / self.faces


@dataclass(frozen=True)
class Concrete:
    """What a concrete is to moisture.

    d1 : diffusivity at H = 1 and 20 °C [m²/s]; the default is the Model Code's for fck 40
    law : how it falls with humidity
    film_length : thickness of concrete at D1 that resists as the air at the face does [m]; 0 for a
        face that takes the air's humidity at once
    water : water given up from H = 1 to 0 [kg/m³], taken in proportion; common practice
    density : [kg/m³]
    kelvin : activation energy over the gas constant [K], see `drying_factor`

    Raises
    ------
    ValueError
        A value that is not finite and above 0 (film_length, kelvin: not below 0).
    """

    d1: float = 2.5e-10
    law: HumidityLaw = MODEL_CODE
    film_length: float = FILM_LENGTH
    water: float = 150.0
    density: float = 2080.0
    kelvin: float = DRYING_KELVIN

    def __post_init__(self) -> None:
        for name in ("d1", "water", "density"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0):
                raise ValueError(f"{name} must be finite and above 0, got {value}")
        for name in ("film_length", "kelvin"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value >= 0):
                raise ValueError(f"{name} must be finite and not negative, got {value}")

    def fo_per_hour(self, slab: Slab) -> float:
        """Fo that a slab goes through in an hour at 20 °C, D1 t / L²."""
        return self.d1 * HOUR / slab.length**2

    def inverse_biot(self, slab: Slab) -> float:
        """Resistance of the film over that of the slab [-]."""
        return self.film_length / slab.length


@dataclass(frozen=True, eq=False)
class Drying:
    """One slab's drying: time runs in hours since its last wetting.

    hours : (k + 1,) first value 0
    run : the march behind it, with a single column
    """

    slab: Slab
    concrete: Concrete
    hours: Array
    run: March

    def humidity(self, depth: float = PROBE_DEPTH) -> Array:
        """(k + 1,) pore humidity at a depth as a share of the drying length [0..1].

        Raises
        ------
        ValueError
            A depth outside 0 (the open face) to 1 (mid-plane or sealed face).
        """
        return np.asarray(self.run.at(depth)[:, 0])

    def mean(self) -> Array:
        """(k + 1,) mean pore humidity."""
        return np.asarray(self.run.mean()[:, 0])

    def lost(self) -> Array:
        """(k + 1,) water lost from a square metre of panel, through all its open faces [kg/m²]."""
        return np.asarray(self.run.lost[:, 0] * self.concrete.water * self.slab.thickness)

    def percent_per_day(self) -> Array:
        """(k + 1,) loss over the 24 h before each time, in percent of the panel's weight.

        What daily weighing would show. NaN before a day has passed.
        """
        lost = self.run.lost[:, 0] * self.concrete.water / self.concrete.density * 100.0
        earlier = np.interp(self.hours - 24.0, self.hours, lost)
        return np.asarray(np.where(self.hours >= 24.0, lost - earlier, np.nan))

    def hours_to(self, humidity: float = DRY_HUMIDITY, depth: float = PROBE_DEPTH) -> float:
        """Hours until the humidity at a depth has come down to a target; inf if not by the end.

        Raises
        ------
        ValueError
            A target or a depth outside 0 to 1.
        """
        target = float(fractions(humidity))
        return float(first_fall(self.hours[:, None], self.run.at(depth), target)[0])

    def hours_to_mean(self, humidity: float) -> float:
        """Hours until the mean humidity has come down to a target; inf if not by the end.

        Raises
        ------
        ValueError
            A target outside 0 to 1.
        """
        target = float(fractions(humidity))
        return float(first_fall(self.hours[:, None], self.run.mean(), target)[0])


def dry_out(
    slab: Slab,
    concrete: Concrete,
    hours: ArrayLike,
    celsius: ArrayLike,
    humidity: ArrayLike,
    *,
    until: float | None = None,
    depth: float = PROBE_DEPTH,
) -> Drying:
    """March a slab through the air of its room, from its last wetting at `hours[0]`.

    Parameters
    ----------
    hours : (n,) not decreasing, n at least 2; air is linear between, and steps at equal hours
    celsius : (n,) air [°C], up to 50; nothing moves at 0 and below
    humidity : (n,) air [0..1]
    until : stop once the humidity at `depth` has come down to this [0..1]; None for all the hours
    depth : share of the drying length

    Raises
    ------
    ValueError
        Lengths that differ, hours that run back or cover no time, values outside their range.

    Reference: CEB-FIP MC90, 2.1.8.4, solved as `curing.diffusion` says.

    >>> dried = dry_out(Slab(0.019), Concrete(film_length=0.0), [0, 192], [20, 20], [0.5, 0.5])
    >>> round(dried.hours_to(0.85) / 24, 2)
    1.54
    """
    times, temperatures = checked(hours, celsius)
    moist = fractions(np.atleast_1d(np.asarray(humidity, dtype=float)))
    if moist.shape != times.shape:
        raise ValueError(f"hours and humidity must be of one length, got {moist.shape}")
    if len(times) < 2 or times[-1] <= times[0]:
        raise ValueError("the air must be given over some time")
    target = None if until is None else float(fractions(until))
    times = times - times[0]
    pace = concrete.fo_per_hour(slab)
    edges = _edges(float(times[-1]), pace)
    factor = _mean_factor(times, temperatures, edges, concrete.kelvin)
    air = np.clip(_means(times, moist, edges), 0.0, 1.0)
    grid = Grid.of(geometry=SLAB)

    def is_dry(cells: Array, surface: Array) -> bool:
        reached = humidity_at(concrete.law, grid, cells, surface, depth)
        return target is not None and bool((reached <= target).all())

    run = march(
        concrete.law,
        grid,
        pace * factor * np.diff(edges),
        air,
        inverse_biot=concrete.inverse_biot(slab),
        stop=is_dry,
    )
    return Drying(slab, concrete, edges[: len(run.fo)], run)


def _edges(end: float, pace: float) -> Array:
    """Steps: tiny after the wetting, an hour at most at first, in proportion to time later."""
    step = min(_LARGEST, _STEP_FO / pace)
    edges = [0.0, *(step * _FIRST_STEPS)]
    while edges[-1] < end:
        edges.append(edges[-1] + step * max(1.0, edges[-1] / (_GROWTH * step)))
    kept = np.array(edges)
    return np.append(kept[kept < end * (1.0 - 1e-9)], end)


def _means(times: Array, values: Array, edges: Array) -> Array:
    """Mean of what runs linear between times, over each stretch between edges."""
    total = np.concatenate([[0.0], np.cumsum(np.diff(times) * 0.5 * (values[1:] + values[:-1]))])
    # Of several values at one time the last holds from there on.
    index = np.clip(np.searchsorted(times, edges, side="right") - 1, 0, len(times) - 2)
    length = times[index + 1] - times[index]
    into = edges - times[index]
    slope = np.divide(
        values[index + 1] - values[index], length, out=np.zeros_like(length), where=length > 0
    )
    return np.asarray(
        np.diff(total[index] + into * (values[index] + 0.5 * slope * into)) / np.diff(edges)
    )


def _mean_factor(times: Array, celsius: Array, edges: Array, kelvin: float) -> Array:
    """Mean drying factor over each stretch, read finely where readings lie far apart."""
    fine = np.setdiff1d(np.arange(0.0, times[-1], 0.5), times)
    place = np.searchsorted(times, fine)
    dense = np.insert(times, place, fine)
    air = np.insert(celsius, place, np.interp(fine, times, celsius))
    return _means(dense, drying_factor(air, kelvin), edges)


def mean_at_loss(
    slab: Slab,
    concrete: Concrete,
    *,
    celsius: float,
    humidity: float,
    percent_per_day: float = DRY_PERCENT,
) -> float:
    """Mean pore humidity at which steady air takes only so much of a panel's weight a day.

    A panel that loses little because the air is damp is not dry; so the rate is turned into the
    moisture it stands for in one agreed air, which a later start never reaches sooner.

    Parameters
    ----------
    celsius : agreed air [°C], above 0, up to 50; humidity : [0..1]
    percent_per_day : [% of the panel's weight], above 0

    Raises
    ------
    ValueError
        Outside these, or a rate that 400 days do not bring.
    """
    if not 0 < percent_per_day < math.inf:
        raise ValueError(f"the loss a day must be finite and above 0 %, got {percent_per_day}")
    if not celsius > 0:
        raise ValueError("nothing dries at 0 °C and below")
    end = 30.0 * 24.0
    while end <= 400.0 * 24.0:
        dried = dry_out(slab, concrete, [0.0, end], [celsius] * 2, [humidity] * 2)
        loss = dried.percent_per_day()
        reached = first_fall(
            dried.hours[:, None], np.where(np.isnan(loss), np.inf, loss)[:, None], percent_per_day
        )[0]
        if math.isfinite(reached):
            return float(np.interp(reached, dried.hours, dried.mean()))
        end *= 3.0
    raise ValueError(f"a loss of {percent_per_day} % a day is not reached within 400 days")
