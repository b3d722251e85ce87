"""One cell to one value of its field, or words that say what is wrong and what to write."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from math import isclose
from typing import Any

from django.core.exceptions import ValidationError

from jobs.models import Customer, Job, Piece
from jobs.services.exchange.columns import CODE, Column, folded
from jobs.services.exchange.days import read_clock, read_day, read_moment
from jobs.services.exchange.fields import CUSTOMER, JOB, Field
from jobs.services.exchange.shapes import read_shape
from jobs.services.exchange.units import LENGTHS, is_plain, read_number, read_quantity, shortened
from shop.lengths import read_length
from shop.models import Mix, Room, Route, Sealer

YES = {"yes", "y", "true", "t", "1", "x", "si"}
NO = {"no", "n", "false", "f", "0"}
MODELS: dict[str, type[Room] | type[Mix] | type[Route] | type[Sealer]] = {
    "room": Room, "mix": Mix, "route": Route, "sealer": Sealer,
}  # fmt: skip
MONEY = re.compile(r"[$€£]?\s*([\d.,' \u00a0\u202f]*\d)\s*(?:[$€£]|usd|eur)?", re.IGNORECASE)
THOUSANDS = re.compile(r"[1-9]\d{0,2}(?:,\d{3})+|[1-9]\d{0,2}(?:\.\d{3})+")


@dataclass(frozen=True)
class Names:
    """Rooms, mixes, routes and sealers by their folded names; some are no longer in use."""

    rows: Mapping[str, Mapping[str, Any]]

    @classmethod
    def load(cls) -> Names:
        return cls(
            {
                key: {folded(row.name): row for row in model._default_manager.order_by("-pk")}
                for key, model in MODELS.items()
            }
        )

    def by_pk(self, key: str, pk: Any) -> Any | None:
        return next((row for row in self.rows[key].values() if row.pk == pk), None)

    def read(self, key: str, text: str) -> Any:
        found = self.rows[key].get(folded(text))
        if found is not None:
            return found
        known = sorted(row.name for row in self.rows[key].values() if row.in_use)
        named = ", ".join(known[:6]) + (" …" if len(known) > 6 else "")
        there = f"There are: {named}." if known else "There is none yet."
        raise ValueError(
            f"No {key} is called {shortened(text)}. {there} Write one of them, or add it to the "
            "shop first."
        )


def read_cell(text: str, column: Column, names: Names) -> Any:
    """The value as the model keeps it (a length in metres); a code as its number and letter.

    Raises
    ------
    ValueError
        With what to write in its place.
    """
    about = column.about
    assert about is not None
    value = READERS[about.kind](text, column, names)
    return _checked(value, about)


def _text(text: str, column: Column, _names: Names) -> str:
    about = column.about
    assert about is not None
    if about.key == "code":
        if not CODE.fullmatch(text):
            raise ValueError(f"{shortened(text)} is not a piece's code. Write it like 217-B.")
        return re.sub(r"\s", "", text).upper()
    return text.upper() if about.key in {"number", "letter"} else text


def _choice(text: str, column: Column, names: Names) -> Any:
    return names.read(column.field, text)


def _whole(text: str, _column: Column, _names: Names) -> int:
    if not re.fullmatch(r"\d{1,6}(\.0+)?", text):
        raise ValueError(f"{shortened(text)} is not a whole number.")
    return int(text.partition(".")[0])


def _money(text: str, _column: Column, _names: Names) -> Decimal:
    match = MONEY.fullmatch(text)
    if not match:
        raise ValueError(f"{shortened(text)} is not a price from nought up. Write it like 2450.00.")
    given = re.sub(r"[' \u00a0\u202f]", "", match[1])
    if THOUSANDS.fullmatch(given):  # a price has no third digit behind its point
        given = re.sub("[.,]", "", given)
    elif "," in given and "." in given:
        point = max(",.", key=given.rfind)
        given = given.replace("," if point == "." else ".", "")
    number = read_number(given)
    if number * 100 % 1:
        raise ValueError(f"{shortened(text)} has parts of a cent. Write it like 2450.00.")
    return Decimal(int(number * 100)).scaleb(-2)


def _length(text: str, column: Column, _names: Names) -> float:
    if is_plain(text):
        return float(read_number(text) * LENGTHS[column.unit])
    return read_length(text, column.unit or "in")


def _quantity(text: str, column: Column, _names: Names) -> float:
    about = column.about
    assert about is not None
    return read_quantity(text, about.kind, column.unit)


def _yes_no(text: str, _column: Column, _names: Names) -> bool:
    plain = folded(text)
    if plain not in YES | NO:
        raise ValueError(f"{shortened(text)} is neither yes nor no. Write one of them.")
    return plain in YES


READERS: dict[str, Callable[[str, Column, Names], Any]] = {
    "text": _text,
    "words": lambda text, column, names: text,
    "choice": _choice,
    "day": lambda text, column, names: read_day(text, column.order),
    "clock": lambda text, column, names: read_clock(text),
    "moment": lambda text, column, names: read_moment(text),
    "whole": _whole,
    "money": _money,
    "length": _length,
    "area": _quantity,
    "share": _quantity,
    "yes_no": _yes_no,
    "shape": lambda text, column, names: read_shape(text),
}
LEAST_LENGTH, GREATEST_LENGTH = 0.005, 15.0  # m, of a piece's sides


def _checked(value: Any, about: Field) -> Any:
    """By the model's own limits, as the office's forms keep them."""
    if about.name in {"length", "width"}:
        if not LEAST_LENGTH <= value <= GREATEST_LENGTH:
            raise ValueError("No piece is that long or that short. Look at the unit.")
        return value
    if about.name in {"code", "shape", "shape_more"} or about.kind in {"choice", "yes_no"}:
        return value
    model = {JOB: Job, CUSTOMER: Customer}.get(about.of, Piece)
    field = model._meta.get_field(about.name)
    if about.kind == "text" and any(sign in value for sign in "\n\r\t"):
        value = " ".join(value.split())
    try:
        return field.clean(value, None)  # type: ignore[union-attr]
    except ValidationError as error:
        if isinstance(value, float) and (limit := _at_limit(value, field)) is not None:
            return limit
        raise ValueError(_words_of(error, about, value)) from None


def _at_limit(value: float, field: Any) -> float | None:
    """The limit that it missed by a hair, if it did: a spreadsheet keeps fifteen digits, so that
    the least a piece can have comes back less from other units."""
    for validator in field.validators:
        limit = getattr(validator, "limit_value", None)
        if isinstance(limit, int | float) and isclose(value, limit, rel_tol=1e-12):
            return float(limit)
    return None


def _words_of(error: ValidationError, about: Field, value: Any) -> str:
    words = " ".join(error.messages)
    if about.key == "number" and (bare := re.sub(r"[^0-9A-Za-z]", "", str(value))):
        return f"{words} Write {bare[:10]}, for one."
    if about.kind in {"length", "area", "share"}:
        return "Outside what a piece can have. Look at the unit of the column."
    if about.kind in {"text", "words"} and len(str(value)) > 300:
        return f"{words} Shorten it."
    return words
