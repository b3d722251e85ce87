"""What the engine makes a step wait for, as slots by the day of the step before.

Of a day the longest wait of all its starts: never too early, whichever hour is planned. Pieces that
ask the same of the same air share one answer.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field

import numpy as np

from curing.climate import Climate
from curing.damp import NEAR, known, moisture_clock, moisture_until
from curing.drying_rate import DryingRate
from curing.route import Weighed
from curing.waits import weighed_until
from jobs.planning.filling.slots import EPS, HOURS, Floats, Slots

NEVER = 1 << 20  # slots: beyond every horizon


@dataclass(frozen=True)
class Law:
    """When something is met, from the moment it counts from. Both in hours on the engine's axis.

    Two of one `key` say the same.
    """

    key: Hashable
    until: Callable[[Floats], Floats] = field(compare=False)


def hours_law(hours: float) -> Law:
    return Law(("hours", round(hours, 9)), lambda moments: moments + hours)


def age_law(room: int, climate: Climate, age: float, activation_energy: float) -> Law:
    """Until the concrete cast then has an equivalent age [h at 20 °C]."""

    def until(moments: Floats) -> Floats:
        return climate.age_clock(activation_energy, 20.0).times_of(moments, age)

    return Law(("age", room, activation_energy, round(age, 6)), until)


def drying_law(room: int, climate: Climate, hours: float) -> Law:
    return Law(
        ("drying", room, hours), lambda moments: climate.drying_clock().times_of(moments, hours)
    )


def film_law(room: int, climate: Climate, hours: float) -> Law:
    return Law(("film", room, hours), lambda moments: climate.film_clock().times_of(moments, hours))


def moisture_law(room: int, climate: Climate, rate: DryingRate) -> Law:
    """By the rule that adds, and by the engine's march where the air comes near the target."""

    damp = bool((known(climate.humidity) > rate.target - NEAR).any())

    def until(moments: Floats) -> Floats:
        if not damp:
            return moisture_clock(climate, rate).times_of(moments, 1.0)
        return np.array([moisture_until(climate, rate, float(moment)) for moment in moments])

    return Law(("moisture", room, rate.concrete, rate.slab, rate.target), until)


def weighing_law(weighed: Weighed, now: float) -> Law:
    def until(moments: Floats) -> Floats:
        return np.array([weighed_until(weighed, float(moment), now) for moment in moments])

    return Law(("weighing", weighed, now), until)


@dataclass(frozen=True, eq=False)
class Waits:
    """Laws turned into slots, each once."""

    slots: Slots
    _known: dict[tuple[Law, int, int], tuple[int, ...]] = field(default_factory=dict, repr=False)

    def by_day(self, law: Law, length: int, counted: int = 0) -> tuple[int, ...]:
        """Slots from the end of a step of `length`, by the day it starts on.

        counted : slots before that end from which the law counts: a cast's own part, whose water
            goes in as it begins
        """
        key = (law, length, counted)
        if key not in self._known:
            self._known[key] = self._made(law, length, counted)
        return self._known[key]

    def _made(self, law: Law, length: int, counted: int) -> tuple[int, ...]:
        starts = self.slots.starts(length).slots
        ends = self.slots.hours(starts + length)
        until = law.until(ends - HOURS * counted)
        with np.errstate(invalid="ignore"):
            gaps = np.ceil((until - ends) / HOURS - EPS)
        least = np.where(np.isfinite(gaps), np.clip(gaps, 0, NEVER), NEVER).astype(np.int64)
        return self.slots.by_day(least, length)

    def until(self, law: Law, moment: float) -> int:
        """The first slot at which it is met, from a moment that is a fact."""
        found = float(law.until(np.array([moment]))[0])
        return self.slots.up(found) if math.isfinite(found) else NEVER


__all__ = [
    "NEVER",
    "Law",
    "Waits",
    "age_law",
    "drying_law",
    "film_law",
    "hours_law",
    "moisture_law",
    "weighing_law",
]
