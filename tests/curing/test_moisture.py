"""Drying of a slab from its last wetting."""

from __future__ import annotations

import doctest
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curing import diffusivity, evaporation, moisture, sheet
from curing.moisture import (
    BAND,
    DRY_PERCENT,
    ESTIMATE,
    PROBE_DEPTH,
    PROBE_SHARE,
    Concrete,
    Slab,
    dry_out,
    mean_at_loss,
)

EXAMPLES = [diffusivity, evaporation, moisture, sheet]

BARE = Concrete(film_length=0.0)
THREE_QUARTERS = Slab(0.019)


def steady(slab: Slab, concrete: Concrete = BARE, humidity=0.5, days=40.0, celsius=20.0, **more):
    end = days * 24.0
    return dry_out(slab, concrete, [0.0, end], [celsius] * 2, [humidity] * 2, **more)


def test_the_19_mm_slab() -> None:
    """Our own converged result, published by nobody: fck 40, H 1 to 0.5, 20 % depth, days."""
    dried = steady(THREE_QUARTERS, days=10.0)
    found = [dried.hours_to(target) / 24.0 for target in (0.85, 0.80, 0.75)]
    np.testing.assert_allclose(found, [1.54, 3.66, 7.45], rtol=0.005)


@pytest.mark.parametrize("film", [0.0, 0.75e-3])
def test_one_face_is_as_twice_the_thickness(film: float) -> None:
    concrete = Concrete(film_length=film)
    one, two = Slab(0.019, faces=1), Slab(0.038, faces=2)
    first, second = steady(one, concrete).hours_to(0.8), steady(two, concrete).hours_to(0.8)
    assert first == pytest.approx(second, rel=1e-9)


def test_time_goes_with_thickness_squared_and_inversely_with_d1() -> None:
    single = steady(THREE_QUARTERS).hours_to(0.8)
    assert steady(Slab(0.038)).hours_to(0.8) == pytest.approx(4.0 * single, rel=1e-3)
    faster = Concrete(d1=5e-10, film_length=0.0)
    assert steady(THREE_QUARTERS, faster).hours_to(0.8) == pytest.approx(single / 2, rel=1e-3)


def test_the_probe_stands_at_one_share_of_the_drying_length() -> None:
    """ASTM F2170: 40 % of the thickness from one face, 20 % from two."""
    for faces, share in PROBE_SHARE.items():
        slab = Slab(0.03, faces)
        assert share * slab.thickness == pytest.approx(PROBE_DEPTH * slab.length)


def test_the_film_slows_a_little_and_the_face_stays_damper() -> None:
    bare, filmed = steady(THREE_QUARTERS), steady(THREE_QUARTERS, Concrete())
    assert 1.0 < filmed.hours_to(0.85) / bare.hours_to(0.85) < 1.1
    assert filmed.humidity(0.0)[20] > bare.humidity(0.0)[20] + 0.005


def test_temperature_only_stretches_time() -> None:
    warm, cold = steady(THREE_QUARTERS, celsius=20.0), steady(THREE_QUARTERS, celsius=10.0)
    assert cold.hours_to(0.8) / warm.hours_to(0.8) == pytest.approx(1 / 0.5483, rel=2e-3)


def test_frost_stops_it() -> None:
    frozen = steady(THREE_QUARTERS, celsius=-3.0)
    assert math.isinf(frozen.hours_to(0.85))
    assert frozen.lost()[-1] == 0.0


def test_air_above_the_target_never_brings_it() -> None:
    assert math.isinf(steady(THREE_QUARTERS, humidity=0.86).hours_to(0.85))


def test_water_lost_is_what_the_slab_gave_up() -> None:
    concrete = Concrete()
    dried = steady(THREE_QUARTERS, concrete)
    gone = concrete.water * 0.019 * (1.0 - dried.mean())
    np.testing.assert_allclose(dried.lost(), gone, atol=1e-12)


def test_weighing_shows_the_loss_of_a_day() -> None:
    concrete = Concrete()
    dried = steady(THREE_QUARTERS, concrete)
    percent = dried.percent_per_day()
    assert np.isnan(percent[dried.hours < 24.0]).all()
    after = dried.hours >= 24.0
    assert (np.diff(percent[after]) < 0).all()
    day = float(np.interp(24.0, dried.hours, dried.lost()))
    whole = 100.0 * day / (concrete.density * 0.019)
    assert np.interp(24.0, dried.hours[after], percent[after]) == pytest.approx(whole, rel=0.02)


def test_a_days_loss_becomes_a_mean_humidity() -> None:
    mean = mean_at_loss(THREE_QUARTERS, Concrete(), celsius=20.0, humidity=0.5)
    dried = steady(THREE_QUARTERS, Concrete())
    at = dried.hours_to_mean(mean)
    loss = np.interp(at, dried.hours, np.nan_to_num(dried.percent_per_day(), nan=9.0))
    assert loss == pytest.approx(DRY_PERCENT, rel=1e-3)


def test_halving_the_step_changes_nothing_visible(monkeypatch: pytest.MonkeyPatch) -> None:
    hours = np.arange(0.0, 15 * 24.0)
    humidity = 0.6 + 0.15 * np.sin(hours / 24.0 * 2 * np.pi)
    celsius = 20.0 - 4.0 * np.sin(hours / 24.0 * 2 * np.pi)
    plain = dry_out(THREE_QUARTERS, Concrete(), hours, celsius, humidity)
    monkeypatch.setattr("curing.moisture._LARGEST", 0.5)
    monkeypatch.setattr("curing.moisture._STEP_FO", 0.005)
    monkeypatch.setattr("curing.moisture._GROWTH", 96.0)
    fine = dry_out(THREE_QUARTERS, Concrete(), hours, celsius, humidity)
    assert len(fine.hours) > 1.8 * len(plain.hours)
    for target in (0.85, 0.80):
        assert plain.hours_to(target) == pytest.approx(fine.hours_to(target), rel=0.01)


def test_readings_far_apart_or_every_minute_tell_the_same() -> None:
    hours = np.array([0.0, 30.0, 30.0, 200.0])
    celsius, humidity = np.array([10.0, 25.0, 15.0, 22.0]), np.array([0.7, 0.4, 0.6, 0.5])
    minutes = np.arange(0.0, 200.0, 1 / 60)
    before = minutes < 30.0
    fine_t = np.where(before, 10.0 + minutes / 2, 15.0 + 7.0 * (minutes - 30.0) / 170.0)
    fine_h = np.where(before, 0.7 - minutes / 100, 0.6 - 0.1 * (minutes - 30.0) / 170.0)
    coarse = dry_out(THREE_QUARTERS, Concrete(), hours, celsius, humidity)
    dense = dry_out(THREE_QUARTERS, Concrete(), minutes, fine_t, fine_h)
    assert coarse.hours_to(0.85) == pytest.approx(dense.hours_to(0.85), rel=1e-3)


def test_it_stops_once_dry() -> None:
    whole, stopped = steady(THREE_QUARTERS), steady(THREE_QUARTERS, until=0.85)
    assert len(stopped.hours) < len(whole.hours) / 2
    assert stopped.hours_to(0.85) == whole.hours_to(0.85)


def test_it_is_called_an_estimate_with_a_band() -> None:
    assert "estimate" in ESTIMATE
    assert BAND[0] < BAND[1] == 1.0 < BAND[2]


@pytest.mark.parametrize(
    ("make", "named"),
    [
        (lambda: Slab(0.0005), "0.002 to 0.2"),
        (lambda: Slab(0.02, 3), "1 face or 2"),
        (lambda: Concrete(d1=0.0), "d1"),
        (lambda: Concrete(film_length=-1.0), "film_length"),
        (lambda: steady(THREE_QUARTERS, humidity=1.2), "0 to 1"),
        (lambda: steady(THREE_QUARTERS, celsius=60.0), "50 °C"),
        (lambda: dry_out(THREE_QUARTERS, BARE, [0, 1], [20, 20], [0.5]), "one length"),
        (lambda: dry_out(THREE_QUARTERS, BARE, [1, 0], [20, 20], [0.5, 0.5]), "run back"),
        (lambda: dry_out(THREE_QUARTERS, BARE, [1, 1], [20, 20], [0.5, 0.5]), "some time"),
        (lambda: mean_at_loss(THREE_QUARTERS, BARE, celsius=0.0, humidity=0.5), "0 °C"),
        (lambda: steady(THREE_QUARTERS, until=85.0), "0 to 1"),
        (lambda: steady(THREE_QUARTERS, days=1.0).hours_to(85.0), "0 to 1"),
        (lambda: steady(THREE_QUARTERS, days=1.0).hours_to_mean(math.nan), "0 to 1"),
        (lambda: steady(THREE_QUARTERS, days=1.0).humidity(1.5), "depth"),
        (
            lambda: mean_at_loss(
                THREE_QUARTERS, BARE, celsius=20.0, humidity=0.5, percent_per_day=0.0
            ),
            "above 0 %",
        ),
    ],
)
def test_outside_the_range(make, named: str) -> None:
    with pytest.raises(ValueError, match=named):
        make()


@pytest.mark.parametrize("module", EXAMPLES, ids=lambda module: module.__name__)
def test_the_examples_in_its_docstrings(module) -> None:
    failed, tried = doctest.testmod(module)
    assert (failed, tried > 0) == (0, True)


@st.composite
def rooms(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    hours = np.arange(0.0, 30 * 24.0)
    day = np.sin((hours + draw(st.floats(0, 24))) / 24 * 2 * np.pi)
    humidity = draw(st.floats(0.3, 0.7)) + draw(st.floats(0.0, 0.25)) * day
    celsius = draw(st.floats(12, 28)) - draw(st.floats(0, 6)) * day
    return hours, celsius, np.clip(humidity, 0.05, 0.97)


@settings(deadline=None, max_examples=10)
@given(rooms(), st.floats(0.01, 0.2))
def test_damper_air_is_never_sooner_dry(room, more: float) -> None:
    hours, celsius, humidity = room
    dry = dry_out(Slab(0.016), Concrete(), hours, celsius, humidity, until=0.85)
    damp = dry_out(
        Slab(0.016), Concrete(), hours, celsius, np.minimum(humidity + more, 1.0), until=0.85
    )
    assert damp.hours_to(0.85) >= dry.hours_to(0.85) - 0.02


@settings(deadline=None, max_examples=10)
@given(rooms(), st.floats(0.001, 0.01))
def test_a_thicker_piece_is_never_sooner_dry(room, more: float) -> None:
    thin = dry_out(Slab(0.016), Concrete(), *room, until=0.85)
    thick = dry_out(Slab(0.016 + more), Concrete(), *room, until=0.85)
    assert thick.hours_to(0.85) >= thin.hours_to(0.85) - 0.02


@settings(deadline=None, max_examples=10)
@given(rooms(), st.integers(1, 60))
def test_a_later_start_is_never_sooner_done(room, later: int) -> None:
    first = dry_out(Slab(0.016), Concrete(), *room, until=0.85).hours_to(0.85)
    second = dry_out(Slab(0.016), Concrete(), *(part[later:] for part in room), until=0.85)
    assert later + second.hours_to(0.85) >= first - 0.1
