"""The drying of all open pieces at once, against full marches."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curing.diffusivity import MODEL_CODE
from curing.drying_rate import DryingRate, drying_table, hours_of_share
from curing.moisture import BAND, Concrete, Slab, dry_out

HOURS = np.arange(0.0, 60 * 24.0)
PIECE = Slab(0.019)


def day(shift: float = 0.0) -> np.ndarray:
    return np.sin((HOURS + shift) / 24.0 * 2 * np.pi)


def test_the_19_mm_slab() -> None:
    """Our own converged result, published by nobody: days at H 0.5, 20 % depth."""
    bare = Concrete(film_length=0.0)
    found = [
        float(DryingRate.of(PIECE, bare, target).hours(0.5, 20.0)) / 24
        for target in (0.85, 0.80, 0.75)
    ]
    np.testing.assert_allclose(found, [1.54, 3.66, 7.45], rtol=0.01)


@pytest.mark.parametrize("film", [0.0, 0.3e-3, 0.75e-3, 2e-3])
@pytest.mark.parametrize("humidity", [0.0, 0.1, 0.43, 0.62, 0.78, 0.83])
def test_steady_air_is_as_a_full_march(humidity: float, film: float) -> None:
    concrete = Concrete(film_length=film)
    dried = dry_out(PIECE, concrete, [0, 2000], [20, 20], [humidity] * 2, until=0.85)
    rate = DryingRate.of(PIECE, concrete, 0.85)
    assert float(rate.hours(humidity, 20.0)) == pytest.approx(dried.hours_to(0.85), rel=0.025)


@pytest.mark.parametrize(
    ("middle", "swing", "within"), [(0.5, 0.1, 0.02), (0.6, 0.15, 0.03), (0.65, 0.2, 0.15)]
)
def test_days_and_nights_are_nearly_as_a_full_march(
    middle: float, swing: float, within: float
) -> None:
    for shift in (0.0, 8.0, 16.0):
        humidity, celsius = middle + swing * day(shift), 18.0 - 5.0 * day(shift)
        for target in (0.85, 0.80):
            dried = dry_out(PIECE, Concrete(), HOURS, celsius, humidity, until=target)
            share = DryingRate.of(PIECE, Concrete(), target).share(HOURS, celsius, humidity)
            found = float(hours_of_share(HOURS, share, 0.0))
            assert found == pytest.approx(dried.hours_to(target), rel=within)


def test_one_face_is_as_twice_the_thickness_and_four_times_the_time() -> None:
    bare = Concrete(film_length=0.0)
    one, two, single = (
        float(DryingRate.of(slab, bare).hours(0.5, 20.0))
        for slab in (Slab(0.019, 1), Slab(0.038, 2), Slab(0.019, 2))
    )
    assert one == pytest.approx(two, rel=1e-12)
    assert two == pytest.approx(4.0 * single, rel=1e-12)


def test_the_table_is_made_once() -> None:
    assert drying_table(MODEL_CODE, 0.85) is drying_table(MODEL_CODE, 0.85)
    assert np.isfinite(drying_table(MODEL_CODE, 0.85).fo).all()


def test_air_at_the_target_does_nothing() -> None:
    rate = DryingRate.of(PIECE, Concrete())
    assert np.isinf(rate.hours([0.85, 0.9, 1.0], 20.0)).all()
    assert np.isinf(rate.hours(0.5, -1.0))


def test_a_thousand_pieces_are_one_look_up() -> None:
    rate = DryingRate.of(PIECE, Concrete())
    share = rate.share(HOURS, 18.0 - 5.0 * day(), 0.55 + 0.1 * day())
    starts = np.linspace(0.0, 40 * 24.0, 1000)
    early, likely, late = (hours_of_share(HOURS, share, starts, part) for part in BAND)
    assert (np.diff(likely) >= 0).all()
    assert ((starts < early) & (early < likely) & (likely < late)).all()
    one = float(hours_of_share(HOURS, share, starts[321]))
    assert one == likely[321]


def test_what_is_not_reached_is_never() -> None:
    rate = DryingRate.of(PIECE, Concrete())
    share = rate.share([0.0, 10.0], [20.0, 20.0], [0.5, 0.5])
    assert np.isinf(hours_of_share(np.array([0.0, 10.0]), share, [0.0, 10.0])).all()


@pytest.mark.parametrize(
    ("make", "named"),
    [
        (lambda rate, share: drying_table(MODEL_CODE, 0.99), "0.3 to 0.97"),
        (lambda rate, share: DryingRate.of(Slab(0.002), Concrete(film_length=0.01)), "Biot"),
        (lambda rate, share: rate.per_hour(1.1, 20.0), "0 to 1"),
        (lambda rate, share: rate.per_hour(0.5, 60.0), "50 °C"),
        (lambda rate, share: rate.share([0, 1], [20, 20], [0.5]), "one length"),
        (lambda rate, share: hours_of_share(HOURS, share, -1.0), "known"),
        (lambda rate, share: hours_of_share(HOURS, share, 0.0, 0.0), "above 0"),
    ],
)
def test_outside_the_range(make, named: str) -> None:
    rate = DryingRate.of(PIECE, Concrete())
    share = rate.share(HOURS, np.full_like(HOURS, 20.0), np.full_like(HOURS, 0.5))
    with pytest.raises(ValueError, match=named):
        make(rate, share)


airs = st.tuples(st.floats(0.2, 0.95), st.floats(0.0, 0.4), st.floats(-5.0, 30.0), st.floats(0, 9))


def air_of(drawn) -> tuple[np.ndarray, np.ndarray]:
    middle, swing, warmth, range_ = drawn
    return warmth - range_ * day(), np.clip(middle + swing * day(), 0.0, 1.0)


@settings(deadline=None, max_examples=40)
@given(airs, st.floats(0.0, 1000.0), st.floats(0.0, 200.0))
def test_a_later_start_is_never_sooner_done(drawn, start: float, later: float) -> None:
    share = DryingRate.of(PIECE, Concrete()).share(HOURS, *air_of(drawn))
    first, second = hours_of_share(HOURS, share, [start, start + later])
    assert second >= first


@settings(deadline=None, max_examples=40)
@given(airs, st.floats(0.0, 1000.0), st.floats(0.0, 0.4))
def test_damper_air_is_never_sooner_dry(drawn, start: float, more: float) -> None:
    rate = DryingRate.of(PIECE, Concrete())
    celsius, humidity = air_of(drawn)
    damper = np.minimum(humidity + more, 1.0)
    first = hours_of_share(HOURS, rate.share(HOURS, celsius, humidity), start)
    assert hours_of_share(HOURS, rate.share(HOURS, celsius, damper), start) >= first - 1e-9


@settings(deadline=None, max_examples=40)
@given(airs, st.floats(0.0, 1000.0), st.floats(0.0, 10.0))
def test_warmer_air_is_never_later_dry(drawn, start: float, more: float) -> None:
    rate = DryingRate.of(PIECE, Concrete())
    celsius, humidity = air_of(drawn)
    first = hours_of_share(HOURS, rate.share(HOURS, celsius, humidity), start)
    assert hours_of_share(HOURS, rate.share(HOURS, celsius + more, humidity), start) <= first + 1e-9


@settings(deadline=None, max_examples=60)
@given(
    st.floats(0.002, 0.19),
    st.floats(0.0, 0.01),
    st.floats(0.0, 0.84),
    st.floats(0.0, 0.9e-3),
    st.sampled_from([1, 2]),
)
def test_a_thicker_piece_is_never_sooner_dry(
    thickness: float, more: float, humidity: float, film: float, faces: int
) -> None:
    concrete = Concrete(film_length=film)
    thin = float(DryingRate.of(Slab(thickness, faces), concrete).hours(humidity, 20.0))
    thick = float(DryingRate.of(Slab(thickness + more, faces), concrete).hours(humidity, 20.0))
    assert thick >= thin * (1.0 - 1e-9)
