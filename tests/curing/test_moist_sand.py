"""Sand moisture taken off the batch water, against printed examples."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curing.mixture import Component, Recipe, normalise
from curing.moist_sand import stock_of, stock_weights
from tests.curing.mixes import premix


def test_aci_211_example() -> None:
    """ACI 211.1-91, example 1, from memory: dry 1,917 lb of stone at 2 % with 0.5 % absorption and
    1,369 lb of sand at 6 % with 0.7 %: 1,955 and 1,451 lb to weigh, 300 − 101 = 199 lb of water.
    """
    stone, from_stone = stock_of(1917 * 1.005, 0.02, 0.005)
    sand, from_sand = stock_of(1369 * 1.007, 0.06, 0.007)
    assert stone == pytest.approx(1955, abs=0.5)
    assert sand == pytest.approx(1451, abs=0.5)
    assert 300 - from_stone - from_sand == pytest.approx(199, abs=0.5)


def test_aci_211_example_as_a_batch() -> None:
    """The same example, its 4,089 lb of batch written with aggregates dry and then as they lie."""
    mix = normalise(
        Recipe(
            (
                # On dry aggregate the effective 300 lb ask for what the grains soak up, too.
                Component("water", "water", 300 + 1917 * 0.005 + 1369 * 0.007),
                Component("cement", "cement", 484, density=3150),
                Component("stone", "aggregate", 1917, density=2680, absorption=0.005,
                          written_moisture=0.0),
                Component("sand", "sand", 1369, density=2640, absorption=0.007,
                          written_moisture=0.0),
            )
        )
    )  # fmt: skip
    whole = 300 + 1917 * 0.005 + 1369 * 0.007 + 484 + 1917 + 1369
    assert mix.water_cement == pytest.approx(300 / 484)
    batch = stock_weights(mix, whole, {"stone": 0.02, "sand": 0.06})
    printed = {"water": 199, "cement": 484, "stone": 1955, "sand": 1451}
    assert batch == pytest.approx(printed, abs=0.6)
    assert sum(batch.values()) == pytest.approx(4089, abs=1.0)


def test_navy_manual_example() -> None:
    """US Navy NAVEDTRA 14070, chapter 17, free surface moisture: 1,735 lb of stone at 2 % and 1,153
    lb of sand at 6 % bring 103.88 lb (12.47 gal); 36.6 gal become 24.13; 1,770 and 1,222 lb.
    Free moisture is counted on SSD weight there, so absorption is 0 here.
    """
    gallon = 8.33  # lb, as the manual has it
    stone, sand, water, cement = 1735.0, 1153.0, 36.6 * gallon, 610.0
    mix = normalise(
        Recipe(
            (
                Component("cement", "cement", cement, density=3150),
                Component("water", "water", water),
                Component("stone", "aggregate", stone, density=2600),
                Component("sand", "sand", sand, density=2650),
            )
        )
    )
    batch = stock_weights(mix, stone + sand + water + cement, {"stone": 0.02, "sand": 0.06})
    assert batch["stone"] == pytest.approx(1770, abs=0.5)
    assert batch["sand"] == pytest.approx(1222, abs=0.5)
    assert batch["water"] / gallon == pytest.approx(24.13, abs=0.01)
    assert batch["cement"] == pytest.approx(cement)


def test_army_course_example() -> None:
    """US Army correspondence course EN5466, free surface moisture: 1,768 lb of stone at 2 % and 1,083 lb of sand
    at 6 % of free surface moisture bring 100.34 lb, as it rounds 12 gal; 38.6 gal become 26.6.
    """
    stone, from_stone = stock_of(1768, 0.02, 0.0)
    sand, from_sand = stock_of(1083, 0.06, 0.0)
    assert (from_stone, from_sand) == pytest.approx((35.36, 64.98))
    assert (stone - 1768) + (sand - 1083) == pytest.approx(100.34)
    assert 38.6 - (from_stone + from_sand) / 8.33 == pytest.approx(26.6, abs=0.05)


@given(moisture=st.floats(0, 0.1), kg=st.floats(0.1, 500))
def test_the_mix_stays_what_it_is(moisture: float, kg: float) -> None:
    """Weight, free water and dry sand do not depend on how wet the sand lies."""
    mix = premix()
    batch = stock_weights(mix, kg, {"sand": moisture})
    assert sum(batch.values()) == pytest.approx(kg)
    sand = next(c for c in mix.components if c.name == "sand")
    water = sum(
        c.free_water(moisture if c is sand else None) * batch[c.name] for c in mix.components
    )
    assert water == pytest.approx(mix.free_water * kg)
    dry = mix.kg[mix.components.index(sand)] * kg / 1.007
    assert batch["sand"] / (1 + moisture) == pytest.approx(dry)


def test_ice_and_water_give_way_in_proportion() -> None:
    mix = normalise(
        Recipe(
            (
                Component("cement", "cement", 100, density=3150),
                Component("sand", "sand", 100, density=2650),
                Component("water", "water", 24),
                Component("ice", "water", 12, density=917),
            )
        )
    )
    batch = stock_weights(mix, 236, {"sand": 0.06})
    assert (batch["water"], batch["ice"]) == pytest.approx((20, 10))


def test_refused() -> None:
    with pytest.raises(ValueError, match="the mix adds only"):
        stock_weights(premix(), 10, {"sand": 0.4})
    with pytest.raises(ValueError, match="no sand or aggregate"):
        stock_weights(premix(), 10, {"water": 0.1})
    with pytest.raises(ValueError, match="more than 0 kg"):
        stock_weights(premix(), math.nan)
    with pytest.raises(ValueError, match="fraction"):
        stock_weights(premix(), 10, {"sand": math.nan})
    with pytest.raises(ValueError, match="weight is 0"):
        stock_of(math.nan, 0.0, 0.0)
    dry = Recipe(
        (
            Component("cement", "cement", 100, density=3150),
            Component("sand", "sand", 100, density=2650),
            Component("polymer", "polymer", 60, solids=0.46),
        )
    )
    with pytest.raises(ValueError, match="no water of its own"):
        stock_weights(normalise(dry), 10, {"sand": 0.02})
