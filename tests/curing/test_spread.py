"""The range is the timeline gone through draw by draw: held against exactly that."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curing.climate import Climate, Readings, compose
from curing.doubt import AirDoubt, Doubt, ScaledCurves, from_fit, quantiles, within
from curing.drawn import air_paths
from curing.drying_rate import DryingRate
from curing.fitting import Form, fit
from curing.moisture import Concrete, Slab
from curing.sealing import CoatLimits, Sealer
from curing.spread import Range, Spread, Streams, chance, spread
from curing.strength import PLACEHOLDER, Hyperbolic
from curing.timeline import Shifts, Step, Weighed, derive

DOUBT = Doubt(draws=60)
SHIFTS = Shifts([(d * 24 + 7.0, d * 24 + 15.5) for d in range(90) if d % 7 < 5])
SEALER = Sealer(limits=CoatLimits(celsius_least=10.0))
RATE = DryingRate.of(Slab(0.019), Concrete(), 0.85)


def room(until: float = 100.0, *, gap: tuple[float, float] | None = None) -> Climate:
    """Measured up to an hour, a wave about 17 °C; the heating's plan steps from day to night."""
    hours = np.arange(0.0, until + 0.01, 0.5)
    if gap:
        hours = hours[(hours <= gap[0]) | (hours >= gap[1])]
    celsius = 17.0 + 3.0 * np.sin(hours / 24 * 2 * np.pi)
    knots = np.arange(-48.0, 24.0 * 90)
    plan = np.where((knots % 24 > 6) & (knots % 24 < 18), 20.0, 15.0)
    return compose(
        readings=Readings.of(hours, celsius, np.full(len(hours), 0.55)),
        planned=Readings.of(knots, plan, np.full(len(knots), 0.6)),
        now=until,
    )


ROUTE = (
    Step("cast", "cast"),
    Step("demold", "demold", strength_mpa=17.2, handling_mpa=14.0, trusted_hours=16.0,
         kind="demold", labour_hours=0.7),
    Step("hone", "hone", equivalent_hours=40.0, wets=True, labour_hours=2.5),
    Step("seal-1", "coat 1", coat=1, drying_hours=30.0, labour_hours=0.5),
    Step("seal-2", "coat 2", coat=2, labour_hours=0.5, since_cast_hours=70.0),
    Step("crate", "crate", film=True, labour_hours=0.5),
    Step("deliver", "deliver", since_previous_hours=2.0),
)  # fmt: skip


ROOM = room()


def arguments(climate: Climate = ROOM, **others: Any) -> dict[str, Any]:
    return {
        "cast": 80.0,
        "steps": ROUTE,
        "climate": climate,
        "curve": PLACEHOLDER,
        "shifts": SHIFTS,
        "sealer": SEALER,
        "coating_climate": climate,
        "now": climate.now,
        **others,
    }


def one_by_one(given: dict[str, Any], doubt: Doubt, curves: ScaledCurves) -> list[list[float]]:
    """Workable times of each draw by `derive`, with that draw's air, curve, drying and labour."""
    climate, steps = given["climate"], given["steps"]
    paths = air_paths(climate, doubt, 0)
    drying = doubt.drying_factors(0)
    labour = {step.key: doubt.labour_factors(0, step.key) for step in steps}
    found = []
    for number in range(doubt.draws):
        celsius = climate.celsius.copy()
        celsius[paths.knots] += paths.error[number]
        drawn = replace(climate, celsius=celsius, _clocks={})
        changed = []
        for step in steps:
            own = step.labour_hours if step.coat else step.labour_hours * labour[step.key][number]
            changed.append(replace(step, labour_hours=own))
            if step.dries:
                slower = Concrete(d1=Concrete().d1 / drying[number])
                rate = DryingRate.of(step.dries.slab, slower, step.dries.target)
                changed[-1] = replace(changed[-1], dries=rate)
            if step.weighed:
                likely = step.weighed.likely * drying[number]
                changed[-1] = replace(changed[-1], weighed=replace(step.weighed, likely=likely))
        scale = float(curves.factors[number])
        curve = Hyperbolic(PLACEHOLDER.su * scale, PLACEHOLDER.k, PLACEHOLDER.t0)
        milestones = derive(**{**given, "climate": drawn, "steps": changed, "curve": curve})
        found.append([milestone.workable for milestone in milestones])
    return found


CASES: dict[str, dict[str, Any]] = {
    "not cast yet": {"cast": 110.0},
    "curing": {},
    "a gap in the readings": {"climate": room(gap=(82.0, 95.0))},
    "demolded": {"done": {"cast": 80.0, "demold": 99.0}},
    "one coat on": {
        "cast": 8.0,
        "done": {"cast": 8.0, "demold": 30.0, "hone": 33.0, "seal-1": 98.0},
    },
    "drying by the model": {
        "steps": (*ROUTE[:3], replace(ROUTE[3], drying_hours=None, dries=RATE), *ROUTE[4:])
    },
    "drying by weighing": {
        "steps": (
            *ROUTE[:3],
            replace(ROUTE[3], drying_hours=None, weighed=Weighed(None, 125.0, 40.0)),
            *ROUTE[4:],
        )
    },
    "weighed dry": {
        "cast": 8.0,
        "done": {"cast": 8.0, "demold": 30.0, "hone": 33.0},
        "steps": (
            *ROUTE[:3],
            replace(ROUTE[3], drying_hours=None, weighed=Weighed(99.0, 123.0, 40.0)),
            *ROUTE[4:],
        ),
    },
    "never weighed, and late for it": {
        "cast": 8.0,
        "done": {"cast": 8.0, "demold": 30.0, "hone": 33.0},
        "steps": (
            *ROUTE[:3],
            replace(ROUTE[3], drying_hours=None, weighed=Weighed(None, None, 40.0)),
            *ROUTE[4:],
        ),
    },
    "wetted between coats": {
        "steps": (*ROUTE[:4], Step("wash", "wash", wets=True, labour_hours=0.2), *ROUTE[4:])
    },
    "no recoat window": {"sealer": replace(SEALER, recoat_greatest=None)},
}


@pytest.mark.parametrize("case", CASES)
def test_each_draw_is_the_timeline_of_that_draw(case: str) -> None:
    given = arguments(**CASES[case])
    curves = within(PLACEHOLDER, 0.3, DOUBT, 0)
    found = spread(**given, doubt=DOUBT, curves=curves)
    # The sums of a draw run straight from hour to hour where the timeline's bend: minutes apart,
    # and now and then on the two sides of a shift's end.
    apart = np.abs(found.workable.T - np.array(one_by_one(given, DOUBT, curves)))
    assert np.mean(apart < 0.05) > 0.99


def ready_of(given: dict[str, Any], doubt: Doubt, band: float = 0.3) -> Spread:
    return spread(**given, doubt=doubt, curves=within(given["curve"], band, doubt, 0))


def test_the_same_facts_give_the_same_range() -> None:
    again = room()
    one = ready_of(arguments(), DOUBT)
    other = ready_of(arguments(again, coating_climate=again), DOUBT)
    assert np.array_equal(one.workable, other.workable)


def test_early_likely_and_late_come_in_order() -> None:
    for one in ready_of(arguments(), DOUBT).ranges():
        assert one.early <= one.likely <= one.late


def test_without_doubt_the_range_is_the_timeline() -> None:
    sure = Doubt(AirDoubt(sd=0.0), drying=(1.0, 1.0), labour=0.0, draws=10)
    found = ready_of(arguments(), sure, band=0.0)
    derived = [milestone.workable for milestone in derive(**arguments())]
    assert found.workable == pytest.approx(np.repeat(derived, 10).reshape(-1, 10), abs=1e-6)


def test_more_draws_converge() -> None:
    """The late time of 200 draws lies nearer to that of 2,000 than that of 20."""

    def late(draws: int, seed: int = 0) -> float:
        given = arguments(steps=ROUTE[:2])
        return float(quantiles(ready_of(given, Doubt(draws=draws, seed=seed)).earliest[1])[2])

    many = late(2000)
    apart = np.mean([abs(late(200, seed) - many) for seed in range(8)])
    further = np.mean([abs(late(20, seed) - many) for seed in range(8)])
    assert apart < further
    assert apart < 0.25


def test_the_range_shrinks_as_measured_hours_replace_expected_ones() -> None:
    """Over the cure of one casting: how far apart early and late of its demold age lie."""
    sure_curve = Doubt(labour=0.0, draws=400)
    widths = []
    for until in (82.0, 90.0, 96.0, 110.0):
        air = room(until)
        found = ready_of(arguments(air, coating_climate=air), sure_curve, band=0.0)
        early, _, late = quantiles(found.earliest[1]).tolist()
        widths.append(late - early)
    assert widths == sorted(widths, reverse=True)
    assert widths[0] > 1.0
    assert widths[-1] == pytest.approx(0.0, abs=1e-6)


def test_hours_that_were_measured_carry_no_error() -> None:
    air = room(gap=(40.0, 52.0))
    paths = air_paths(air, DOUBT, 0)
    drawn = np.zeros(len(air.hours))
    drawn[paths.knots] = np.abs(paths.error).max(axis=0)
    measured = np.zeros(len(air.hours), dtype=bool)
    measured[:-1] |= air.measured
    measured[1:] |= air.measured
    assert drawn[measured] == pytest.approx(0.0, abs=1e-9)
    inside = (air.hours > 43) & (air.hours < 49)
    assert (drawn[inside] > 0.5).all()


def test_the_error_grows_to_its_stated_size() -> None:
    """An Ornstein-Uhlenbeck process from nothing: sd² (1 - exp(-2 t / memory)), Gardiner 2009."""
    air = room()
    doubt = Doubt(AirDoubt(sd=2.0, memory=18.0), draws=4000)
    paths = air_paths(air, doubt, 0)
    hours = air.hours[paths.knots]
    for lead in (2.0, 12.0, 40.0, 300.0):
        place = int(np.searchsorted(hours, 100.0 + lead))
        sd = 2.0 * math.sqrt(1.0 - math.exp(-2.0 * (hours[place] - 100.0) / 18.0))
        assert paths.error[:, place].std() == pytest.approx(sd, rel=0.06)


def test_pieces_in_one_room_share_its_air_and_have_labour_of_their_own() -> None:
    given = arguments(cast=110.0)
    curves = within(PLACEHOLDER, 0.3, DOUBT, "white")
    one, two, other = (
        spread(**given, doubt=DOUBT, curves=curves, streams=Streams(room, "white", piece))
        for room, piece in (("A", "1"), ("A", "2"), ("B", "1"))
    )
    assert np.array_equal(one.earliest[1], two.earliest[1])
    assert not np.array_equal(one.finish[1], two.finish[1])
    assert not np.array_equal(one.earliest[1], other.earliest[1])


def test_a_strength_that_some_draws_never_reach_is_never_and_not_a_number_in_between() -> None:
    weak = replace(ROUTE[1], strength_mpa=PLACEHOLDER.su * 0.97)
    found = ready_of(arguments(steps=(ROUTE[0], weak)), DOUBT)
    share = np.isinf(found.workable[1]).mean()
    assert 0.3 < share < 0.95
    assert found.range_of("demold").late == math.inf
    assert chance(found.workable_of("demold"), 1e6) == pytest.approx(1.0 - share)


def test_a_taken_fit_is_drawn_by_its_own_bootstrap() -> None:
    ages = np.array([8.0, 12.0, 16.0, 24.0, 48.0, 96.0, 168.0])
    noise = np.random.default_rng(3).normal(0, 0.06, len(ages))
    fitted = fit(Form.HYPERBOLIC, ages, PLACEHOLDER.at(ages) * (1 + noise))
    doubt = Doubt(draws=300)
    drawn = from_fit(Form.HYPERBOLIC, fitted.draws, doubt, 0).ages_at(17.2)
    early, late = np.quantile(drawn, [0.05, 0.95])
    assert (early, late) == pytest.approx(fitted.age_band(17.2), rel=0.02)


def test_quantiles_are_times_that_were_drawn() -> None:
    values = np.array([1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, math.inf])
    assert quantiles(values).tolist() == [1.0, 5.0, 9.0]
    assert Range.of(np.array([math.inf] * 10)) == Range(math.inf, math.inf, math.inf)


def test_doubt_that_cannot_be_is_refused() -> None:
    for wrong in (
        {"draws": 3},
        {"labour": -0.1},
        {"drying": (1.2, 2.0)},
        {"drying": (0.0, 2.0)},
    ):
        with pytest.raises(ValueError, match=r"\d"):
            Doubt(**wrong)
    with pytest.raises(ValueError, match="memory"):
        AirDoubt(memory=0.0)
    with pytest.raises(ValueError, match="band"):
        within(PLACEHOLDER, 1.0, DOUBT)
    with pytest.raises(KeyError):
        ready_of(arguments(), DOUBT).range_of("polish")


FEW = Doubt(draws=40)


@settings(max_examples=25)
@given(st.floats(85.0, 180.0), st.floats(0.0, 60.0), st.sampled_from(["hours", "model"]))
def test_cast_later_no_time_of_the_range_comes_sooner(cast: float, later: float, rule: str) -> None:
    """Draw by draw, and so for every quantile: the shop's draws do not move with the casting."""
    steps = ROUTE
    if rule == "model":
        steps = (*ROUTE[:3], replace(ROUTE[3], drying_hours=None, dries=RATE), *ROUTE[4:])
    one = ready_of(arguments(cast=cast, steps=steps), FEW)
    two = ready_of(arguments(cast=cast + later, steps=steps), FEW)
    assert (two.workable >= one.workable - 1e-6).all()
    for before, after in zip(one.ranges(), two.ranges(), strict=True):
        assert before.early <= before.likely <= before.late
        assert after.early >= before.early - 1e-6
        assert after.late >= before.late - 1e-6


@settings(max_examples=15)
@given(st.floats(0.5, 4.0), st.floats(4.0, 40.0), st.floats(82.0, 88.0), st.floats(1.0, 12.0))
def test_each_measured_hour_narrows_what_the_age_may_be(
    sd: float, memory: float, until: float, more: float
) -> None:
    """The spread of the time at which a strength comes, from one moment and from a later one."""
    doubt = Doubt(AirDoubt(sd, memory), labour=0.0, draws=300)
    widths = []
    for measured in (until, until + more):
        air = room(measured)
        piece = arguments(air, coating_climate=air, steps=ROUTE[:2])
        widths.append(float(np.std(ready_of(piece, doubt, band=0.0).earliest[1])))
    assert widths[1] <= widths[0] * 1.05 + 0.02


def test_what_another_piece_has_asked_already_changes_no_date() -> None:
    doubt, curves = DOUBT, within(PLACEHOLDER, 0.3, DOUBT, 0)

    def asked(climate: Climate, **others: Any) -> Spread:
        given = arguments(climate, **others)
        return spread(**given, doubt=doubt, curves=curves)

    other = (ROUTE[0], replace(ROUTE[1], strength_mpa=20.0, trusted_hours=None), *ROUTE[2:])
    shared = room()
    for steps in (ROUTE, other, ROUTE):
        found, alone = asked(shared, steps=steps), asked(room(), steps=steps)
        assert np.array_equal(found.finish, alone.finish)
        for one, same in zip(found.waits, alone.waits, strict=True):
            assert one.keys() == same.keys()
            assert all(np.array_equal(one[name], same[name]) for name in one)
