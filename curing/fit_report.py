"""A calibration in print and as data, for use from a shell."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np

from curing.activation import MEANING as ENERGY_MEANING
from curing.calibration import MEANING, PLACEHOLDER_WORDS, Calibration, Point
from curing.fitting import Fit
from curing.strength import PSI, Exponential

AGES = (8.0, 12.0, 16.0, 24.0, 48.0, 72.0, 168.0, 672.0)  # h at 20 °C
GATES_PSI = (1500.0, 2500.0, 3000.0, 5000.0)
UNITS = {"mpa": ("MPa", 1.0, 1), "psi": ("psi", PSI, 0)}


def as_data(result: Calibration) -> dict[str, Any]:
    """All of it in MPa and hours at 20 °C; None stands for what is not there or never comes."""
    low, high = result.band(np.array(AGES))
    middle = result.curve.at(AGES)
    fits = result.fits
    return {
        "activation_energy": result.activation_energy,
        "laws": {
            str(kind): {"name": law.name, "basis": law.basis} for kind, law in result.laws.items()
        },
        "tests": [_point_data(result, point) for point in result.points],
        "placeholder": fits is None,
        "label": result.label or None,
        "missing": MEANING[result.missing] or None,
        "fits": [_fit_data(one) for one in (fits.hyperbolic, fits.exponential)] if fits else [],
        "better": str(fits.better.form) if fits else None,
        "lead_in_akaike": round(fits.lead, 3) if fits else None,
        "clearly_better": fits.clear if fits else None,
        "open_ended": result.open_ended,
        "tested_from_hours": _or_none(result.span[0]),
        "tested_to_hours": _or_none(result.span[1]),
        "strength": [
            {"hours": age, "mpa": _round(mid), "low": _round(lower), "high": _round(upper)}
            for age, mid, lower, upper in zip(AGES, middle, low, high, strict=True)
        ],
        "activation": _energy_data(result),
    }


def _point_data(result: Calibration, point: Point) -> dict[str, Any]:
    missed = _residuals(result, point)
    return {
        "hours": point.test.hours,
        "equivalent_age": round(point.age, 4),
        "celsius": point.test.celsius,
        "kind": str(point.test.kind),
        "mpa": _round(point.test.mpa),
        "compressive_mpa": _round(point.compressive) if point.compressive is not None else None,
        "not_fitted": point.why_not or None,
        "far_off": point.far_off,
        "residual_hyperbolic": missed[0],
        "residual_exponential": missed[1],
    }


def _residuals(result: Calibration, point: Point) -> tuple[float | None, float | None]:
    if result.fits is None or point.compressive is None:
        return None, None
    hyperbolic, exponential = (
        _round(point.compressive - float(one.curve.at(point.age)))
        for one in (result.fits.hyperbolic, result.fits.exponential)
    )
    return hyperbolic, exponential


def _fit_data(one: Fit) -> dict[str, Any]:
    curve = one.curve
    if isinstance(curve, Exponential):
        numbers = {"su": curve.su, "tau": curve.tau, "alpha": curve.alpha}
    else:
        numbers = {"su": curve.su, "k": curve.k, "t0": curve.t0}
    return {
        "form": str(one.form),
        **{name: round(value, 6) for name, value in numbers.items()},
        "misses_by_mpa": _round(one.misses_by),
        "scatter": round(one.scatter, 4),
    }


def _energy_data(result: Calibration) -> dict[str, Any]:
    energy = result.energy
    return {
        "joule_per_mol": _or_none(energy.value),
        "low": _or_none(energy.low),
        "high": _or_none(energy.high),
        "temperatures": [
            {"celsius": round(one.celsius, 2), "k": round(one.rate, 6)} for one in energy.rates
        ],
        "too_few_tests_at": [round(celsius, 2) for celsius in energy.too_few],
        "lacking": ENERGY_MEANING[energy.lacking] or None,
        "pinned_down_poorly": energy.loose,
        "unchecked": energy.unchecked,
    }


def _round(value: float) -> float:
    return round(float(value), 4)


def _or_none(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else round(value, 4)


def as_text(result: Calibration, unit: str) -> Iterator[str]:
    """The same in lines, strengths in the unit of the file ('mpa' or 'psi')."""
    yield from _tests(result, unit)
    yield ""
    if result.fits:
        yield from _fits(result, unit)
    else:
        yield f"No fit: {MEANING[result.missing]}."
        yield f"{PLACEHOLDER_WORDS}: the usual curve, ±30 %."
    yield ""
    yield from _curve(result, unit)
    yield ""
    yield from _energy(result)
    yield ""
    yield "An estimate from these tests and laws; the limits are the shop's to set."


def _tests(result: Calibration, unit: str) -> Iterator[str]:
    sign, size, decimals = UNITS[unit]
    yield (
        f"{'hours':>8} {'°C':>6} {'h at 20 °C':>11} {'kind':9} {sign:>8} "
        f"{'hyperbolic':>11} {'exponential':>12}"
    )
    for point in result.points:
        celsius = "" if point.test.celsius is None else f"{point.test.celsius:.1f}"
        missed = [
            f"{value / size:+.{decimals}f}" if value is not None else "–"
            for value in _residuals(result, point)
        ]
        remark = point.why_not or ("far from what the others say: look at it" * point.far_off)
        yield (
            f"{point.test.hours:8.1f} {celsius:>6} {point.age:11.1f} {point.test.kind:9} "
            f"{point.test.mpa / size:8.{decimals}f} {missed[0]:>11} {missed[1]:>12}"
            f"{'  ' + remark if remark else ''}"
        )
    for kind in dict.fromkeys(point.test.kind for point in result.points):
        law = result.laws[kind]
        yield f"{kind}: {law.name} ({law.basis})"


def _fits(result: Calibration, unit: str) -> Iterator[str]:
    assert result.fits is not None
    sign, size, decimals = UNITS[unit]
    for one in (result.fits.hyperbolic, result.fits.exponential):
        curve = one.curve
        if isinstance(curve, Exponential):
            numbers = f"tau {curve.tau:.2f} h, alpha {curve.alpha:.3f}"
        else:
            numbers = f"k {curve.k:.4f} 1/h, t0 {curve.t0:.2f} h"
        yield (
            f"{one.form}: su {curve.su / size:,.{decimals}f} {sign}, {numbers}; misses the tests "
            f"by {one.misses_by / size:.{decimals}f} {sign}, scatter {one.scatter:.0%}"
        )
    how = "clearly better" if result.fits.clear else "barely better: the tests fit both"
    yield f"{result.fits.better.form} is {how} (Akaike difference {result.fits.lead:.1f})"
    if result.open_ended:
        yield "The tests stop too early to show the strength in the long run."
    first, last = result.span
    yield f"Tested from {first:.1f} to {last:.1f} h at 20 °C; beyond, the curve is a guess."


def _curve(result: Calibration, unit: str) -> Iterator[str]:
    sign, size, decimals = UNITS[unit]
    band = "90 % band" if result.fits else "±30 %"
    yield f"{'h at 20 °C':>11} {sign:>9} {band:>21}"
    low, high = result.band(np.array(AGES))
    for age, middle, lower, upper in zip(AGES, result.curve.at(AGES), low, high, strict=True):
        shown = f"{lower / size:,.{decimals}f} to {upper / size:,.{decimals}f}"
        yield f"{age:11.0f} {middle / size:9,.{decimals}f} {shown:>21}"
    for psi in GATES_PSI:
        age = result.curve.age_at(psi * PSI)
        when = f"{age:.1f} h at 20 °C" if math.isfinite(age) else "never"
        yield f"{psi:,.0f} psi ({psi * PSI:.1f} MPa): {when}{_between(result, psi * PSI)}"


def _between(result: Calibration, mpa: float) -> str:
    if result.fits is None:
        return ""
    low, high = result.fits.better.age_band(mpa)
    late = f"{high:.1f}" if math.isfinite(high) else "never"
    return f" ({low:.1f} to {late})" if math.isfinite(low) else ""


def _energy(result: Calibration) -> Iterator[str]:
    energy = result.energy
    for one in energy.rates:
        yield f"at {one.celsius:.1f} °C: k {one.rate:.4f} 1/h from {len(one.fit.ages)} tests"
    if energy.value is None:
        yield f"Activation energy: {ENERGY_MEANING[energy.lacking]}."
        yield f"Ages above are by {result.activation_energy:,.0f} J/mol."
        return
    yield (
        f"Activation energy (ASTM C1074, Annex A1): {energy.value:,.0f} J/mol, "
        f"{energy.low:,.0f} to {energy.high:,.0f}; ages above are by "
        f"{result.activation_energy:,.0f}."
    )
    if energy.loose:
        yield "These tests pin it down poorly: break more at each temperature, above all early."
    if energy.unchecked:
        yield "Two temperatures only: nothing checks the line. ASTM C1074 asks for three."
