"""Being cast later never makes a piece ready earlier, whatever the air, the calendar, the route."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from curing.climate import Climate, Readings, compose
from curing.drying_rate import DryingRate
from curing.moisture import Concrete, Slab
from curing.sealing import CoatLimits, Sealer
from curing.strength import EN1992, Exponential, Hyperbolic
from curing.timeline import Shifts, Step, Weighed, derive, latest_cast, ready

DAYS = 70
EPS = 1e-6


@st.composite
def airs(draw: st.DrawFn) -> Climate:
    knots = np.arange(0.0, DAYS * 24.0)
    middle, swing = draw(st.floats(2.0, 32.0)), draw(st.floats(0.0, 9.0))
    celsius = middle + swing * np.sin((knots - 9) / 24 * 2 * np.pi)
    cold = draw(st.integers(0, DAYS * 24 - 60))
    celsius[cold : cold + draw(st.integers(0, 60))] -= draw(st.floats(0.0, 15.0))
    damp = draw(st.floats(-0.3, 0.3)) - draw(st.floats(0.0, 0.03)) * (celsius - middle)
    humidity = np.clip(0.55 + damp, 0.05, 0.98)
    planned = Readings.of(knots, celsius, humidity)
    count = draw(st.integers(0, 12))
    steps = draw(st.lists(st.floats(0.1, 9.0), min_size=count, max_size=count))
    values = draw(st.lists(st.floats(-5.0, 38.0), min_size=count, max_size=count))
    readings = Readings.of(np.cumsum(steps) if steps else [], values)
    return compose(readings=readings, planned=planned, now=draw(st.floats(0.0, 60.0)))


@st.composite
def calendars(draw: st.DrawFn) -> Shifts:
    windows = []
    opens, hours = draw(st.floats(5.0, 10.0)), draw(st.floats(1.5, 9.0))
    lunch = draw(st.booleans())
    closed = draw(st.sets(st.integers(0, DAYS - 8), max_size=12))
    for day in range(DAYS):
        if day in closed or day % 7 > 5:
            continue
        start, end = day * 24 + opens, day * 24 + opens + hours
        if lunch and hours > 3:
            middle = 0.5 * (start + end)
            windows += [(start, middle), (middle + 0.5, end + 0.5)]
        else:
            windows.append((start, end))
    return Shifts(windows)


curves = st.one_of(
    st.builds(Hyperbolic, st.floats(40.0, 80.0), st.floats(0.005, 0.08), st.floats(0.0, 10.0)),
    st.builds(Exponential, st.floats(40.0, 80.0), st.floats(5.0, 40.0), st.floats(0.4, 1.5)),
    st.builds(EN1992, st.floats(40.0, 60.0), st.floats(0.2, 0.38)),
)


@st.composite
def sealers(draw: st.DrawFn) -> Sealer:
    least = draw(st.floats(0.0, 8.0))
    return Sealer(
        coats=draw(st.integers(1, 4)),
        recoat_least=least,
        recoat_greatest=draw(st.one_of(st.none(), st.floats(least + 0.25, least + 30.0))),
        handle=draw(st.floats(0.0, 60.0)),
        least_age=draw(st.floats(0.0, 120.0)),
        abrade_hours=draw(st.floats(0.0, 5.0)),
        limits=CoatLimits(
            celsius_least=draw(st.floats(0.0, 15.0)),
            celsius_greatest=draw(st.floats(20.0, 45.0)),
            humidity_greatest=draw(st.floats(0.5, 1.0)),
            dew_margin=draw(st.floats(0.0, 4.0)),
        ),
    )


maybe = st.one_of(st.none(), st.floats(0.5, 60.0))


@st.composite
def weighings(draw: st.DrawFn) -> Weighed:
    """What the scale has shown does not move with the casting."""
    dry_at = draw(st.one_of(st.none(), st.floats(0.0, 400.0)))
    return Weighed(dry_at, draw(st.one_of(st.none(), st.floats(0.0, 400.0))), draw(maybe) or 24.0)


# A few kinds of slab: their tables are kept from one example to the next.
slabs = st.sampled_from(
    [
        DryingRate.of(Slab(thickness, faces), Concrete(), target)
        for thickness, faces, target in ((0.010, 2, 0.85), (0.019, 2, 0.75), (0.019, 1, 0.9))
    ]
)
drying = st.one_of(
    st.builds(dict, drying_hours=maybe),
    st.builds(dict, dries=slabs),
    st.builds(dict, weighed=weighings()),
)


@st.composite
def coatings(draw: st.DrawFn, sealer: Sealer) -> list[Step]:
    """Coats, some with floors of their own, some with work (a wet one, too) between them."""
    plain, labour = draw(st.booleans()), draw(st.floats(0.0, 2.0))
    steps: list[Step] = []
    for coat in range(1, sealer.coats + 1):
        if coat > 1 and not plain and draw(st.booleans()):
            work, wets = draw(st.floats(0.0, 3.0)), draw(st.booleans())
            steps.append(Step(f"rub-{coat}", "rub", labour_hours=work, wets=wets))
        own = coat == 1 or not plain
        steps.append(
            Step(
                f"seal-{coat}",
                f"coat {coat}",
                coat=coat,
                since_cast_hours=draw(st.floats(0.0, 200.0)) if own else 0.0,
                strength_mpa=draw(st.one_of(st.none(), st.floats(1.0, 30.0))) if own else None,
                labour_hours=labour if plain else draw(st.floats(0.0, 3.0)),
                **(draw(drying) if own else {}),
            )
        )
    return steps


@st.composite
def routes(draw: st.DrawFn, sealer: Sealer) -> list[Step]:
    steps = [Step("cast", "cast", kind="cast")]
    for number in range(draw(st.integers(1, 4))):
        steps.append(
            Step(
                f"step-{number}",
                f"step {number}",
                since_cast_hours=draw(st.floats(0.0, 60.0)),
                since_previous_hours=draw(st.floats(0.0, 20.0)),
                equivalent_hours=draw(maybe),
                strength_mpa=draw(st.one_of(st.none(), st.floats(1.0, 30.0))),
                handling_mpa=draw(st.one_of(st.none(), st.floats(1.0, 30.0))),
                trusted_hours=draw(maybe),
                wets=draw(st.booleans()),
                labour_hours=draw(st.floats(0.0, 12.0)),
                kind="demold" if number == 0 else "",
                **draw(drying),
            )
        )
    if draw(st.booleans()):
        steps += draw(coatings(sealer))
    steps.append(Step("crate", "crate", film=True, labour_hours=draw(st.floats(0.0, 2.0))))
    steps.append(Step("deliver", "deliver", kind="deliver"))
    return steps


@st.composite
def cases(draw: st.DrawFn):
    sealer = draw(sealers())
    return {
        "steps": draw(routes(sealer)),
        "climate": draw(airs()),
        "curve": draw(curves),
        "shifts": draw(calendars()),
        "sealer": sealer,
        "activation_energy": draw(st.floats(25000.0, 60000.0)),
        "coating_climate": draw(st.one_of(st.none(), airs())),
    }


@settings(max_examples=300, deadline=None)
@given(cases(), st.floats(0.0, 400.0), st.floats(0.0, 72.0))
def test_cast_later_is_never_ready_earlier(case, cast: float, wait: float) -> None:
    sooner = derive(cast=cast, **case)
    later = derive(cast=cast + wait, **case)

    for first, second in zip(sooner, later, strict=True):
        assert second.earliest >= first.earliest - EPS, first.key
        assert second.workable >= first.workable - EPS, first.key
        assert second.finish >= first.finish - EPS, first.key


@settings(max_examples=60, deadline=None)
@given(cases(), st.floats(0.0, 300.0), st.floats(0.0, 40.0))
def test_knowing_that_it_is_later_never_makes_it_ready_earlier(
    case, cast: float, wait: float
) -> None:
    at = cast + 10.0
    sooner = derive(cast=cast, now=at, **case)
    later = derive(cast=cast, now=at + wait, **case)

    for first, second in zip(sooner, later, strict=True):
        assert second.workable >= first.workable - EPS, first.key
        assert second.finish >= first.finish - EPS, first.key


@settings(max_examples=60, deadline=None)
@given(cases(), st.floats(0.0, 200.0), st.floats(50.0, 700.0))
def test_the_latest_cast_meets_the_deadline_and_the_next_shift_minute_does_not(
    case, not_before: float, more: float
) -> None:
    deadline = not_before + more
    latest = latest_cast(deadline, ready_key="deliver", not_before=not_before, **case)
    first = case["shifts"].first_fit(not_before, 0.0)[0]
    if latest is None:
        if first < 1000:
            assert ready(derive(cast=first, **case), "deliver") > deadline
        return

    assert ready(derive(cast=latest, **case), "deliver") <= deadline + 1e-5
    following = case["shifts"].first_fit(latest + 1 / 60, 0.0)[0]
    if following < 1000:
        assert ready(derive(cast=following, **case), "deliver") > deadline - 1e-5


@st.composite
def narrow_recoats(draw: st.DrawFn):
    """Sealers whose window a working day often misses, on a route that gets there at once."""
    least = draw(st.floats(1.0, 6.0))
    sealer = Sealer(
        coats=draw(st.integers(2, 4)),
        recoat_least=least,
        recoat_greatest=least + draw(st.floats(1.0, 16.0)),
        abrade_hours=draw(st.floats(0.25, 6.0)),
        handle=draw(st.floats(0.0, 30.0)),
        least_age=0.0,
        limits=CoatLimits(celsius_least=5.0, celsius_greatest=40.0, humidity_greatest=1.0),
    )
    steps = [Step("cast", "cast"), *draw(coatings(sealer)), Step("deliver", "deliver", film=True)]
    return {"steps": steps, "sealer": sealer, "shifts": draw(calendars())}


@settings(max_examples=80, deadline=None)
@given(narrow_recoats(), st.floats(0.0, 24.0))
def test_a_recoat_window_caught_or_missed_keeps_the_order(case, start: float) -> None:
    knots = np.arange(0.0, DAYS * 24.0)
    air = compose(
        readings=Readings.of([], []),
        planned=Readings.of(knots, np.full(len(knots), 20.0), np.full(len(knots), 0.4)),
        now=0.0,
    )
    curve = Hyperbolic(60.0, 0.03, 5.0)
    outcomes = [
        derive(cast=cast, climate=air, curve=curve, **case)
        for cast in start + np.arange(0.0, 30.0, 0.4)
    ]

    for sooner, later in pairwise(outcomes):
        for first, second in zip(sooner, later, strict=True):
            assert second.earliest >= first.earliest - EPS, first.key
            assert second.workable >= first.workable - EPS, first.key
            assert second.finish >= first.finish - EPS, first.key
