"""A piece's shape in one cell: our own JSON, read strictly, so that nothing is lost or let in."""

from __future__ import annotations

import json
import math
from functools import lru_cache
from typing import Any

from jobs.services.exchange.table import odd_sign
from jobs.services.shape import panel_from
from jobs.shapes import stored
from jobs.shapes.checks import check
from jobs.shapes.faults import ShapeFault
from jobs.shapes.solid import check_thickness

LONGEST = 60_000  # signs
A_CELL = 30_000  # signs of it in one cell of a workbook, which holds 32,767
PARTS = ("edges", "ribs", "cutouts", "inlays", "strongbacks")
OUTLINE = {"outline", "length", "width"} | {name for _, names in stored.KINDS.values()
                                            for name in names}  # fmt: skip
DEEPEST = 3  # lists in a row of a part: points of pairs
GREATEST_AREA = 50.0  # m2, as a piece may be entered without a section


def write_shape(shape: dict[str, Any] | None) -> str:
    return json.dumps(shape, ensure_ascii=False, separators=(",", ":")) if shape else ""


def read_shape(text: str) -> dict[str, Any]:
    """As it is stored. Raises ValueError with what to do."""
    if len(text) > LONGEST:
        raise ValueError(f"The shape is longer than {LONGEST:,} signs. Enter it on the piece.")
    try:
        shape = json.loads(text, parse_constant=_no_number)
    except (ValueError, RecursionError):
        raise ValueError(
            "This is not a shape as our own table writes it. Leave the cell as it was taken out, "
            "or empty it and give length and width."
        ) from None
    if not isinstance(shape, dict):
        raise ValueError("A shape is written in braces, as our own table has it.")
    unknown = sorted(set(shape) - OUTLINE - set(PARTS))
    if unknown:
        raise ValueError(f"A shape has no ‘{unknown[0][:30]}’. Empty the cell, or take it out new.")
    if not _plain(shape, 0):
        raise ValueError("There is something in this shape that is no figure and no short word.")
    try:
        found = stored.read(shape)
    except ShapeFault as fault:
        raise ValueError(fault.words) from None
    box = stored.write(found)
    return {**shape, "length": shape.get("length", box["length"]),
            "width": shape.get("width", box["width"])}  # fmt: skip


def _no_number(name: str) -> float:
    raise ValueError(name)


def _plain(value: Any, depth: int) -> bool:
    if isinstance(value, dict):
        return depth <= 2 and all(
            isinstance(name, str) and len(name) <= 40 and not odd_sign(name)
            and _plain(held, depth + 1)
            for name, held in value.items()
        )  # fmt: skip
    if isinstance(value, list):
        return depth <= DEEPEST + 2 and all(_plain(held, depth + 1) for held in value)
    if isinstance(value, str):
        return len(value) <= 300 and not odd_sign(value)
    if isinstance(value, float):
        return math.isfinite(value)
    return value is None or (isinstance(value, (bool, int)) and abs(value) < 10**9)


def plain_rectangle(length: float, width: float) -> dict[str, Any]:
    return {
        "outline": "rectangle", "length": length, "width": width,
        "edges": [], "ribs": [], "cutouts": [], "strongbacks": [],
    }  # fmt: skip


def area_of(shape: dict[str, Any], *, face: float, coat: float, density: float) -> float:
    """Its face in m2, once it can be cast. Raises ValueError with what is wrong."""
    return _area(json.dumps(shape), face, coat, density)


@lru_cache(maxsize=4096)
def _area(text: str, face: float, coat: float, density: float) -> float:
    """Looked at once before it is saved and once when it is."""
    shape = json.loads(text)
    try:
        found = stored.read(shape)
        check(found, face, coat)
        area = float(panel_from(shape, face=face, density=density).face_area)
    except ShapeFault as fault:
        raise ValueError(fault.words) from None
    except (TypeError, KeyError, AttributeError):
        raise ValueError("This section cannot be read. Enter it on the piece's page.") from None
    if area > GREATEST_AREA:
        raise ValueError("No piece is that large: look at the unit.")
    return area


def check_coat(face: float, coat: float) -> None:
    """Raises ValueError: the face coat is a part of the thickness."""
    try:
        check_thickness(face, coat)
    except ShapeFault as fault:
        raise ValueError(fault.words) from None
