"""What is no number comes out of no law: each refuses it, or says that it never happens.

A NaN that slips through compares false with every limit, which a limit takes for 'within'.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial
from typing import Any

import numpy as np
import pytest

from curing import (
    bending,
    diffusion,
    drying_rate,
    evaporation,
    fitting,
    handling,
    limits,
    maturity,
    moisture,
    panel,
    sealing,
    sections,
    sheet,
    specimens,
    strength,
)
from curing.activation import energy_from
from curing.calibration import StrengthTest, calibrate
from curing.diffusivity import (
    MODEL_CODE,
    bazant_najjar_ratio,
    bazant_thonguthai,
    drying_factor,
    model_code_d1,
)

SLAB = moisture.Slab(0.019)
RATE = drying_rate.DryingRate.of(SLAB, moisture.Concrete())
PANEL = panel.Panel(2.4, 0.6, 0.02)
WEIGHT = bending.Load("weight")
AGES, TESTS = [12.0, 24.0, 168.0], [9.0, 22.0, 50.0]


def marched(step: float, air: float, film: float, start: float) -> diffusion.March:
    grid = diffusion.Grid.of()
    return diffusion.march(MODEL_CODE, grid, [step], [air], inverse_biot=film, start=start)


def concrete(d1: float, film: float, water: float, density: float, kelvin: float) -> Any:
    return moisture.Concrete(d1, MODEL_CODE, film, water, density, kelvin)


def dried(celsius: float, humidity: float, until: float, depth: float) -> moisture.Drying:
    air = ([0, 10], [celsius] * 2, [humidity] * 2)
    return moisture.dry_out(SLAB, moisture.Concrete(), *air, until=until, depth=depth)


def loses(celsius: float, humidity: float, percent: float) -> float:
    air = {"celsius": celsius, "humidity": humidity}
    return moisture.mean_at_loss(SLAB, moisture.Concrete(), **air, percent_per_day=percent)


def sealer(*hours: float) -> sealing.Sealer:
    least, *others = hours
    return sealing.Sealer(2, least, None, *others)


def needed(factor: float) -> handling.Need:
    way = handling.stripped_by_tilting(WEIGHT)
    return handling.need(PANEL, way, strength.PLACEHOLDER, rupture_factor=factor)


def ribbed(at: float, width: float, depth: float) -> panel.Panel:
    return panel.Panel(2.4, 0.6, 0.02, ribs=(panel.Rib(at, width, depth),))


def cut(x: float, y: float, length: float, width: float) -> panel.Panel:
    return panel.Panel(2.4, 0.6, 0.02, cutouts=(panel.Cutout(x, y, length, width),))


def backed(*sizes: float) -> panel.Panel:
    return panel.Panel(2.4, 0.6, 0.02, strongbacks=(panel.Strongback(*sizes),))


def beam(start: float, end: float, load: float, left: float, right: float) -> bending.Beam:
    return bending.Beam((start, end), (load,), (left, right))


def broken(hours: float, mpa: float, celsius: float) -> Any:
    return calibrate([StrengthTest(hours, mpa, celsius=celsius)])


def energy(cold: float, rate: float) -> float:
    curves = {cold: strength.Hyperbolic(60, rate), 40.0: strength.Hyperbolic(60, 0.06)}
    return strength.activation_energy(curves)


def drying_notes(thickness: float, *air: float) -> Any:
    names = ("coldest", "warmest", "driest", "dampest", "target")
    return limits.drying_notes(thickness, **dict(zip(names, air, strict=True)))


# Each law with figures that it takes, and each of them is spoilt in turn.
LAWS: list[tuple[Callable[..., Any], tuple[Any, ...]]] = [
    (maturity.temperature_time_factor, ([0, 1], [20, 20], 0.0)),
    (maturity.age_factor, (20.0, 41500.0, 20.0)),
    (maturity.equivalent_age, ([0, 1], [20, 20], 41500.0, 20.0)),
    (maturity.en1992_age_factor, (20.0,)),
    (maturity.adjusted_age_at_loading, (7.0, 0.0)),
    (strength.Hyperbolic, (60.0, 0.03, 5.0)),
    (strength.Exponential, (60.0, 20.0, 0.8)),
    (strength.EN1992, (48.0, 0.25)),
    (strength.ACI209, (40.0, 4.0, 0.85)),
    (strength.beta_cc, (3.0, 0.25)),
    (strength.characteristic_strength, (7.0, 40.0, 0.25)),
    (strength.fit_hyperbolic, (AGES, TESTS)),
    (strength.mean_tensile, (30.0,)),
    (strength.tensile_at, (0.5, 1.0, 3.0)),
    (strength.flexural_tensile, (19.0, 3.0)),
    (strength.aci318_modulus_of_rupture, (4000.0, 1.0)),
    (energy, (20.0, 0.03)),
    (sealing.saturation_pressure, (20.0,)),
    (sealing.saturation_pressure_fao56, (20.0,)),
    (sealing.dew_point, (20.0, 0.5)),
    (sealing.dew_point_alduchov, (20.0, 0.5)),
    (sealing.may_coat, (20.0, 10.0, 3.0)),
    (sealing.film_rate, (20.0,)),
    (partial(sealing.recoat_state, sealer=sealing.Sealer()), (5.0,)),
    (sealing.CoatLimits, (15.0, 30.0, 0.8, 3.0)),
    (sealer, (4.0, 24.0, 72.0, 168.0, 48.0, 0.5)),
    (evaporation.evaporation_rate, (20.0, 20.0, 0.5, 3.0)),
    (evaporation.evaporation_rate_menzel, (20.0, 20.0, 0.5, 3.0)),
    (evaporation.early_evaporation, (20.0, 20.0, 0.5, 3.0)),
    (bazant_najjar_ratio, (0.8, 0.05, 0.8, 15.0)),
    (model_code_d1, (40.0,)),
    (bazant_thonguthai, (0.5, 30.0, 3e-10, 0.75, 16.0)),
    (drying_factor, (20.0, 4700.0, 20.0)),
    (marched, (0.1, 0.5, 0.1, 1.0)),
    (partial(diffusion.Grid.of, 40, 0), (1.5,)),
    (moisture.Slab, (0.019,)),
    (concrete, (2.5e-10, 1e-3, 150.0, 2080.0, 4700.0)),
    (dried, (20.0, 0.5, 0.85, 0.4)),
    (loses, (20.0, 0.5, 0.15)),
    (partial(drying_rate.drying_table, MODEL_CODE), (0.85, 0.4)),
    (RATE.per_hour, (0.5, 20.0)),
    (RATE.share, ([0, 1], [20, 20], [0.5, 0.5])),
    (
        partial(drying_rate.hours_of_share, np.array([0.0, 9.0]), np.array([0.0, 3.0])),
        (0.0, 1.0),
    ),
    (sheet.sheet_loss, (0.2,)),
    (sheet.sheet_change, (0.2, 0.5)),
    (sheet.triangular_loss, (0.2,)),
    (sheet.film_roots, (5.0,)),
    (sheet.film_coefficients, (5.0,)),
    (sheet.film_loss, (0.2, 5.0)),
    (fitting.fit_within_limits, (AGES, TESTS)),
    (fitting.fit_exponential, (AGES, TESTS)),
    (partial(fitting.fit, fitting.Form.HYPERBOLIC, draws=5), (AGES, TESTS)),
    (broken, (20.0, 10.0, 20.0)),
    (energy_from, (AGES, TESTS, [20.0, 20.0, 20.0])),
    (specimens.as_measured, (20.0,)),
    (specimens.en1992_cube_from_cylinder, (20.0,)),
    (specimens.aci318_compression_from_flexure, (3.0,)),
    (handling.strength_aci318, (3.0,)),
    (lambda lightness: handling.strength_aci318(3.0, lightness=lightness), (1.0,)),
    (lambda *args: handling.strength_en1992(*args[:2], fck=args[2]), (3.0, 0.019, 40.0)),
    (handling.Rules, (1.3, 1000.0, 1.2, 1.5, 0.21, 1.5, 22.0)),
    (needed, (1.5,)),
    (handling.lift, (50.0, 22.0)),
    (partial(handling.stripping_load, PANEL), (1.3, 1000.0)),
    (lambda floor: handling.demold_age([needed(1.5)], floor), (16.0,)),
    (partial(bending.Load, "weight"), (1.0, 0.0)),
    (partial(bending.Carry, "by hand", "face"), (0.2,)),
    (beam, (0.0, 1.0, 1.0, 0.0, 1.0)),
    (panel.Panel, (2.4, 0.6, 0.02)),
    (
        lambda density, modulus: panel.Panel(1, 1, 0.02, density=density, modulus=modulus),
        (2080.0, 2e4),
    ),
    (partial(panel.Edge, "front"), (0.02, 0.04)),
    (ribbed, (0.3, 0.03, 0.03)),
    (cut, (0.8, 0.1, 0.5, 0.3)),
    (backed, (0.1, 0.1, 1.0, 0.05, 0.05, 9e3, 450.0)),
    (sections.Rect, (0.0, 1.0, 0.0, 1.0, 1.0, 2080.0)),
    (limits.maturity_notes, (10.0, 20.0)),
    (partial(limits.age_notes, tests=None), (10.0,)),
    (partial(limits.strength_notes, curve=strength.PLACEHOLDER, tests=None), (10.0,)),
    (drying_notes, (0.02, 10.0, 20.0, 0.4, 0.6, 0.85)),
    (
        lambda cold, warm: limits.sealing_notes(True, cold, warm, sealing.CoatLimits()),
        (16.0, 20.0),
    ),
    (limits.Reach, (12.0, 24.0, 30.0)),
]


@pytest.mark.parametrize(
    ("law", "figures", "place"),
    [(law, figures, place) for law, figures in LAWS for place in range(len(figures))],
)
def test_a_figure_that_is_no_number_is_refused(
    law: Callable[..., Any], figures: tuple[Any, ...], place: int
) -> None:
    law(*figures)
    spoilt = list(figures)
    old = spoilt[place]
    spoilt[place] = [math.nan, *old[1:]] if isinstance(old, list) else math.nan

    with pytest.raises(ValueError, match=r"\w{3,}"):
        law(*spoilt)


@pytest.mark.parametrize(
    "curve",
    [
        strength.PLACEHOLDER,
        strength.Exponential(60.0, 20.0, 0.8),
        strength.EN1992(48.0),
        strength.ACI209(40.0),
    ],
)
def test_no_curve_is_read_at_no_number(curve: strength.Curve) -> None:
    for read in (curve.at, curve.age_at):
        with pytest.raises(ValueError, match="number"):
            read(math.nan)
