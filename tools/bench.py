"""`make bench`: what the engine costs, as ratios measured side by side in one run.

Times of one run on one machine mean little; the ratio of two ways of doing the same, one after
the other in the same process, means something. Each line names both ways.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from typing import Any

import numpy as np

from curing.climate import Climate, Readings, compose
from curing.maturity import GAS_CONSTANT, equivalent_age
from curing.sealing import Sealer
from curing.strength import PLACEHOLDER
from curing.timeline import Shifts, Step, derive

ENERGY = 41500.0


def best(work: Callable[[], Any], times: int = 5) -> float:
    """Seconds of the quickest of some runs: what the machine did meanwhile counts least so."""
    seconds = math.inf
    for _ in range(times):
        start = time.perf_counter()
        work()
        seconds = min(seconds, time.perf_counter() - start)
    return seconds


def line(what: str, against: str, ratio: float, detail: str) -> None:
    print(f"{what}\n    {ratio:8.2f} x {against}   ({detail})")


def year_of_minutes() -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    hours = np.arange(0, 365 * 24, 1 / 60)
    noise = np.random.default_rng(7).normal(0, 0.05, len(hours))
    return hours, 17 + 4 * np.sin(hours / 24 * 2 * np.pi) + noise


def bench_age() -> None:
    hours, celsius = year_of_minutes()

    def plain() -> None:
        rate = np.exp(ENERGY / GAS_CONSTANT * (1 / 293.15 - 1 / (celsius + 273.15)))
        np.cumsum(rate)

    def loop() -> None:
        total = 0.0
        for i in range(20_000):
            middle = 0.5 * (celsius[i] + celsius[i + 1]) + 273.15
            rate = math.exp(ENERGY / GAS_CONSTANT * (1 / 293.15 - 1 / middle))
            total += rate * (hours[i + 1] - hours[i])

    ours, theirs = best(lambda: equivalent_age(hours, celsius)), best(plain)
    per_interval = best(loop, 3) / 20_000 * (len(hours) - 1)
    line(
        "Equivalent age of a year of one-minute readings",
        "one numpy.exp pass and cumsum",
        ours / theirs,
        f"{ours * 1e3:.0f} ms against {theirs * 1e3:.0f} ms",
    )
    line("    the same, done by a Python loop", "ours", per_interval / ours, "loop over ours")


def room(days: int) -> Climate:
    hours = np.arange(0, days * 24, 1 / 60)
    celsius = 16 + 4 * np.sin(hours / 24 * 2 * np.pi)
    knots = np.arange(0, (days + 90) * 24.0)
    plan = Readings.of(knots, np.full(len(knots), 18.0), np.full(len(knots), 0.5))
    return compose(readings=Readings.of(hours, celsius), planned=plan, now=days * 24.0)


def bench_pieces() -> None:
    rooms = [room(60) for _ in range(5)]
    casts = np.random.default_rng(11).uniform(0, 1400, 1000)
    now = 60 * 24.0

    def by_sums() -> None:
        for number, cast in enumerate(casts):
            air = rooms[number % 5]
            air.time_of_age(float(cast), 18.0, ENERGY)
            air.equivalent_age(float(cast), now, ENERGY)

    def by_history() -> None:
        for number, cast in enumerate(casts[:40]):
            air = rooms[number % 5]
            since = air.hours >= cast
            ages = equivalent_age(air.hours[since], air.celsius[since], ENERGY)
            np.searchsorted(ages, 18.0)

    by_sums()
    ours, theirs = best(by_sums, 3) / len(casts), best(by_history, 3) / 40
    line(
        "Age of a piece and the time of its demold age, 60 days of one-minute readings",
        "ours, integrating each piece's own history",
        theirs / ours,
        f"{ours * 1e6:.0f} µs against {theirs * 1e6:.0f} µs a piece",
    )


def bench_timeline() -> None:
    air = room(30)
    shifts = Shifts([(d * 24 + 7.0, d * 24 + 15.5) for d in range(120) if d % 7 < 5])
    steps = [
        Step("cast", "cast"),
        Step("demold", "demold", strength_mpa=17.2, kind="demold", labour_hours=0.7),
        Step("hone", "hone", wets=True, labour_hours=0.5),
        Step("seal-1", "coat 1", coat=1, drying_hours=48, labour_hours=0.5),
        Step("seal-2", "coat 2", coat=2, labour_hours=0.5),
        Step("deliver", "deliver", film=True),
    ]

    def pieces(count: int) -> Callable[[], None]:
        def work() -> None:
            for number in range(count):
                derive(
                    cast=500.0 + number % 200,
                    steps=steps,
                    climate=air,
                    curve=PLACEHOLDER,
                    shifts=shifts,
                    sealer=Sealer(),
                )

        return work

    pieces(1)()
    few, many = best(pieces(100), 3), best(pieces(1000), 3)
    line(
        "Timelines of 1,000 pieces",
        "those of 100",
        many / few,
        f"{many * 1e3:.0f} ms against {few * 1e3:.0f} ms; 10 is level growth",
    )


if __name__ == "__main__":
    bench_age()
    bench_pieces()
    bench_timeline()
