"""Numbers between a table's text and SI, without a bit lost on the way out and in again.

A figure is multiplied as a fraction, not as a float: 25.5 in is exactly 0.6477 m, and what is
written for a stored length reads back as that length. The factors are exact by definition
(international inch, 1959).
"""

from __future__ import annotations

import re
from decimal import Decimal, localcontext
from fractions import Fraction

from shop.models import Shop

INCH = Fraction(254, 10_000)
LENGTHS: dict[str, Fraction] = {
    "in": INCH, "ft": 12 * INCH, "mm": Fraction(1, 1000), "cm": Fraction(1, 100), "m": Fraction(1),
}  # fmt: skip
AREAS: dict[str, Fraction] = {
    "ft²": (12 * INCH) ** 2, "in²": INCH**2, "m²": Fraction(1), "cm²": Fraction(1, 10_000),
    "mm²": Fraction(1, 1_000_000),
}  # fmt: skip
SHARES: dict[str, Fraction] = {"%": Fraction(1, 100), "of 1": Fraction(1)}
UNITS: dict[str, dict[str, Fraction]] = {"length": LENGTHS, "area": AREAS, "share": SHARES}

# The ways a header or a cell names a unit.
NAMES: dict[str, str] = {
    "in": "in", "in.": "in", "inch": "in", "inches": "in", '"': "in", "″": "in", "ft": "ft",
    "feet": "ft", "foot": "ft", "'": "ft", "mm": "mm", "millimetres": "mm", "millimeters": "mm",
    "cm": "cm", "m": "m", "metres": "m", "meters": "m", "ft²": "ft²", "ft2": "ft²", "sf": "ft²",
    "sqft": "ft²", "sq ft": "ft²", "sq. ft.": "ft²", "square feet": "ft²", "in²": "in²",
    "in2": "in²", "sq in": "in²", "square inches": "in²", "m²": "m²", "m2": "m²", "sqm": "m²",
    "sq m": "m²", "square metres": "m²", "square meters": "m²", "cm²": "cm²", "cm2": "cm²",
    "mm²": "mm²", "mm2": "mm²", "%": "%", "percent": "%",
}  # fmt: skip

PLAIN = re.compile(r"(\d+(?:\.\d+)?|\.\d+)")
COMMA = re.compile(r"(\d+),(\d+)")
UNSURE = re.compile(r"[1-9]\d{0,2},\d{3}")  # a thousand, or a fraction
TRAIL = re.compile(r"(?P<number>[\d.,\s]*\d)\s*(?P<sign>[^\d.,\s].*)?", re.DOTALL)
LONGEST = 80


def own_unit(kind: str, shop: Shop) -> str:
    """The unit of the table that this shop takes out."""
    return {"length": ("mm", "in"), "area": ("m²", "ft²"), "share": ("%", "%")}[kind][shop.us]


def read_number(text: str) -> Fraction:
    """A number from nought up, with point or comma. Raises ValueError with what to write."""
    given = text.strip().replace("\u00a0", "").replace("\u202f", "")
    if len(given) > LONGEST:
        raise ValueError("This is too long for a number.")
    if UNSURE.fullmatch(given):
        plain, point = given.replace(",", ""), given.replace(",", ".")
        raise ValueError(f"{given} can be read two ways. Write {plain} or {point}.")
    if match := COMMA.fullmatch(given):
        return Fraction(f"{match[1]}.{match[2]}")
    if not PLAIN.fullmatch(given):
        raise ValueError(f"{shortened(text)} is not a number. Write it like 25.5.")
    return Fraction(given if given[0] != "." else f"0{given}")


def read_quantity(text: str, kind: str, unit: str) -> float:
    """SI from a number, with a sign of its own or in the column's unit."""
    match = TRAIL.fullmatch(text.strip())
    if not match or len(text) > LONGEST:
        raise ValueError(f"{shortened(text)} is not a number. Write it like 25.5.")
    named = unit
    if sign := (match["sign"] or "").strip().lower():
        named = NAMES.get(sign, "")
        if named not in UNITS[kind]:
            ways = ", ".join(UNITS[kind])
            raise ValueError(f"{shortened(sign)} is not a unit for this. There are {ways}.")
    return float(read_number(match["number"]) * UNITS[kind][named])


def is_plain(text: str) -> bool:
    return bool(PLAIN.fullmatch(text) or (COMMA.fullmatch(text) and not UNSURE.fullmatch(text)))


def written(value: float, factor: Fraction) -> str:
    """The shortest of a few texts that `read_number` times `factor` brings back to the bit."""
    exact = Fraction(value) / factor
    for digits in (12, 15, 17, 20, 25, 40):
        text = _rounded(exact, digits)
        if float(Fraction(text) * factor) == value:
            return text
    raise ValueError(f"{value!r} cannot be written")  # forty digits tell any two floats apart


def _rounded(number: Fraction, digits: int) -> str:
    with localcontext(prec=digits):
        text = format(Decimal(number.numerator) / Decimal(number.denominator), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def shortened(text: str, most: int = 40) -> str:
    plain = " ".join(text.split())
    return f"‘{plain}’" if len(plain) <= most else f"‘{plain[: most - 1]}…’"
