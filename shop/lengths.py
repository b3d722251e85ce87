"""Lengths as people write them: 25 1/2, 25-1/2", 2' 1 1/2", 38 mm. Metres inside. Pure."""

from __future__ import annotations

import re
import unicodedata
from fractions import Fraction

INCH = 0.0254  # m, exactly (international inch, 1959)
SIXTEENTHS = 16
# Metres in each unit, by the ways it is written.
UNITS: dict[str, float] = {
    '"': INCH, "in": INCH, "ins": INCH, "inch": INCH, "inches": INCH, "''": INCH,
    "'": 12 * INCH, "ft": 12 * INCH, "foot": 12 * INCH, "feet": 12 * INCH,
    "mm": 0.001, "cm": 0.01, "m": 1.0,
}  # fmt: skip
FEET = {"'", "ft", "foot", "feet"}
LONGEST = 40  # letters; nobody writes a length longer
LIKE = "25 1/2, 25.5, 2' 1 1/2\" or 38 mm"

SIGNS = str.maketrans({
    "″": '"', "”": '"', "“": '"', "′": "'", "’": "'", "‘": "'", "−": "-", "–": "-", "⁄": "/",
    "\N{NO-BREAK SPACE}": " ", "\N{THIN SPACE}": " ", "\N{NARROW NO-BREAK SPACE}": " ",
})  # fmt: skip
NUMBER = r"(?:\d+[\s-]+\d+/\d+|\d+/\d+|\d+[.,]\d+|\d+|[.,]\d+)"
PART = re.compile(rf"\s*({NUMBER})\s*\.?\s*([a-z]+\.?|''|[\"'])?\s*-?\s*", re.IGNORECASE)


def read_length(text: str, unit: str) -> float:
    """Metres from what somebody typed; what has no unit is in `unit`, one of `UNITS`.

    Raises
    ------
    ValueError
        Not a length, an unknown unit, a fraction of nought; the message says what to write.
    """
    given = _plain(text)
    below = given.startswith("-")
    parts = _parts(given[1:] if below else given, text)
    metres = _together(parts, text, unit)
    return -metres if below else metres


def inches(metres: float) -> str:
    """To the nearest sixteenth: 0.6477 is '25 1/2', 0.0048 is '3/16'."""
    return _written(Fraction(round(abs(metres) / INCH * SIXTEENTHS), SIXTEENTHS), metres)


def typed_inches(metres: float) -> str:
    """As a person would type it: sixteenths where it is one, else three decimals."""
    thousandths = round(abs(metres) / INCH, 3)
    near = Fraction(round(thousandths * SIXTEENTHS), SIXTEENTHS)
    if abs(float(near) - thousandths) <= 0.0006:  # a sixteenth's own rounding
        return _written(near, metres)
    return f"{'-' if metres < 0 else ''}{thousandths:.3f}".rstrip("0")


def _written(size: Fraction, metres: float) -> str:
    whole, rest = divmod(size, 1)
    text = " ".join(str(part) for part in (whole, rest) if part) or "0"
    return f"-{text}" if metres < 0 and size else text


def _plain(text: str) -> str:
    """One sign for each thing, and ½ as 1/2."""
    spelled = ""
    for letter in text:
        if unicodedata.decomposition(letter).startswith("<fraction>"):
            spelled += " " + unicodedata.normalize("NFKC", letter)
        else:
            spelled += letter
    return spelled.translate(SIGNS).strip()


def _parts(given: str, text: str) -> list[tuple[float, str]]:
    parts: list[tuple[float, str]] = []
    place = 0 if len(given) <= LONGEST else len(given)
    while place < len(given):
        match = PART.match(given, place)
        if not match:
            raise _not_a_length(text)
        parts.append((_number(match[1]), (match[2] or "").rstrip(".").lower()))
        place = match.end()
    if not 1 <= len(parts) <= 2 or given.endswith("-"):
        raise _not_a_length(text)
    return parts


def _together(parts: list[tuple[float, str]], text: str, unit: str) -> float:
    for _, sign in parts:
        if sign and sign not in UNITS:
            raise ValueError(f"{sign!r} is not a unit of length. Write in, ft, mm, cm or m.")
    if len(parts) == 1:
        number, sign = parts[0]
        return number * UNITS[sign or unit]
    (feet, first), (rest, second) = parts
    if first not in FEET or UNITS[second or "in"] != INCH:
        raise _not_a_length(text)
    if rest >= 12:
        raise ValueError(f"{text.strip()!r} has a foot or more of inches. Write it as inches only.")
    return feet * UNITS[first] + rest * INCH


def _number(text: str) -> float:
    if "/" not in text:
        if re.fullmatch(r"[1-9]\d*,\d{3}", text):
            plain, point = text.replace(",", ""), text.replace(",", ".")
            raise ValueError(f"{text} can be read two ways. Write {plain} or {point}.")
        return float(text.replace(",", "."))
    *whole, fraction = re.split(r"[\s-]+", text)
    above, below = (int(part) for part in fraction.split("/"))
    if below == 0:
        raise ValueError(f"{fraction} has nought below the line. Write it like 1/2.")
    if whole and above >= below:
        raise ValueError(f"{fraction} is one or more: after a whole number write less, like 1/2.")
    return float(int(whole[0]) if whole else 0) + above / below


def _not_a_length(text: str) -> ValueError:
    given = text.strip()
    short = given if len(given) <= LONGEST else f"{given[:LONGEST]}…"
    return ValueError(f"{short!r} is not a length. Write it like {LIKE}.")
