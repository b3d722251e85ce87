"""What the engine makes a step wait for, as slots by the day of the step before.

Of a day the longest wait of all its starts: never too early, whichever hour is planned. Pieces that
ask the same of the same air share one answer.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field, replace

import numpy as np

from curing.climate import Climate
from curing.damp import NEAR, known, moisture_clock, moisture_until
from curing.drying_rate import DryingRate
from curing.route import Weighed
from curing.waits import weighed_until
from jobs.planning.filling.slots import EPS, HOURS, Floats, Slots
from jobs.services.how_sure import Drawn

NEVER = 1 << 20  # slots: beyond every horizon


Draw = Callable[[Drawn, Floats], Floats]


@dataclass(frozen=True)
class Law:
    """When something is met, from the moment it counts from. Both in hours on the engine's axis.

    Two of one `key` say the same. `drawn` is the same in each of the engine's draws; None: a rule,
    in which nothing is in doubt. `stream` tells apart draws of one key.
    """

    key: Hashable
    until: Callable[[Floats], Floats] = field(compare=False)
    drawn: Draw | None = field(default=None, compare=False)
    stream: Hashable = field(default=None, compare=False)


@dataclass(frozen=True)
class Age:
    """What is asked of the concrete: equivalent ages [h at 20 °C] and strengths [MPa]."""

    hours: float
    strengths: tuple[float, ...]
    activation_energy: float
    mix: int

    def until(self, drawn: Drawn, moments: Floats) -> Floats:
        age = np.full(len(moments), self.hours)
        for mpa in self.strengths:
            age = np.maximum(age, drawn.curves.ages_at(mpa))
        return drawn.age_clock(self.activation_energy).time_of(moments, age)


def hours_law(hours: float) -> Law:
    return Law(("hours", round(hours, 9)), lambda moments: moments + hours)


def age_law(room: int, climate: Climate, likely: float, asked: Age) -> Law:
    """Until the concrete cast then has an equivalent age, `likely` by the mix's curve."""

    def until(moments: Floats) -> Floats:
        return climate.age_clock(asked.activation_energy, 20.0).times_of(moments, likely)

    key = ("age", room, asked.activation_energy, round(likely, 6))
    return Law(key, until, asked.until, asked)


def drying_law(room: int, climate: Climate, hours: float) -> Law:
    return Law(
        ("drying", room, hours),
        lambda moments: climate.drying_clock().times_of(moments, hours),
        lambda drawn, moments: drawn.air.drying().time_of(moments, np.full(len(moments), hours)),
    )


def film_law(room: int, climate: Climate, hours: float) -> Law:
    return Law(
        ("film", room, hours),
        lambda moments: climate.film_clock().times_of(moments, hours),
        lambda drawn, moments: drawn.air.film().time_of(moments, np.full(len(moments), hours)),
    )


def moisture_law(room: int, climate: Climate, rate: DryingRate, mix: int) -> Law:
    """By the rule that adds, and by the engine's march where the air comes near the target."""
    damp = bool((known(climate.humidity) > rate.target - NEAR).any())

    def until(moments: Floats) -> Floats:
        if not damp:
            return moisture_clock(climate, rate).times_of(moments, 1.0)
        return np.array([moisture_until(climate, rate, float(moment)) for moment in moments])

    def drawn_until(drawn: Drawn, moments: Floats) -> Floats:
        return drawn.air.moisture(rate).time_of(moments, drying_factors(drawn, mix))

    key = ("moisture", room, rate.concrete, rate.slab, rate.target)
    return Law(key, until, drawn_until, mix)


def weighing_law(weighed: Weighed, now: float, mix: int) -> Law:
    def until(moments: Floats) -> Floats:
        return np.array([weighed_until(weighed, float(moment), now) for moment in moments])

    def drawn_until(drawn: Drawn, moments: Floats) -> Floats:
        rows = zip(moments.tolist(), drying_factors(drawn, mix).tolist(), strict=True)
        return np.array(
            [
                weighed_until(replace(weighed, likely=weighed.likely * factor), moment, now)
                for moment, factor in rows
            ]
        )

    return Law(("weighing", weighed, now), until, drawn_until, mix)


def drying_factors(drawn: Drawn, mix: int) -> Floats:
    """Of the stream that the dates of the mix's pieces are drawn from."""
    return drawn.doubt.drying_factors(f"mix {mix}")


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
