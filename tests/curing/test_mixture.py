"""Recipes brought to weights, against hand-worked mixes."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from curing.mixture import Component, Recipe, for_layer, normalise
from tests.curing.mixes import PREMIX, premix


def named(recipe: Recipe) -> dict[str, float]:
    mix = normalise(recipe)
    return {c.name: kg for c, kg in zip(mix.components, mix.kg, strict=True)}


def test_parts_by_hand() -> None:
    """1 : 1 with w/c 0.35 written in parts: each over 2.35."""
    recipe = Recipe(
        (
            Component("cement", "cement", 1, density=3150),
            Component("sand", "sand", 1, density=2650),
            Component("water", "water", 0.35),
        )
    )
    assert named(recipe) == pytest.approx(
        {"cement": 1 / 2.35, "sand": 1 / 2.35, "water": 0.35 / 2.35}
    )
    assert normalise(recipe).water_cement == pytest.approx(0.35)


def test_premix_by_hand() -> None:
    """Fractions of the recipe in `mixes`, worked by hand on 100 of cement."""
    emulsion = Fraction(5) / Fraction(46, 100)  # 10.870
    from_liquids = emulsion * Fraction(54, 100) + Fraction(1, 2) * Fraction(70, 100)
    water = Fraction(34, 100) * 120 - from_liquids  # 34.580
    matrix = 100 + 20 + 120 + water + emulsion + 4 + Fraction(1, 2)
    whole = matrix / Fraction(975, 1000)
    parts = {
        "white cement": 100, "pozzolan": 20, "sand": 120, "water": water, "polymer": emulsion,
        "iron oxide": 4, "plasticizer": Fraction(1, 2), "glass fibre": whole - matrix,
    }  # fmt: skip
    assert float(water) == pytest.approx(34.580, abs=5e-4)
    assert named(PREMIX) == pytest.approx({k: float(v / whole) for k, v in parts.items()})
    mix = normalise(PREMIX)
    assert mix.water_cementitious == pytest.approx(0.34)
    assert mix.water_cement == pytest.approx(0.408)
    assert mix.polymer == pytest.approx(0.05)
    assert mix.pozzolan == pytest.approx(1 / 6)
    assert mix.pigment == pytest.approx(0.04)
    assert mix.fibre == pytest.approx(0.025)
    assert mix.sand == pytest.approx(1.0)
    assert sum(mix.per_m3(2080).values()) == pytest.approx(2080)


def test_all_in_shares_of_cementitious() -> None:
    """The example of `normalise`'s docstring: 1 : 1, 20 % pozzolan, w/cm 0.34, over 2.34."""
    recipe = Recipe(
        (
            Component("cement", "cement", 0.8, by="cementitious", density=3150),
            Component("pozzolan", "pozzolan", 0.2, by="cementitious", density=2600),
            Component("sand", "sand", 1.0, by="cementitious", density=2650),
            Component("water", "water", 0.34, by="water-of-cementitious"),
        )
    )
    assert list(named(recipe).values()) == pytest.approx([0.342, 0.085, 0.427, 0.145], abs=5e-4)


def test_all_in_shares_of_the_total() -> None:
    recipe = Recipe(
        (
            Component("cement", "cement", 0.43, by="total", density=3150),
            Component("sand", "sand", 0.42, by="total", density=2650),
            Component("water", "water", 0.15, by="total"),
        )
    )
    assert list(named(recipe).values()) == pytest.approx([0.43, 0.42, 0.15])


def test_liquid_pigment_counts_its_solids_and_its_water() -> None:
    """10 of a 60 % slurry on 100 of cement: 6 % pigment, 4 of water beside the 31 added."""
    recipe = Recipe(
        (
            Component("cement", "cement", 100, density=3150),
            Component("sand", "sand", 100, density=2650),
            Component("water", "water", 31),
            Component("slurry", "pigment", 10, density=1700, solids=0.6),
        )
    )
    mix = normalise(recipe)
    assert mix.pigment == pytest.approx(0.06)
    assert mix.water_cement == pytest.approx(0.35)


def test_sand_written_dry_soaks_up_mixing_water() -> None:
    """100 of dry sand with 2 % absorption takes 2 of the 37 of water (ACI 211.1)."""
    sand = Component("sand", "sand", 100, density=2650, absorption=0.02, written_moisture=0.0)
    rest = (Component("cement", "cement", 100, density=3150), Component("water", "water", 37))
    mix = normalise(Recipe((*rest, sand)))
    assert mix.water_cement == pytest.approx(0.35)
    # The same mix written with its sand SSD.
    wet = Component("sand", "sand", 102, density=2650, absorption=0.02)
    other = normalise(Recipe((rest[0], Component("water", "water", 35), wet)))
    assert mix.absolute_volume == pytest.approx(other.absolute_volume)


amount = st.floats(0.01, 100)


@given(cement=amount, pozzolan=amount, sand=amount, ratio=st.floats(0.2, 0.6), solids=st.floats(0.3, 1),
       dose=st.floats(0, 0.1), fibre=st.floats(0, 0.05), scale=st.floats(1e-6, 1e9))  # fmt: skip
def test_ratios_come_out_as_written_whatever_the_scale(
    cement: float, pozzolan: float, sand: float, ratio: float, solids: float, dose: float,
    fibre: float, scale: float,
) -> None:  # fmt: skip
    brings = dose * (1 - solids) / solids
    assume(ratio * (cement + pozzolan) > 1.01 * brings * cement)
    mix = normalise(
        Recipe(
            (
                Component("cement", "cement", cement * scale, density=3150),
                Component("pozzolan", "pozzolan", pozzolan * scale, density=2600),
                Component("sand", "sand", sand * scale, density=2650),
                Component("water", "water", ratio, by="water-of-cementitious"),
                Component("polymer", "polymer", dose, by="solids-of-cement", solids=solids),
                Component("fibre", "fibre", fibre, by="total", density=2680),
            )
        )
    )
    assert sum(mix.kg) == pytest.approx(1)
    assert mix.water_cementitious == pytest.approx(ratio, rel=1e-6)
    assert mix.polymer == pytest.approx(dose, rel=1e-6, abs=1e-9)
    assert mix.fibre == pytest.approx(fibre, rel=1e-6, abs=1e-9)
    assert mix.pozzolan == pytest.approx(pozzolan / (cement + pozzolan), rel=1e-6)


def test_layers_share_one_matrix() -> None:
    face, backer = premix(0.0), premix(0.03)
    assert face.fibre == 0
    assert backer.fibre == pytest.approx(0.03)
    for mix in (face, backer):
        assert mix.water_cementitious == pytest.approx(0.34)
        assert mix.pigment == pytest.approx(0.04)
    # One fibre can be given its share though the face has none of it.
    assert for_layer(face, 0.03).kg == pytest.approx(backer.kg)


CEMENT = Component("cement", "cement", 100, density=3150)


@pytest.mark.parametrize(
    ("components", "says"),
    [
        ((), "needs a cement"),
        ((CEMENT, CEMENT), "two components are called cement"),
        ((CEMENT, Component("sand", "sand", 0.4, by="total"),
          Component("w", "water", 0.7, by="total")), "cement would have to be below 0"),
        ((Component("cement", "cement", 0.8, by="cementitious"),
          Component("pozzolan", "pozzolan", 0.3, by="cementitious")), "contradict"),
        ((Component("cement", "cement", 0.4, by="total"),
          Component("sand", "sand", 0.4, by="total")), r"contradict each other \(0.8 of the total\)"),
        ((Component("cement", "cement", 1, by="cement"),
          Component("sand", "sand", 1, by="total")), "without cement"),
        # Polymer alone brings 11.7 of water to 100 of cement, the ratio asks for 10.
        ((CEMENT, Component("polymer", "polymer", 0.05, by="solids-of-cement", solids=0.3),
          Component("water", "water", 0.1, by="water-of-cement")), "water would have to be below 0"),
        ((CEMENT, Component("water", "water", 1), Component(
            "sand", "sand", 100, absorption=0.05, written_moisture=0.0)), "soaks up more"),
    ],
)  # fmt: skip
def test_a_recipe_that_cannot_be_says_so(components: tuple[Component, ...], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        normalise(Recipe(components))


def test_a_recipe_that_ties_nothing_together_says_so() -> None:
    """Cement is its whole of cement at any weight: nothing ties it to the water."""
    loose = (Component("cement", "cement", 1.0, by="cement"), Component("water", "water", 1))
    with pytest.raises(ValueError, match="does not fix every weight"):
        normalise(Recipe(loose))
    tied = (loose[0], Component("sand", "sand", 1.0, by="cement"))
    assert named(Recipe(tied)) == pytest.approx({"cement": 0.5, "sand": 0.5})


@pytest.mark.parametrize(
    ("what", "says"),
    [
        ({"name": " "}, "needs a name"),
        ({"role": "glue"}, "no role"),
        ({"by": "feel"}, "no way to write"),
        ({"amount": -1}, "0 or above"),
        ({"amount": math.nan}, "0 or above"),
        ({"density": 0}, "above 0"),
        ({"density": math.nan}, "above 0"),
        ({"solids": 0}, "above 0 and at most 1"),
        ({"solids": 0.5}, "solids below 1"),
        ({"by": "water-of-cement"}, "only water"),
        ({"role": "sand", "absorption": 0.6}, "fraction"),
        ({"role": "sand", "written_moisture": math.nan}, "fraction"),
        ({"absorption": 0.01}, "absorption is for"),
    ],
)
def test_a_component_that_cannot_be_says_so(what: dict[str, Any], says: str) -> None:
    whole: dict[str, Any] = {"name": "x", "role": "cement", "amount": 1, "density": 3150, **what}
    with pytest.raises(ValueError, match=says):
        Component(**whole)


def test_fibre_that_cannot_be_set_says_so() -> None:
    bare = normalise(Recipe((CEMENT, Component("water", "water", 35))))
    with pytest.raises(ValueError, match="no fibre"):
        for_layer(bare, 0.02)
    with pytest.raises(ValueError, match="share of the total"):
        for_layer(premix(), 0.2)
    with pytest.raises(ValueError, match="above 0"):
        premix().per_m3(math.nan)
