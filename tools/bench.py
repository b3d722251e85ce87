"""`make bench`: what the engine costs, as ratios measured side by side in one run.

Times of one run on one machine mean little; the ratio of two ways of doing the same, in turns in
the same process, means something. Each line names both ways. Times are the processor's, so that
what else the machine does counts least. Where two ways answer the same question their answers are
compared first.

A topic is a function in `TOPICS`; `python -m tools.bench reading pieces` measures some of them.
"""

from __future__ import annotations

import math
import os
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from curing.climate import Climate, Readings, compose
from curing.doubt import Doubt, within
from curing.maturity import ABSOLUTE_ZERO, GAS_CONSTANT, equivalent_age
from curing.sealing import Sealer
from curing.spread import Range, spread
from curing.strength import PLACEHOLDER
from curing.timeline import Shifts, Step, derive
from tools.bench_shop import job_of, throwaway_shop

Array = NDArray[np.float64]
Work = Callable[[], Any]

ENERGY, OTHER_ENERGY = 41500.0, 33500.0
MINUTE = 1 / 60
ROOMS, DAYS, AHEAD = 5, 60, 90
NOW = DAYS * 24.0
DEMOLD_MPA = 17.2
COUNTS = (100, 1_000, 10_000)
TAGS = 30


def seconds(*ways: Work, times: int = 5) -> list[float]:
    """Processor seconds of the quickest run of each way, the ways run in turns."""
    quickest = [math.inf] * len(ways)
    for _ in range(times):
        for number, way in enumerate(ways):
            start = time.process_time()
            way()
            quickest[number] = min(quickest[number], time.process_time() - start)
    return quickest


def told(taken: float) -> str:
    return f"{taken:.2f} s" if taken >= 1 else f"{taken * 1e3:.3g} ms"


def line(ours: str, theirs: str, taken: float, against: float) -> None:
    """So many times quicker, or, where it is slower, what part of the other's speed."""
    times = against / taken
    print(f"{times:10,.2f} x as fast as {theirs}\n{'':13}{ours}: {told(taken)}, {told(against)}")


def at_each_count(way: Callable[[int], Any]) -> list[float]:
    """Seconds at each of `COUNTS`; the greatest is long enough to be run once."""
    return [
        seconds(partial(way, count), times=1 if count == COUNTS[-1] else 3)[0] for count in COUNTS
    ]


def growth(what: str, taken: list[float]) -> None:
    """Against the first count; level growth is as many times the time as things."""
    grown = ", ".join(
        f"{count:,}: {told(spent)} ({spent / taken[0]:.1f} x)"
        for count, spent in zip(COUNTS, taken, strict=True)
    )
    print(f"{'':13}{what}: {grown}")


# Equivalent age of one history.


def age() -> None:
    """A year of one-minute readings, its equivalent age at each of them"""
    hours = np.arange(0, 365 * 24, MINUTE)
    noise = np.random.default_rng(7).normal(0, 0.05, len(hours))
    celsius = 17 + 4 * np.sin(hours / 24 * 2 * np.pi) + noise
    per_kelvin, at_reference = ENERGY / GAS_CONSTANT, ENERGY / GAS_CONSTANT / 293.15

    def ours() -> Array:
        return equivalent_age(hours, celsius, ENERGY)

    def one_pass() -> None:
        np.cumsum(np.exp(at_reference - per_kelvin / (celsius - ABSOLUTE_ZERO)))

    def loop(times: Any, degrees: Any) -> list[float]:
        ages = [0.0]
        for i in range(len(times) - 1):
            middle = 0.5 * (degrees[i] + degrees[i + 1]) - ABSOLUTE_ZERO
            rate = math.exp(at_reference - per_kelvin / middle)
            ages.append(ages[-1] + rate * (times[i + 1] - times[i]))
        return ages

    def rate_at(degrees: float) -> float:
        return math.exp(at_reference - per_kelvin / (degrees - ABSOLUTE_ZERO))

    def whole_loop() -> list[float]:
        """As right as ours however far readings lie apart: Simpson's rule over each interval."""
        ages = [0.0]
        for i in range(len(hours) - 1):
            left, right = celsius[i], celsius[i + 1]
            mean = (rate_at(left) + 4 * rate_at(0.5 * (left + right)) + rate_at(right)) / 6
            ages.append(ages[-1] + mean * (hours[i + 1] - hours[i]))
        return ages

    listed = hours.tolist(), celsius.tolist()
    np.testing.assert_allclose(ours(), loop(*listed), rtol=1e-4)
    taken, plain = seconds(ours, one_pass, times=15)
    arrays, lists = seconds(lambda: loop(hours, celsius), lambda: loop(*listed), times=2)
    whole = seconds(whole_loop, times=2)[0]
    line("checked, integrated and summed", "one plain numpy.exp pass and cumsum", taken, plain)
    line("the same", "a Python loop that integrates interval by interval", taken, whole)
    line("the same", "a Python loop by the rate in the middle of each", taken, arrays)
    line("the same", "that loop over lists made beforehand", taken, lists)


# Where many pieces stand.


@dataclass(frozen=True)
class Shop:
    """Rooms' readings and plans, and the air composed of them."""

    readings: list[Readings]
    plan: Readings

    @classmethod
    def of(cls, rooms: int) -> Shop:
        hours = np.arange(0, NOW + MINUTE / 2, MINUTE)
        knots = np.arange(0, NOW + AHEAD * 24.0)
        plan = Readings.of(knots, np.full(len(knots), 18.0), np.full(len(knots), 0.5))
        day = hours / 24 * 2 * np.pi
        return cls([Readings.of(hours, 16 + 4 * np.sin(day + room)) for room in range(rooms)], plan)

    def airs(self) -> list[Climate]:
        return [
            compose(readings=readings, planned=self.plan, now=NOW) for readings in self.readings
        ]


def by_sums(airs: list[Climate], casts: Array) -> Array:
    """(3, n) age now, strength now, time of the demold age; a call a room."""
    demold = PLACEHOLDER.age_at(DEMOLD_MPA)
    found = np.empty((3, len(casts)))
    for number, air in enumerate(airs):
        mine = casts[number :: len(airs)]
        ages = air.equivalent_age(mine, NOW, ENERGY)
        times = air.times_of_age(mine, demold, ENERGY)
        found[:, number :: len(airs)] = ages, PLACEHOLDER.at(ages), times
    return found


def by_history(airs: list[Climate], casts: Array) -> Array:
    """The same, each piece's own history integrated."""
    demold = PLACEHOLDER.age_at(DEMOLD_MPA)
    found = np.empty((3, len(casts)))
    for number, cast in enumerate(casts):
        air = airs[number % len(airs)]
        first = int(np.searchsorted(air.hours, cast, side="right"))
        hours = np.concatenate([[cast], air.hours[first:]])
        celsius = np.concatenate([[air.celsius_at(cast)], air.celsius[first:]])
        ages = equivalent_age(hours, celsius, ENERGY)
        now = np.interp(NOW, hours, ages)
        found[:, number] = now, PLACEHOLDER.at(now), np.interp(demold, ages, hours)
    return found


def pieces() -> None:
    """Age and strength now, time of the demold age: 5 rooms, 60 days of one-minute readings"""
    shop = Shop.of(ROOMS)
    airs = shop.airs()
    casts = {count: np.random.default_rng(11).uniform(0, NOW, count) for count in COUNTS}
    few = casts[1_000]
    sums, histories = by_sums(airs, few), by_history(airs, few)
    np.testing.assert_allclose(sums[:2], histories[:2], rtol=1e-4, atol=1e-4)
    np.testing.assert_allclose(sums[2], histories[2], atol=0.01)

    at_hand = at_each_count(lambda count: by_sums(airs, casts[count]))
    anew = at_each_count(lambda count: by_sums(shop.airs(), casts[count]))
    each = at_each_count(lambda count: by_history(airs, casts[count]))
    against = "integrating each piece's own history, 1,000 pieces"
    line("the sums at hand", against, at_hand[1], each[1])
    line("the air composed and summed anew", against, anew[1], each[1])
    for what, taken in (("at hand", at_hand), ("anew", anew), ("each history", each)):
        growth(what, taken)


def reading() -> None:
    """One more reading in a room with 60 days of one-minute readings: its air and four sums"""
    readings = Shop.of(1).readings[0]
    shop = Shop.of(1)
    more = Readings.of(np.append(readings.hours, NOW + MINUTE), np.append(readings.celsius, 15.0))
    casts = np.linspace(0, NOW, 100)

    def sums(air: Climate) -> Array:
        return np.array(
            [
                air.equivalent_age(casts, NOW, ENERGY),
                air.times_of_age(casts, 500.0, OTHER_ENERGY),
                air.drying_hours(casts, NOW + 500),
                air.film_hours(casts, NOW + 500),
            ]
        )

    before = shop.airs()[0]
    sums(before)

    def added() -> Array:
        return sums(before.extended(NOW + MINUTE, 15.0))

    def anew() -> Array:
        return sums(compose(readings=more, planned=shop.plan, now=NOW + MINUTE))

    np.testing.assert_allclose(added(), anew(), rtol=1e-9)
    line("added to the sums there are", "composing and summing anew", *seconds(added, anew))


# Whole routes.


def timelines() -> None:
    """Timelines of pieces with two coats, a room with 60 days of one-minute readings"""
    air = Shop.of(1).airs()[0]
    shifts = Shifts([(d * 24 + 7.0, d * 24 + 15.5) for d in range(DAYS + AHEAD) if d % 7 < 5])
    steps = [
        Step("cast", "cast"),
        Step("demold", "demold", strength_mpa=DEMOLD_MPA, kind="demold", labour_hours=0.7),
        Step("hone", "hone", wets=True, labour_hours=0.5),
        Step("seal-1", "coat 1", coat=1, drying_hours=48, labour_hours=0.5),
        Step("seal-2", "coat 2", coat=2, labour_hours=0.5),
        Step("deliver", "deliver", film=True),
    ]

    def derived(count: int) -> None:
        for number in range(count):
            derive(
                cast=1300.0 + number % 200,
                steps=steps,
                climate=air,
                curve=PLACEHOLDER,
                shifts=shifts,
                sealer=Sealer(),
            )

    derived(1)
    growth("pieces", at_each_count(derived))


def ranges() -> None:
    """Early, likely and late of a job of three pieces, 1,000 draws, 60 days of minutes behind it"""
    air = Shop.of(1).airs()[0]
    shifts = Shifts([(d * 24 + 7.0, d * 24 + 15.5) for d in range(DAYS + AHEAD) if d % 7 < 5])
    doubt = Doubt(draws=1_000)
    curves = within(PLACEHOLDER, 0.3, doubt)
    steps = (
        Step("cast", "cast"),
        Step("demold", "demold", strength_mpa=DEMOLD_MPA, kind="demold", labour_hours=0.7),
        Step("hone", "hone", wets=True, labour_hours=0.5),
        Step("seal-1", "coat 1", coat=1, drying_hours=48, labour_hours=0.5),
        Step("seal-2", "coat 2", coat=2, labour_hours=0.5),
        Step("deliver", "deliver", film=True),
    )
    given: dict[str, Any] = {
        "steps": steps, "climate": air, "curve": PLACEHOLDER, "shifts": shifts,
        "sealer": Sealer(), "now": NOW,
    }  # fmt: skip

    def job() -> None:
        found = [
            spread(cast=NOW - 6.0 + piece, doubt=doubt, curves=curves, **given).workable[-1]
            for piece in range(3)
        ]
        Range.of(np.maximum.reduce(found))

    def one_by_one() -> None:
        """A tenth of the draws, each by the timeline; its air and curve left as they are."""
        for piece in range(3):
            for _ in range(doubt.draws // 10):
                derive(cast=NOW - 6.0 + piece, **given)

    first = time.process_time()
    job()
    print(f"{'':13}the first job in this air: {told(time.process_time() - first)}")
    taken, apart = seconds(job, one_by_one, times=3)
    line("all draws at once", "the timeline gone through draw by draw", taken, apart * 10)


# Sheets of paper.


def tags() -> None:
    """PDF of 30 form tags, from the question to the file"""
    with throwaway_shop():
        # Only now that the shop is there.
        from jobs.services.sheets.chosen import chosen
        from jobs.services.sheets.paper import LETTER, rendered
        from jobs.services.sheets.tags import tags_markup, tags_pdf
        from shop.services.settings import the_shop

        number, shop = job_of(TAGS), the_shop()
        markup = tags_markup(chosen(job=number), shop, LETTER)

        def ours() -> bytes:
            return tags_pdf(chosen(job=number), shop, LETTER)

        def alone() -> bytes:
            pdf: bytes = rendered(markup).write_pdf()
            return pdf

        taken, against = seconds(ours, alone, times=3)
        what = "WeasyPrint drawing the same finished page alone"
        line(f"{TAGS} tags, all of it ({taken / against:.2f} x its time)", what, taken, against)


TOPICS: dict[str, Callable[[], None]] = {
    topic.__name__: topic for topic in (age, pieces, reading, timelines, ranges, tags)
}


def main(names: list[str]) -> int:
    unknown = [name for name in names if name not in TOPICS]
    if unknown:
        print(f"no topic {unknown[0]!r}: choose from {', '.join(TOPICS)}", file=sys.stderr)
        return 2
    waiting, processors = os.getloadavg()[0], os.cpu_count()
    print(f"{waiting:.1f} programs at work on {processors} processors")
    for name in names or TOPICS:
        print(f"\n{TOPICS[name].__doc__}")
        TOPICS[name]()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
