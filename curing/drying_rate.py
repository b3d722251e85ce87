"""Drying of every open piece at once: a rate that adds up, as equivalent age does.

One march without dimension, side by side through many steady airs, gives the Fo at which a target
is reached. Each piece's time follows by scaling, L² / (D1 x temperature factor). In air that
changes, the share of the drying done goes up by dt / (time in that air), and the piece is dry at 1:
a later wetting is never dry sooner, damper air never faster. Air at or above the target adds
nothing.

Against a full march the rule errs by 3 % or so over days and nights that stay drier than the
target, and by 15 %, mostly late, when the damp hours come up to it. Air that goes far above the
target wets the piece again, which no rule that only adds can see (up to 40 % too soon with nights
at 95 %): there, march.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from curing.diffusion import Grid, first_fall, humidity_at, march
from curing.diffusivity import HumidityLaw, drying_factor, fractions
from curing.maturity import checked
from curing.moisture import DRY_HUMIDITY, PROBE_DEPTH, Concrete, Slab

Array = NDArray[np.float64]

_GAPS = 16
_NEAREST = 1e-3  # of humidity, the air's least distance from the target
_FILMS = np.array([0.0, 0.02, 0.06, 0.15, 0.4, 1.0])
_FIRST, _RATIO, _STEPS = 1e-5, 1.10, 220


@dataclass(frozen=True, eq=False)
class DryingTable:
    """Fo at which a law's slab reaches a target, by the air and by the film.

    target : humidity at `depth` [0..1]; depth : share of the drying length
    gaps : (g,) target less the air's humidity, rising; films : (f,) inverse Biot numbers, rising
    fo : (g, f)
    """

    target: float
    depth: float
    gaps: Array
    films: Array
    fo: Array

    def at_film(self, inverse_biot: float) -> Array:
        """(g,) Fo for one inverse Biot number, linear between those tabled.

        Raises
        ------
        ValueError
            Outside the table, 0 to 1: the film would outdo the slab.
        """
        if not 0 <= inverse_biot <= self.films[-1]:
            raise ValueError(
                f"the inverse Biot number lies from 0 to {self.films[-1]:g}, got {inverse_biot:g}"
            )
        return np.array([np.interp(inverse_biot, self.films, row) for row in self.fo])


@lru_cache(maxsize=32)
def drying_table(
    law: HumidityLaw, target: float = DRY_HUMIDITY, depth: float = PROBE_DEPTH
) -> DryingTable:
    """The table of a law and a target, made once (a fraction of a second) and kept.

    Parameters
    ----------
    law : D(H) / D1
    target : humidity [0..1], 0.3 to 0.97; depth : share of the drying length [0..1]

    Raises
    ------
    ValueError
        Outside these.
    """
    if not 0.3 <= target <= 0.97:
        raise ValueError(f"a drying target lies from 0.3 to 0.97, got {target}")
    gaps = np.geomspace(_NEAREST, target, _GAPS)
    airs = np.repeat(np.maximum(target - gaps, 0.0), len(_FILMS))
    grid = Grid.of()

    def all_dry(cells: Array, surface: Array) -> bool:
        return bool((humidity_at(law, grid, cells, surface, depth) <= target).all())

    ends = _FIRST * _RATIO ** np.arange(_STEPS)
    run = march(
        law,
        grid,
        np.diff(ends, prepend=0.0),
        np.broadcast_to(airs, (_STEPS, len(airs))),
        inverse_biot=np.tile(_FILMS, _GAPS),
        stop=all_dry,
    )
    found = first_fall(run.fo, run.at(depth), target).reshape(_GAPS, len(_FILMS))
    # Drier air and a lighter film are never slower, whatever the last digit of the march says.
    found = np.minimum.accumulate(np.maximum.accumulate(found, axis=1), axis=0)
    return DryingTable(target, depth, gaps, _FILMS, found)


@dataclass(frozen=True, eq=False)
class DryingRate:
    """How fast one kind of slab dries, in any air.

    concrete, slab : what it is
    gaps : (g,) target less the air's humidity
    hours_at_reference : (g,) time to the target at 20 °C [h]
    """

    concrete: Concrete
    slab: Slab
    target: float
    gaps: Array
    hours_at_reference: Array

    @classmethod
    def of(
        cls,
        slab: Slab,
        concrete: Concrete,
        target: float = DRY_HUMIDITY,
        depth: float = PROBE_DEPTH,
    ) -> DryingRate:
        """The rate of a slab, scaled from the table of its concrete's law.

        Raises
        ------
        ValueError
            As `drying_table` and `DryingTable.at_film`.
        """
        table = drying_table(concrete.law, target, depth)
        fo = table.at_film(concrete.inverse_biot(slab))
        return cls(concrete, slab, target, table.gaps, fo / concrete.fo_per_hour(slab))

    def per_hour(self, humidity: ArrayLike, celsius: ArrayLike) -> Array:
        """Share of the whole drying that an hour in this air does [1/h].

        Parameters
        ----------
        humidity : [0..1]; celsius : [°C], up to 50; the two broadcast

        Raises
        ------
        ValueError
            Outside these.
        """
        gap = self.target - fractions(humidity)
        inside = np.log(np.maximum(gap, self.gaps[0]))
        hours = np.interp(inside, np.log(self.gaps), self.hours_at_reference)
        # Nearer to the target than the table reaches, straight down to nothing.
        near = np.clip(gap / self.gaps[0], 0.0, 1.0)
        return np.asarray(near / hours * drying_factor(celsius, self.concrete.kelvin))

    def hours(self, humidity: ArrayLike, celsius: ArrayLike) -> Array:
        """Hours from the last wetting to the target in steady air; inf where it is never reached.

        Parameters and errors as `per_hour`.

        Reference: the law of `curing.moisture`.
        """
        rates = self.per_hour(humidity, celsius)
        return np.asarray(
            np.divide(1.0, rates, out=np.full(rates.shape, np.inf), where=np.asarray(rates > 0))
        )

    def share(self, hours: ArrayLike, celsius: ArrayLike, humidity: ArrayLike) -> Array:
        """Drying done since `hours[0]` at each hour, as a running sum; dry at 1.

        Parameters
        ----------
        hours : (n,) not decreasing; celsius, humidity : (n,) air there, linear between

        Returns
        -------
        (n,) first value 0; the piece wetted at hour a is dry when this has gained 1 since a

        Raises
        ------
        ValueError
            Lengths that differ, hours that run back, values outside their range.
        """
        times, temperatures = checked(hours, celsius)
        moist = fractions(np.atleast_1d(np.asarray(humidity, dtype=float)))
        if moist.shape != times.shape:
            raise ValueError(f"hours and humidity must be of one length, got {moist.shape}")
        rates = self.per_hour(moist, temperatures)
        middle = self.per_hour(
            0.5 * (moist[1:] + moist[:-1]), 0.5 * (temperatures[1:] + temperatures[:-1])
        )
        done = np.zeros(len(times))
        np.cumsum(np.diff(times) * (rates[:-1] + 4.0 * middle + rates[1:]) / 6.0, out=done[1:])
        return done


def hours_of_share(hours: Array, share: Array, start: ArrayLike, amount: float = 1.0) -> Array:
    """When pieces wetted at `start` have done an amount of drying, for all of them at once.

    Parameters
    ----------
    hours, share : (n,) as given to and by `DryingRate.share`
    start : hours of the last wetting, any shape, within `hours`
    amount : above 0; 1 for the target, `curing.moisture.BAND` for its early and late time

    Returns
    -------
    hours on the same axis, linear between knots; inf where it is not reached by the last hour

    Raises
    ------
    ValueError
        A start outside the hours, or an amount not above 0.
    """
    starts = np.asarray(start, dtype=float)
    if not ((starts >= hours[0]) & (starts <= hours[-1])).all():
        raise ValueError("a wetting must lie within the hours whose air is known")
    if not amount > 0:
        raise ValueError(f"the amount must be above 0, got {amount}")
    wanted = np.interp(starts, hours, share) + amount
    index = np.searchsorted(share, wanted, side="left")
    upper = np.clip(index, 1, len(hours) - 1)
    gained = share[upper] - share[upper - 1]
    into = np.divide(wanted - share[upper - 1], gained, out=np.ones_like(wanted), where=gained > 0)
    found = hours[upper - 1] + into * (hours[upper] - hours[upper - 1])
    return np.asarray(np.where(index < len(hours), np.maximum(found, starts), np.inf))
