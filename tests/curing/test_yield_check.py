"""Absolute volume, air and yield against printed and hand-worked figures."""

from __future__ import annotations

import math

import pint
import pytest

from curing.mixture import Component, Mix, Recipe, normalise
from curing.runs import layer_volumes
from curing.yield_check import (
    air_free_density,
    batch_yield,
    density_check,
    density_with_air,
    gravimetric_air,
    unit_weight,
)
from tests.curing.mixes import premix

UNIT = pint.UnitRegistry()
POUND_FOOT = UNIT.Quantity(1, "lb/ft**3").to("kg/m**3").magnitude
WATER = 62.4 * POUND_FOOT  # as the printed examples have it


def printed(cement: float, water: float, stone: float, sand: float, gravities: list[float]) -> Mix:
    cement_g, stone_g, sand_g = gravities
    return normalise(
        Recipe(
            (
                Component("cement", "cement", cement, density=cement_g * WATER),
                Component("water", "water", water, density=WATER),
                Component("stone", "aggregate", stone, density=stone_g * WATER),
                Component("sand", "sand", sand, density=sand_g * WATER),
            )
        )
    )


@pytest.mark.parametrize(
    ("cement", "water", "stone", "sand", "gravities", "air"),
    [
        # US Navy NAVEDTRA 14071, chapter 17: 3.10 + 4.89 + 10.69 + 1.35 of air, 6.97 ft³ of sand.
        (610, 305, 1735, 1152, [3.15, 2.60, 2.65], 0.05),
        # ACI 211.1-91, example 1, by absolute volume, from memory: 2.46 + 4.81 + 11.46 + 0.27,
        # 8.00 ft³ of sand; 1 % air.
        (484, 300, 1917, 1318, [3.15, 2.68, 2.64], 0.01),
    ],
)
def test_printed_cubic_yard(
    cement: float, water: float, stone: float, sand: float, gravities: list[float], air: float
) -> None:
    """The weights of a printed cubic yard fill 27 ft³ with its air."""
    mix = printed(cement, water, stone, sand, gravities)
    whole = cement + water + stone + sand
    assert density_with_air(mix, air) / POUND_FOOT * 27 == pytest.approx(whole, rel=5e-4)
    assert gravimetric_air(mix, whole / 27 * POUND_FOOT) == pytest.approx(air, abs=5e-4)
    assert mix.per_m3(whole / 27 * POUND_FOOT)["cement"] == pytest.approx(
        UNIT.Quantity(cement, "lb/yard**3").to("kg/m**3").magnitude
    )


def test_premix_by_hand() -> None:
    """On 100 of cement: weights over densities, litres for kilograms."""
    litres = (
        100 / 3.150 + 20 / 2.600 + 120 / 2.650 + 34.5804 / 0.9982 + 10.8696 / 1.060 + 4 / 4.800
        + 0.5 / 1.080
    )  # fmt: skip
    matrix = 100 + 20 + 120 + 34.5804 + 10.8696 + 4 + 0.5
    fibre = matrix * 0.025 / 0.975
    assert air_free_density(premix()) == pytest.approx(
        1000 * (matrix + fibre) / (litres + fibre / 2.680), rel=1e-5
    )
    # A usual GFRC density of 112 to 140 lb/ft³ is this with some air.
    assert 112 < density_with_air(premix(), 0.05) / POUND_FOOT < 140


def test_three_quarters_of_an_inch_at_130() -> None:
    """130 lb/ft³ is 2,082 kg/m³; 3/4 in of it weighs 8.1 lb/ft²."""
    density = 130 * POUND_FOOT
    assert density == pytest.approx(2082.4, abs=0.05)
    inch, foot = 0.0254, 0.3048
    volumes = layer_volumes(foot**2, 0.75 * inch, 0.15 * inch)
    pounds = sum(volumes.values()) * density / UNIT.Quantity(1, "lb").to("kg").magnitude
    assert pounds == pytest.approx(8.125, rel=1e-6)
    assert volumes["face"] * 4 == pytest.approx(volumes["backer"])


def test_unit_weight_and_yield() -> None:
    """ASTM C138: 26.7 kg in a 7 L measure of 12 kg is 2,100 kg/m³; 52.5 kg of it are 25 L."""
    assert unit_weight(26.7, 12.0, 0.007) == pytest.approx(2100)
    assert batch_yield(52.5, 2100) == pytest.approx(0.025)


@pytest.mark.parametrize(
    ("measured", "air", "keys"),
    [
        (1.00, 0.05, []),
        (1.019, 0.05, []),
        (0.975, 0.05, ["density-low"]),
        (1.025, 0.05, ["density-high"]),
        (1.10, 0.05, ["heavier-than-solid"]),
        (1.10, None, ["heavier-than-solid"]),
        (0.97, None, ["air-implied"]),
    ],
)
def test_notes(measured: float, air: float | None, keys: list[str]) -> None:
    """`measured` is over the density with 5 % of air."""
    weighed = measured * density_with_air(premix(), 0.05)
    check = density_check(premix(), weighed, air)
    assert [note.key for note in check.notes] == keys
    assert check.air == pytest.approx(1 - measured * 0.95)
    for note in check.notes:
        assert note.figures["difference"] == check.difference
        assert f"{abs(check.difference):.1%}" in note.text or note.key == "heavier-than-solid"
        assert "from memory" in note.basis
    if air is not None:
        assert check.difference == pytest.approx(measured - 1)


def test_refused() -> None:
    mix = premix()
    with pytest.raises(ValueError, match="lighter"):
        unit_weight(10, 12, 0.007)
    with pytest.raises(ValueError, match="volume_m3"):
        unit_weight(26.7, 12, math.nan)
    with pytest.raises(ValueError, match="measured"):
        density_check(mix, math.nan)
    with pytest.raises(ValueError, match="tolerance"):
        density_check(mix, 2080, tolerance=math.nan)
    with pytest.raises(ValueError, match="air"):
        density_check(mix, 2080, math.nan)
    with pytest.raises(ValueError, match="weight"):
        batch_yield(math.nan, 2080)
    with pytest.raises(ValueError, match="measured"):
        batch_yield(10, 0)
