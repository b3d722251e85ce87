"""The heating's week as a line of steps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shop import measures
from shop.models import Shop
from shop.services.setup import AirFrom

WIDTH, HEIGHT, TOP, FOOT = 700.0, 150.0, 22.0, 24.0
HOURS = 168.0
NIGHT_BEGINS, NIGHT_ENDS = 18.0, 6.0


@dataclass(frozen=True)
class Level:
    y: float
    words: str


@dataclass(frozen=True)
class StepPicture:
    path: str
    nights: tuple[tuple[float, float], ...]  # x and width
    days: tuple[float, ...]  # x of each midnight
    levels: tuple[Level, ...]
    words: str  # the same, read out


def step_picture(plan: Sequence[AirFrom], usual: float, shop: Shop) -> StepPicture:
    steps = week_of(plan, usual)
    low, high = min(c for _, c in steps), max(c for _, c in steps)
    span = max(high - low, 4.0)
    middle = (high + low) / 2

    def y(celsius: float) -> float:
        room = HEIGHT - TOP - FOOT
        return round(TOP + room / 2 - (celsius - middle) / span * room * 0.8, 1)

    return StepPicture(
        path=_path(steps, y),
        nights=tuple(_nights()),
        days=tuple(round(day * 24 * WIDTH / HOURS, 1) for day in range(7)),
        levels=tuple(
            Level(y(c), measures.words(c, "temperature", shop)) for c in sorted({low, high})
        ),
        words=f"{measures.words(low, 'temperature', shop)} – "
        f"{measures.words(high, 'temperature', shop)}",
    )


def week_of(plan: Sequence[AirFrom], usual: float) -> list[tuple[float, float]]:
    """(hour of the week, °C) from Monday 00:00; Sunday's last row holds until Monday's first."""
    if not plan:
        return [(0.0, usual)]
    ordered = sorted(plan)
    steps = [(row.weekday * 24.0 + row.hour, row.celsius) for row in ordered]
    return steps if steps[0][0] == 0 else [(0.0, ordered[-1].celsius), *steps]


def _path(steps: list[tuple[float, float]], y) -> str:  # type: ignore[no-untyped-def]
    first, *rest = steps
    parts = [f"M0 {y(first[1])}"]
    for hour, celsius in rest:
        parts.append(f"H{hour * WIDTH / HOURS:.1f}V{y(celsius)}")
    return "".join([*parts, f"H{WIDTH:.0f}"])


def _nights() -> list[tuple[float, float]]:
    scale = WIDTH / HOURS
    evening = 24.0 - NIGHT_BEGINS
    starts = [(0.0, NIGHT_ENDS)] + [
        (day * 24 + NIGHT_BEGINS, evening + (NIGHT_ENDS if day < 6 else 0.0)) for day in range(7)
    ]
    return [(round(x * scale, 1), round(width * scale, 1)) for x, width in starts]
