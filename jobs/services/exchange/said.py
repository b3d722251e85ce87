"""What a table would change, in words: what stands here and what stands in the file."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

from django.db.models import Model

from jobs.services.exchange.fields import FIELDS
from shop import measures
from shop.models import Shop

HEADERS = {
    (found.of, found.name): found.header.partition(" (")[0].lower() for found in FIELDS
}  # fmt: skip
MEASURED = {"area_m2": "area", "thickness_m": "length", "coat_m": "length"}
NEAR = 1e-9  # a float that went through a spreadsheet
SHORT = 60  # signs


def same(mine: Any, theirs: Any) -> bool:
    if isinstance(mine, str) and isinstance(theirs, str):
        return mine.replace("\r\n", "\n") == theirs.replace("\r\n", "\n")
    if isinstance(mine, float) and isinstance(theirs, (int, float)):
        return math.isclose(mine, theirs, rel_tol=NEAR, abs_tol=1e-12)
    return bool(mine == theirs)


def differences(values: dict[str, Any], row: Model, shop: Shop) -> list[str]:
    """One line for each value that is not what the row has."""
    kind = row._meta.model_name or ""
    return [
        f"{HEADERS.get((kind, name), name)}: {_words(getattr(row, name), name, shop)} → "
        f"{_words(value, name, shop)}"
        for name, value in values.items()
        if not same(value, getattr(row, name))
    ]


def _words(value: Any, name: str, shop: Shop) -> str:
    if value is None or value in ("", {}):
        text = "empty"
    elif name == "shape":
        text = "a section"
    elif name in MEASURED:
        text = measures.words(value, MEASURED[name], shop)
    elif name == "waste":
        text = f"{value * 100:g} %"
    elif isinstance(value, bool):
        text = "yes" if value else "no"
    elif isinstance(value, (dt.date, dt.time)):
        text = value.isoformat()
    else:
        text = " ".join(str(value).split())
    return text if len(text) <= SHORT else f"{text[: SHORT - 1]}…"
