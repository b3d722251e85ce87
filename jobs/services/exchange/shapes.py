"""A piece's shape in one cell: our own JSON, read strictly, so that nothing is lost or let in."""

from __future__ import annotations

import json
import math
from dataclasses import MISSING, fields
from functools import lru_cache
from typing import Any

from curing.panel import Strongback
from jobs.services.exchange.table import odd_sign
from jobs.services.shape import panel_from
from jobs.shapes import stored
from jobs.shapes.checks import check
from jobs.shapes.corners import Corner, cornered
from jobs.shapes.faults import ShapeFault
from jobs.shapes.outlines import FreeOutline
from jobs.shapes.solid import check_thickness

LONGEST = 60_000  # signs
A_CELL = 30_000  # signs of it in one cell of a workbook, which holds 32,767
PARTS = ("edges", "ribs", "cutouts", "inlays", "strongbacks")
OUTLINE = {"outline", "length", "width"} | {name for _, names in stored.KINDS.values()
                                            for name in names}  # fmt: skip
CORNERS = "corners"  # of a free outline as they were typed, with roundings and bows
# What is no figure; screens rely on it.
WORDS = {"outline", "figure", "corner", "side", "along", "use", "words", "material"}
FLAGS = {"around", "opens", "bonded"}
LISTS = {"points", "bulges", "start", "end", CORNERS}
NEAR = 1e-6  # m: corners and points that are the same
# Of a strongback that does not say so.
BAR = {made.name: made.default for made in fields(Strongback) if made.default is not MISSING}
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
    unknown = sorted(set(shape) - OUTLINE - {*PARTS, CORNERS})
    if unknown:
        raise ValueError(f"A shape has no ‘{unknown[0][:30]}’. Empty the cell, or take it out new.")
    if not _plain(shape, 0):
        raise ValueError("There is something in this shape that is no figure and no short word.")
    _check_kinds(shape)
    try:
        found = stored.read(shape)
        _check_corners(shape, found.outline)
    except ShapeFault as fault:
        raise ValueError(fault.words) from None
    box = stored.write(found)
    whole = {**shape, "length": shape.get("length", box["length"]),
             "width": shape.get("width", box["width"])}  # fmt: skip
    if bars := shape.get("strongbacks"):
        whole["strongbacks"] = [BAR | bar for bar in bars]
    return whole


def _check_kinds(shape: dict[str, Any]) -> None:
    """Raises ValueError for a part that is no list of rows, and for a word where a figure goes."""
    rows = [shape]
    for part in PARTS:
        held = shape.get(part, [])
        if not (isinstance(held, list) and all(isinstance(row, dict) for row in held)):
            raise ValueError(f"The shape's {part} are no list. Leave the cell as it was taken out.")
        rows += held
    for row in rows:
        for name, value in row.items():
            if name not in PARTS and not _of_kind(name, value):
                raise ValueError(
                    f"‘{name[:30]}’ in this shape is not what it should be. Leave the cell as it "
                    "was taken out."
                )


def _of_kind(name: str, value: Any) -> bool:
    if name in WORDS:
        return isinstance(value, str)
    if name in FLAGS:
        return isinstance(value, bool)
    if name in LISTS:
        return isinstance(value, list)
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _check_corners(shape: dict[str, Any], outline: Any) -> None:
    """Raises ValueError where the typed corners are not those of the points they stand beside,
    ShapeFault where they cannot be."""
    if CORNERS not in shape:
        return
    try:
        made = cornered([Corner(*row) for row in shape[CORNERS]]).outline
    except TypeError:
        raise ValueError("A corner of this shape has two to four figures.") from None
    if not isinstance(outline, FreeOutline) or not _alike(made, outline):
        raise ValueError(
            "The corners of this shape are not those of its points. Take ‘corners’ out of it, or "
            "leave the cell as it was taken out."
        )


def _alike(one: FreeOutline, other: FreeOutline) -> bool:
    if len(one.path.points) != len(other.path.points):
        return False
    places = zip(one.path.points, other.path.points, strict=True)
    bent = zip(one.path.bulges, other.path.bulges, strict=True)
    return all(math.dist(a, b) < NEAR for a, b in places) and all(
        abs(a - b) < NEAR for a, b in bent
    )


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


@lru_cache(maxsize=16_384)
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
