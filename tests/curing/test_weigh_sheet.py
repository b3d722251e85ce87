"""The weigh sheet: order, rounding as a scale rounds, and what that does to the ratios."""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal
from itertools import product
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curing.mixture import Component, Mix, Recipe, for_layer, normalise
from curing.weigh_sheet import Load, Sheet, ratios_of, weigh_sheet
from tests.curing.mixes import premix

LOADS = (Load("face", premix(0.0), 12.0), Load("backer", premix(0.025), 55.0), Load("rib", premix(0.035), 9.0))  # fmt: skip


def line(sheet: Sheet, key: str) -> Any:
    return next(found for found in sheet.lines if found.key == key)


def test_in_the_order_the_crew_adds_them() -> None:
    assert [found.key for found in weigh_sheet(LOADS).lines] == [
        "water",
        "polymer",
        "plasticizer",
        "iron oxide",
        "sand",
        "white cement",
        "pozzolan",
        "glass fibre, backer",
        "glass fibre, rib",
    ]
    own = weigh_sheet(LOADS, order=["white cement", "water"])
    assert [found.key for found in own.lines][:3] == ["white cement", "water", "polymer"]


def test_by_hand() -> None:
    """12 kg face, 55 kg backer, 9 kg ribs: 74.310 kg of matrix for 290.450 of recipe on 100."""
    sheet = weigh_sheet(LOADS)
    matrix = 12 + 55 * 0.975 + 9 * 0.965
    assert matrix == pytest.approx(74.310)
    of_100 = 100 + 20 + 120 + 34.5804 + 10.8696 + 4 + 0.5
    cement = matrix / of_100 * 100
    assert line(sheet, "white cement").exact_kg == pytest.approx(cement, rel=1e-6)
    assert line(sheet, "white cement").weigh_kg == pytest.approx(round(cement, 2))
    assert line(sheet, "iron oxide").weigh_kg == pytest.approx(round(0.04 * cement, 3))
    assert line(sheet, "glass fibre, backer").exact_kg == pytest.approx(1.375)
    assert line(sheet, "glass fibre, rib").exact_kg == pytest.approx(0.315)
    assert sheet.matrix_kg == pytest.approx({"face": 12.0, "backer": 53.625, "rib": 8.685})
    assert sheet.exact_kg == pytest.approx(76.0)
    exact = {name: ratio.exact for name, ratio in sheet.ratios.items()}
    assert exact == pytest.approx(
        {
            "water_cement": 0.408,
            "water_cementitious": 0.34,
            "polymer": 0.05,
            "pozzolan": 1 / 6,
            "pigment": 0.04,
            "fibre_face": 0.0,
            "fibre_backer": 0.025,
            "fibre_rib": 0.035,
        }
    )


def test_moist_sand_changes_two_lines_and_no_ratio() -> None:
    dry, wet = weigh_sheet(LOADS), weigh_sheet(LOADS, {"sand": 0.05})
    more = line(wet, "sand").exact_kg - line(dry, "sand").exact_kg
    # 4.3 % of the dry sand.
    assert more == pytest.approx(line(dry, "sand").exact_kg / 1.007 * 0.043)
    assert line(dry, "water").exact_kg - line(wet, "water").exact_kg == pytest.approx(more)
    for name, ratio in wet.ratios.items():
        assert ratio.exact == pytest.approx(dry.ratios[name].exact)
    assert line(wet, "white cement") == line(dry, "white cement")


@given(kg=st.floats(0.001, 500), grams=st.sampled_from([1, 2, 5, 10, 20, 50, 100]))
def test_rounded_as_a_scale_rounds(kg: float, grams: int) -> None:
    """Against decimal arithmetic: a whole number of steps, the nearest, halves up."""
    sheet = weigh_sheet([Load("face", premix(0.0), kg)], steps={"sand": grams / 1000})
    found = line(sheet, "sand")
    step = Decimal(grams) / 1000
    steps = Decimal(found.exact_kg) / step
    nearest = steps.quantize(Decimal(1), ROUND_HALF_UP)
    if abs(abs(steps - nearest) - Decimal("0.5")) > Decimal("1e-6"):
        assert found.weigh_kg == pytest.approx(float(nearest * step), abs=1e-9)
    assert abs(found.error_kg) <= grams / 2000 + 1e-8
    assert found.tolerance_kg >= grams / 2000


def test_steps_and_tolerances_by_name_before_role() -> None:
    sheet = weigh_sheet(
        LOADS, steps={"cement": 0.5, "fibre": 0.1}, tolerances={"sand": 0.05, "water": 0.0}
    )
    assert line(sheet, "white cement").weigh_kg % 0.5 == 0
    assert line(sheet, "glass fibre, backer").weigh_kg == pytest.approx(1.4)
    sand, water = line(sheet, "sand"), line(sheet, "water")
    assert sand.tolerance_kg == pytest.approx(0.05 * sand.exact_kg)
    assert sand.basis == "set by the shop"
    # No scale weighs nearer than half its step.
    assert water.tolerance_kg == water.step_kg / 2
    assert line(sheet, "pozzolan").tolerance_kg == pytest.approx(
        0.01 * line(sheet, "pozzolan").exact_kg
    )
    named = weigh_sheet(LOADS, steps={"cement": 0.5, "white cement": 0.1})
    assert line(named, "white cement").step_kg == 0.1


def plain_ratios(sheet: Sheet, kg: Any) -> tuple[float, float, float]:
    """w/c, w/cm and pigment over cement by plain sums, apart from the module's own."""
    by = {found.key: float(w) for found, w in zip(sheet.lines, kg, strict=True)}
    water = by["water"] + 0.54 * by["polymer"] + 0.70 * by["plasticizer"]
    dry = by["sand"] / 1.05
    water += by["sand"] - dry * 1.007
    cement = by["white cement"]
    return water / cement, water / (cement + by["pozzolan"]), by["iron oxide"] / cement


@settings(deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(1.0, 80.0))
def test_no_rounding_leaves_the_bounds(seed: int, kg: float) -> None:
    """Weights anywhere in their half steps and in their tolerances."""
    sheet = weigh_sheet([Load("face", premix(0.0), kg)], {"sand": 0.05}, steps={"cement": 0.1})
    rng = np.random.default_rng(seed)
    exact = np.array([found.exact_kg for found in sheet.lines])
    names = ("water_cement", "water_cementitious", "pigment")
    for off, bounds in (
        ([found.step_kg / 2 for found in sheet.lines], "rounding"),
        ([found.tolerance_kg for found in sheet.lines], "tolerance"),
    ):
        weights = np.maximum(exact + rng.uniform(-1, 1, exact.size) * off, 0)
        for name, value in zip(names, plain_ratios(sheet, weights), strict=True):
            low, high = getattr(sheet.ratios[name], bounds)
            assert low - 1e-12 <= value <= high + 1e-12
            assert ratios_of(sheet, list(weights))[name] == pytest.approx(value)
    rounded = [found.weigh_kg for found in sheet.lines]
    for name, value in zip(names, plain_ratios(sheet, rounded), strict=True):
        ratio = sheet.ratios[name]
        assert ratio.rounded == pytest.approx(value)
        assert ratio.rounding[0] - 1e-9 <= ratio.rounded <= ratio.rounding[1] + 1e-9


def test_the_bounds_are_reached() -> None:
    """At the corners of all half steps, and for fibre, which is in its own total, not passed."""
    sheet = weigh_sheet([Load("backer", premix(), 4.0)])
    exact = np.array([found.exact_kg for found in sheet.lines])
    half = np.array([found.step_kg / 2 for found in sheet.lines])
    corners = [
        ratios_of(sheet, list(exact + half * s)) for s in product((-1, 1), repeat=exact.size)
    ]
    for name, ratio in sheet.ratios.items():
        low, high = min(c[name] for c in corners), max(c[name] for c in corners)
        if name in ("pozzolan", "fibre_backer"):
            assert ratio.rounding[0] <= low < ratio.exact < high <= ratio.rounding[1]
        else:
            assert ratio.rounding == pytest.approx((low, high))


def test_what_a_scale_cannot_weigh_is_said() -> None:
    sheet = weigh_sheet([Load("face", premix(0.0), 1.0)], steps={"iron oxide": 0.05})
    [below] = [n for n in sheet.notes if n.key == "below-scale"]
    assert "iron oxide" in below.text
    assert below.figures["weigh_kg"] == 0
    coarse = [
        n for n in weigh_sheet([Load("face", premix(0.0), 1.0)]).notes if n.key == "coarse-scale"
    ]
    # 1.7 g of plasticizer at 3 % on a scale of 1 g.
    assert any("plasticizer" in n.text for n in coarse)
    assert weigh_sheet(LOADS).notes == ()


def other_matrix() -> Mix:
    recipe = Recipe(
        (Component("cement", "cement", 1, density=3150), Component("water", "water", 0.35))
    )
    return normalise(recipe)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"loads": []}, "something to make"),
        ({"loads": [LOADS[0], LOADS[0]]}, "given twice"),
        ({"loads": [LOADS[0], Load("backer", other_matrix(), 5)]}, "not of one matrix"),
        ({"order": ["lime"]}, "lime is not in this recipe"),
        ({"steps": {"lime": 0.1}}, "lime"),
        ({"steps": {"sand": 0.0}}, "step for sand"),
        ({"tolerances": {"sand": math.nan}}, "tolerance"),
        ({"moisture": {"sand": 0.4}}, "brings"),
    ],
)
def test_refused(change: dict[str, Any], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        weigh_sheet(**{"loads": LOADS, **change})


def test_loads_and_weights_refused() -> None:
    with pytest.raises(ValueError, match="no layer"):
        Load("middle", premix(), 1.0)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="kg"):
        Load("face", premix(0.0), math.nan)
    sheet = weigh_sheet(LOADS)
    with pytest.raises(ValueError, match="as many"):
        ratios_of(sheet, [1.0])
    with pytest.raises(ValueError, match="finite"):
        ratios_of(sheet, [math.nan] * len(sheet.lines))
    assert for_layer(premix(), 0.0).kg == pytest.approx(premix(0.0).kg)
