"""The chance of a clean demold over age as a drawing: where each line and bar goes. No markup."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from curing.outcomes import ChanceCurve, Outcome
from jobs.services.trusted_ages import DemoldKind, Learned

Array = NDArray[np.float64]

LEFT, RIGHT = 48, 12
STRIP = 56  # over and under the curve, for the counts
AXIS = 34  # under all of it
POINTS = 80
CLOSE = 30.0
TICKS = (4, 6, 8, 10, 12, 14, 16, 18, 20, 24, 28, 32, 36, 42, 48, 60, 72, 96, 120, 168, 240, 336,
         504, 672, 1000)  # fmt: skip
TALLEST, ONE = 34.0, 6.0  # of a bar: at the most, and for one demold
LEAST_WIDTH = 3.0


@dataclass(frozen=True)
class Tick:
    at: float
    label: str


@dataclass(frozen=True)
class Bar:
    x: float
    y: float
    width: float
    height: float
    count: int
    label_y: float
    words: str


@dataclass(frozen=True)
class GateLine:
    name: str
    x: float


def ages_for(kind: DemoldKind, learned: Learned) -> tuple[float, float]:
    """From the least to the greatest age that is of interest, with some room."""
    ages = [age for age, _ in kind.outcomes]
    ages += [learned.default, learned.in_force, learned.floor, learned.suggestion.suggested]
    return 0.75 * min(ages), 1.25 * max(ages)


@dataclass(frozen=True)
class Chart:
    kind: DemoldKind
    learned: Learned
    width: int
    height: int
    name: str

    @cached_property
    def span(self) -> tuple[float, float]:
        return ages_for(self.kind, self.learned)

    @cached_property
    def curve(self) -> ChanceCurve:
        return self.learned.evidence.curve(np.geomspace(*self.span, POINTS))

    @property
    def left(self) -> int:
        return LEFT

    @property
    def right(self) -> int:
        return self.width - RIGHT

    @property
    def ceiling(self) -> int:
        return STRIP

    @property
    def floor(self) -> int:
        return self.height - AXIS - STRIP

    @property
    def axis(self) -> int:
        return self.height - AXIS

    def x(self, hours: float) -> float:
        low, high = (math.log(end) for end in self.span)
        share = (math.log(hours) - low) / (high - low)
        return round(LEFT + share * (self.right - LEFT), 1)

    def y(self, chance: float) -> float:
        return round(self.floor - chance * (self.floor - self.ceiling), 1)

    def _points(self, chances: Array, *, backwards: bool = False) -> str:
        pairs = list(zip(self.curve.ages, chances, strict=True))
        return " ".join(
            f"{self.x(float(age))},{self.y(float(chance))}"
            for age, chance in (reversed(pairs) if backwards else pairs)
        )

    @property
    def line(self) -> str:
        return self._points(self.curve.mean)

    @property
    def band(self) -> str:
        return f"{self._points(self.curve.high)} {self._points(self.curve.low, backwards=True)}"

    @property
    def age_ticks(self) -> Iterator[Tick]:
        last = -CLOSE
        for hours in TICKS:
            if self.span[0] <= hours <= self.span[1] and self.x(hours) - last >= CLOSE:
                last = self.x(hours)
                yield Tick(last, str(hours))

    @property
    def chance_ticks(self) -> list[Tick]:
        return [Tick(self.y(share / 100), f"{share} %") for share in (0, 25, 50, 75, 95)]

    @property
    def gates(self) -> list[GateLine]:
        learned = self.learned
        lines = [GateLine("floor", learned.floor), GateLine("default", learned.default)]
        if learned.suggestion.asks_yes:
            lines.append(GateLine("suggested", learned.suggested))
        lines.append(GateLine("in-force", learned.in_force))
        return [GateLine(line.name, self.x(line.x)) for line in lines]

    @property
    def clean(self) -> list[Bar]:
        return list(self._bars({Outcome.CLEAN}, base=self.ceiling - 4.0, up=True))

    @property
    def not_clean(self) -> list[Bar]:
        others = set(Outcome) - {Outcome.CLEAN}
        return list(self._bars(others, base=self.floor + 4.0, up=False))

    def _bars(self, outcomes: set[Outcome], base: float, *, up: bool) -> Iterator[Bar]:
        tally = Counter(int(age) for age, said in self.kind.outcomes if Outcome(said) in outcomes)
        each = min(ONE, TALLEST / max(tally.values(), default=1))
        for hour, count in sorted(tally.items()):
            left = self.x(max(hour, self.span[0]))
            width = max(LEAST_WIDTH, self.x(hour + 1) - left - 1.0)
            height = round(each * count, 1)
            yield Bar(
                x=left,
                y=round(base - height if up else base, 1),
                width=round(width, 1),
                height=height,
                count=count,
                label_y=round(base - height - 3 if up else base + height + 11, 1),
                words=f"{hour} to {hour + 1} h: {count} {'clean' if up else 'not clean'}",
            )
