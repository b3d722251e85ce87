"""A known factor is found again from weights that the model itself would give."""

from __future__ import annotations

import math

import numpy as np
import pytest

from curing.drying_calibration import (
    LEAST_PIECES,
    SPREAD,
    calibrate_drying,
    piece_factor,
)
from curing.moisture import BAND, Concrete, Slab, dry_out

HOURS = np.arange(0.0, 24.0 * 30)
DAY = np.sin((HOURS - 9.0) / 24.0 * 2.0 * np.pi)
AIR = {"hours": HOURS, "celsius": 19.0 + 3.0 * DAY, "humidity": 0.5 - 0.08 * DAY}
THICK = 0.019
AREA = 1.5


def weights(factor: float, at: np.ndarray, *, water: float = 150.0) -> np.ndarray:
    """kg, by the full march of a concrete that is so many times slower."""
    slow = Concrete(d1=Concrete().d1 / factor, water=water)
    dried = dry_out(Slab(THICK), slow, **AIR)
    lost = np.interp(at, dried.hours, dried.lost()) * AREA
    return AREA * THICK * 2080.0 - lost


def found(at: np.ndarray, kg: np.ndarray):
    return piece_factor(Slab(THICK), Concrete(), **AIR, weighed=at, kg=kg)


@pytest.mark.parametrize("factor", [0.5, 1.0, 1.4, 2.5])
@pytest.mark.parametrize("water", [90.0, 150.0])
def test_a_known_factor_is_recovered_whatever_the_water(factor: float, water: float) -> None:
    at = np.arange(3.0, 24.0 * 8, 24.0)
    assert found(at, weights(factor, at, water=water)).factor == pytest.approx(factor, rel=0.02)


def test_a_scale_to_a_tenth_of_a_pound_still_tells_it() -> None:
    """Weights to 0.1 lb (0.045 kg), ten days, six pieces weighed at other hours."""
    tenth = 0.045359237
    factors = []
    for start in np.linspace(1.0, 20.0, 6):
        at = start + np.arange(0.0, 24.0 * 10, 24.0)
        rounded = np.round(weights(1.5, at) / tenth) * tenth
        factors.append(found(at, rounded).factor)
    assert np.exp(np.mean(np.log(factors))) == pytest.approx(1.5, rel=0.07)
    whole = calibrate_drying(factors)
    assert whole.low < 1.5 < whole.high


def test_the_misfit_is_what_the_weights_lie_off() -> None:
    at = np.arange(3.0, 24.0 * 12, 12.0)
    noise = 0.02 * np.where(np.arange(len(at)) % 2, 1.0, -1.0)
    assert found(at, weights(1.0, at) + noise).misfit == pytest.approx(0.02, rel=0.15)


def test_what_shows_nothing_gives_no_factor() -> None:
    at = np.arange(3.0, 24.0 * 6, 24.0)
    assert found(at[:3], weights(1.0, at[:3])) is None  # too few
    assert found(at, np.full(len(at), 59.0)) is None  # loses nothing
    assert found(at, 59.0 + 0.01 * at) is None  # gains
    assert found(at, 59.0 - 0.01 * at) is None  # never flattens: along no course


@pytest.mark.parametrize(
    ("at", "kg", "said"),
    [
        ([1.0, 2.0], [59.0], "one length"),
        ([-1.0, 30.0, 60.0, 90.0], [59.0] * 4, "within the hours"),
        ([1.0, 30.0, 60.0, 90.0], [59.0, 0.0, 58.0, 57.0], "above 0"),
    ],
)
def test_impossible_weights_are_refused(at: list, kg: list, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        found(np.array(at), np.array(kg))


def test_without_a_piece_it_is_the_models_own_band() -> None:
    """0.7 to 2.0 stand for the middle 90 %: as wide here, about 1."""
    none = calibrate_drying([])
    assert none.factor == 1.0
    assert none.high / none.low == pytest.approx(BAND[2] / BAND[0])
    assert not none.calibrated


def test_many_pieces_have_their_way_and_few_are_held_back() -> None:
    assert calibrate_drying([2.0] * 60).factor == pytest.approx(2.0, rel=0.02)
    one, three = calibrate_drying([2.0]), calibrate_drying([2.0] * 3)
    # One piece with the prior's own scatter counts as much as the prior: the geometric middle.
    assert one.factor == pytest.approx(math.sqrt(2.0))
    assert one.factor < three.factor < 2.0
    assert not one.calibrated
    assert three.calibrated
    assert three.pieces == LEAST_PIECES


def test_the_band_holds_nine_pieces_in_ten() -> None:
    """Seeded: mixes with factors from the prior, pieces scattered by 15 %."""
    rng = np.random.default_rng(20260318)
    held = []
    for _ in range(400):
        truth = rng.normal(0.0, SPREAD)
        logs = rng.normal(truth, 0.15, size=13)
        band = calibrate_drying(np.exp(logs[:12]))
        held.append(math.log(band.low) < logs[12] < math.log(band.high))
    assert 0.88 < np.mean(held) < 0.99


def test_pieces_that_agree_narrow_the_band() -> None:
    agree, scatter = calibrate_drying([1.4] * 8), calibrate_drying([0.8, 2.4] * 4)
    assert agree.high / agree.low < scatter.high / scatter.low
    assert agree.scatter < SPREAD < scatter.scatter


def test_a_factor_that_is_no_number_is_refused() -> None:
    for wrong in (0.0, -1.0, math.nan, math.inf):
        with pytest.raises(ValueError, match="above 0"):
            calibrate_drying([1.0, wrong])
