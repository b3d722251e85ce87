"""Quantities at the edge: SI inside, what the shop reads and types outside. Converted by pint."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache
from typing import Any

import pint

from shop.lengths import INCH, SIXTEENTHS, inches, read_length, typed_inches
from shop.models import Shop


@cache
def registry() -> pint.UnitRegistry[Any]:
    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


@dataclass(frozen=True)
class Measure:
    """One kind of quantity: its unit inside, and for each system unit, sign and decimals."""

    inside: str
    us: tuple[str, str, int]
    si: tuple[str, str, int]

    def face(self, shop: Shop) -> tuple[str, str, int]:
        return self.us if shop.us else self.si


MEASURES: dict[str, Measure] = {
    "temperature": Measure("degC", ("degF", "°F", 0), ("degC", "°C", 1)),
    "temperature_step": Measure("delta_degC", ("delta_degF", "°F", 0), ("delta_degC", "°C", 1)),
    "strength": Measure("MPa", ("psi", "psi", 0), ("MPa", "MPa", 1)),
    "area": Measure("m**2", ("ft**2", "ft²", 1), ("m**2", "m²", 2)),
    "length": Measure("m", ("inch", "in", 2), ("mm", "mm", 0)),
    "volume": Measure("m**3", ("gallon", "gal", 1), ("liter", "L", 1)),
    "weight": Measure("kg", ("lb", "lb", 0), ("kg", "kg", 0)),
    "scale": Measure("kg", ("lb", "lb", 1), ("kg", "kg", 2)),
    "small_weight": Measure("kg", ("gram", "g", 0), ("gram", "g", 0)),  # as a small scale shows
    "cup": Measure("m**3", ("fluid_ounce", "fl oz", 1), ("milliliter", "mL", 0)),
    "weight_per_area": Measure("kg/m**2", ("lb/ft**2", "lb/ft²", 1), ("kg/m**2", "kg/m²", 1)),
    "evaporation": Measure(
        "kg/m**2/hour", ("lb/ft**2/hour", "lb/ft²/h", 2), ("kg/m**2/hour", "kg/m²/h", 2)
    ),
    "speed": Measure("m/s", ("mile/hour", "mph", 1), ("m/s", "m/s", 1)),
    "density": Measure("kg/m**3", ("lb/ft**3", "lb/ft³", 0), ("kg/m**3", "kg/m³", 0)),
    "unit_weight": Measure("kg/m**3", ("lb/ft**3", "lb/ft³", 1), ("kg/m**3", "kg/m³", 0)),
    "pressure": Measure("Pa", ("force_pound/foot**2", "psf", 0), ("kPa", "kPa", 2)),
    "modulus": Measure("MPa", ("ksi", "ksi", 0), ("GPa", "GPa", 1)),
    "labour_per_area": Measure("hour/m**2", ("hour/ft**2", "h/ft²", 3), ("hour/m**2", "h/m²", 2)),
}

UNIT_SIGNS: dict[str, str] = {
    "°f": "degF", "f": "degF", "°c": "degC", "c": "degC", "psi": "psi", "mpa": "MPa",
    "ft2": "ft**2", "ft²": "ft**2", "sqft": "ft**2", "sq ft": "ft**2", "m2": "m**2", "m²": "m**2",
    "in": "inch", '"': "inch", "mm": "mm", "cm": "cm", "m": "m", "ft": "foot", "lb": "lb",
    "lbs": "lb", "kg": "kg", "lb/ft³": "lb/ft**3", "kg/m³": "kg/m**3", "h/ft²": "hour/ft**2",
    "h/m²": "hour/m**2", "psf": "force_pound/foot**2", "pa": "Pa", "kpa": "kPa", "ksi": "ksi",
    "gpa": "GPa", "mph": "mile/hour", "m/s": "m/s", "g": "gram", "oz": "ounce", "ml": "milliliter",
    "l": "liter", "fl oz": "fluid_ounce", "qt": "quart", "gal": "gallon",
}  # fmt: skip

NUMBER = re.compile(r"^\s*([+\-−]?\d+(?:[.,]\d+)?|[+\-−]?[.,]\d+)\s*(.*?)\s*$")


def shown(value: float, kind: str, shop: Shop) -> float:
    """The number the shop reads for a quantity in SI."""
    measure = MEASURES[kind]
    unit, _, _ = measure.face(shop)
    return float(registry().Quantity(value, measure.inside).to(unit).magnitude)


def words(value: float | None, kind: str, shop: Shop) -> str:
    """`words(10.3, "strength", shop)` is '1,494 psi' for a shop that reads psi."""
    if value is None or not math.isfinite(value):
        return "–"
    _, sign, decimals = MEASURES[kind].face(shop)
    if by_fractions(kind, shop):
        return f"{inches(value).replace('-', '−')} {sign}"
    # A length is read back as it stands, and 1,200 could be read two ways.
    thousands = "" if kind == "length" else ","
    number = f"{shown(value, kind, shop):{thousands}.{decimals}f}"
    if float(number.replace(",", "")) == 0:
        number = number.replace("-", "")
    return f"{number.replace('-', '−')} {sign}"


def typed(value: float | None, kind: str, shop: Shop) -> str:
    """The same number as a person would type it, without its unit."""
    if value is None:
        return ""
    if by_fractions(kind, shop):
        return typed_inches(value)
    _, _, decimals = MEASURES[kind].face(shop)
    text = f"{shown(value, kind, shop):.{decimals + 1}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def by_fractions(kind: str, shop: Shop) -> bool:
    """Inches are read and written as on a tape, in halves to sixteenths."""
    return kind == "length" and shop.us


def limit_words(value: float, shop: Shop, kind: str, *, least: bool) -> str:
    """A limit as it is printed, rounded to the side where it is kept."""
    if not by_fractions(kind, shop):
        return words(value, kind, shop)
    sixteenths = value / INCH * SIXTEENTHS
    whole = math.ceil(sixteenths - 1e-6) if least else math.floor(sixteenths + 1e-6)
    return words(whole / SIXTEENTHS * INCH, kind, shop)


def sign(kind: str, shop: Shop) -> str:
    return MEASURES[kind].face(shop)[1]


def warmth(shop: Shop, celsius: float = 20.0) -> str:
    """A standard's whole degree in the shop's own: '68 °F' where the law says 20 °C."""
    return f"{shown(celsius, 'temperature', shop):.0f} {sign('temperature', shop)}"


def read(text: str, kind: str, shop: Shop) -> float:
    """SI from what somebody typed: '58', '58 °F', '14,5 C'. Without a unit, the shop's own.

    A length may also be written by feet and fractions: see `shop.lengths`; an area as length by
    width: '96 x 25 1/2'.
    """
    if kind == "length":
        return read_length(text, sign(kind, shop))
    if kind == "area" and len(sides := re.split(r"[x×*]", text.lower())) == 2:
        length, width = (read(side, "length", shop) for side in sides)
        return length * width
    match = NUMBER.match(text)
    if not match:
        size = ", or as length x width" if kind == "area" else ""
        raise ValueError(
            f"{text!r} is not a number. Write it like 58 or 58 {sign(kind, shop)}{size}."
        )
    number = float(match[1].replace(",", ".").replace("−", "-"))
    measure = MEASURES[kind]
    unit = measure.face(shop)[0]
    if match[2]:
        unit = UNIT_SIGNS.get(match[2].lower(), "")
        if kind == "temperature_step" and unit.startswith("deg"):
            unit = "delta_" + unit
        if not unit or not registry().Quantity(1, unit).check(measure.inside):
            raise ValueError(
                f"{match[2]!r} is not a unit for this. Write {sign(kind, shop)}, or no unit."
            )
    return float(registry().Quantity(number, unit).to(measure.inside).magnitude)


def hours_words(hours: float) -> str:
    """6 → '6 h', 30 → '1 d 6 h', 0.4 → '24 min'."""
    minutes = round(abs(hours) * 60)
    if minutes < 60:
        return f"{minutes} min"
    if minutes < 10 * 60:
        whole, rest = divmod(round(minutes / 15) * 15, 60)
        return f"{whole} h" + (f" {rest} min" if rest else "")
    whole = round(minutes / 60)
    if whole < 48:
        return f"{whole} h"
    days, rest = divmod(whole, 24)
    return f"{days} d" + (f" {rest} h" if rest else "")
