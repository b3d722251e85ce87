"""The outline of a section's form: its fields, which each outline shows, corners typed or pasted,
and how it is stored and read back. Sides by the outline's own names."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import TYPE_CHECKING, Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from jobs.piece.section_fields import MOST_CORNERS
from jobs.shapes.corners import Corner, Cornered, cornered, corners_of
from jobs.shapes.faults import ShapeFault
from jobs.shapes.outlines import CORNERS, FreeOutline
from jobs.shapes.path import check_count
from jobs.shapes.stored import RECTANGLE, read
from shop import measures
from shop.models import Shop

if TYPE_CHECKING:
    from django_stubs_ext import StrPromise

Stored = Mapping[str, Any]

LEAST = 0.02  # m, of an outline
FREE = "polygon"
OUTLINES: list[tuple[str, StrPromise]] = [
    (RECTANGLE, lazy("Rectangle")),
    ("L", lazy("L")),
    ("U", lazy("U")),
    ("rounded", lazy("Rounded rectangle")),
    ("circle", lazy("Circle")),
    (FREE, lazy("Free, by corners")),
]
SHOWN: dict[str, tuple[str, ...]] = {
    RECTANGLE: ("length", "width"),
    "L": ("length", "width", "notch_length", "notch_width", "corner"),
    "U": ("length", "width", "notch_x", "notch_length", "notch_width", "side"),
    "rounded": ("length", "width", "radius"),
    "circle": ("diameter",),
    FREE: ("lines",),
}
OWN = tuple(dict.fromkeys(name for names in SHOWN.values() for name in names))
MISSING: list[tuple[str, StrPromise]] = list(
    zip(
        reversed(CORNERS),
        (lazy("back right"), lazy("back left"), lazy("front right"), lazy("front left")),
        strict=True,
    )
)
NOTCHED: list[tuple[str, StrPromise]] = [("front", lazy("the front")), ("back", lazy("the back"))]

# The sides an edge may be built down along: their words, and the outlines that have them.
_SQUARE = (RECTANGLE, "L", "U", "rounded")
SIDES: dict[str, tuple[StrPromise, tuple[str, ...]]] = {
    "all": (lazy("All sides"), (*_SQUARE, FREE)),
    "front": (lazy("Front edge"), _SQUARE),
    "back": (lazy("Back edge"), _SQUARE),
    "left": (lazy("Left end"), _SQUARE),
    "right": (lazy("Right end"), _SQUARE),
    "notch along": (lazy("Inner edge, lengthwise"), ("L",)),
    "notch across": (lazy("Inner edge, crosswise"), ("L",)),
    "notch left": (lazy("Notch, left side"), ("U",)),
    "notch end": (lazy("Notch, its end"), ("U",)),
    "notch right": (lazy("Notch, right side"), ("U",)),
    "front left": (lazy("Rounding, front left"), ("rounded",)),
    "front right": (lazy("Rounding, front right"), ("rounded",)),
    "back left": (lazy("Rounding, back left"), ("rounded",)),
    "back right": (lazy("Rounding, back right"), ("rounded",)),
    "round": (lazy("All round"), ("circle",)),
}


def key_of(side: str) -> str:
    return side.replace(" ", "_")


def stored_outline(
    values: Mapping[str, Any], corners: Sequence[Corner]
) -> tuple[dict[str, Any], Cornered | None]:
    """As a piece keeps it, with the free outline's sides. Raises ShapeFault."""
    kind = values["outline"]
    if kind == FREE:
        made = cornered(corners)
        return _stored_free(made, corners), made
    stored = {"outline": kind, **{name: values[name] for name in SHOWN[kind]}}
    if kind == "circle":
        stored |= {"length": values["diameter"], "width": values["diameter"]}
    read(stored)
    return stored, None


def _stored_free(made: Cornered, corners: Sequence[Corner]) -> dict[str, Any]:
    outline = made.outline
    stored: dict[str, Any] = {
        "outline": FREE,
        "points": [list(point) for point in outline.points],
        "bulges": list(outline.bulges),
    }
    if any(one.radius or one.bow for one in corners):
        # As they were typed: a rounding cannot be read back from its arc alone.
        stored["corners"] = [[one.x, one.y, one.radius, one.bow] for one in corners]
    left, front, right, back = read(stored).outline.path.box
    return stored | {"length": right - left, "width": back - front}


def box_of(stored: Stored) -> tuple[float, float, float, float]:
    """Left, front, right, back [m]."""
    return read({name: stored[name] for name in stored if name not in PARTS}).outline.path.box


PARTS = ("edges", "ribs", "cutouts", "inlays", "strongbacks")


def stored_corners(shape: Stored | None) -> tuple[Corner, ...]:
    if not shape or shape.get("outline") != FREE:
        return ()
    if rows := shape.get("corners"):
        return tuple(Corner(*row) for row in rows)
    points = tuple((x, y) for x, y in shape["points"])
    return corners_of(FreeOutline(points, tuple(shape.get("bulges") or ())))


def initial_outline(shape: Stored, shop: Shop) -> dict[str, Any]:
    kind = shape.get("outline", RECTANGLE)
    start: dict[str, Any] = {"outline": kind}
    if kind != FREE:
        return start | {name: shape[name] for name in SHOWN[kind] if name in shape}
    corners = stored_corners(shape)
    if len(corners) > MOST_CORNERS:
        return start | {"lines": lines_of(corners, shop)}
    for place, one in enumerate(corners):
        sizes = {"x": one.x, "y": one.y, "radius": one.radius or None, "bow": one.bow or None}
        start |= {f"point_{place}_{name}": value for name, value in sizes.items()}
    return start


# Corners as lines.


def lines_of(corners: Sequence[Corner], shop: Shop) -> str:
    """One a line: along; across, and where it has them rounding and bow. Parted by semicolons,
    for a comma is some people's point."""
    return "\n".join("; ".join(_typed(one, shop)) for one in corners)


def _typed(one: Corner, shop: Shop) -> list[str]:
    sizes = [one.x, one.y, one.radius, one.bow]
    while len(sizes) > 2 and not sizes[-1]:
        sizes.pop()
    return [measures.typed(size, "length", shop) for size in sizes]


def read_lines(text: str, shop: Shop) -> list[Corner]:
    """Raises ShapeFault for too many, ValueError with the line for what is no corner."""
    lines = [(n, line) for n, line in enumerate(text.splitlines(), start=1) if line.strip()]
    check_count(len(lines) - 1)  # a list may end as it began
    corners = [_corner(number, line, shop) for number, line in lines]
    if len(corners) > 2 and (corners[0].at == corners[-1].at):
        corners.pop()
    return corners


def _corner(number: int, line: str, shop: Shop) -> Corner:
    mark = next((mark for mark in ("\t", ";") if mark in line), ",")
    parts = [part.strip() for part in line.split(mark)]
    while parts and not parts[-1]:
        parts.pop()
    if not 2 <= len(parts) <= 4:
        words = _("Line %(number)s: a corner is along, across; then rounding, bow, if any.")
        raise ValueError(words % {"number": number})
    try:
        sizes = [measures.read(part, "length", shop) if part else 0.0 for part in parts]
    except ValueError as error:
        raise ValueError(
            _("Line %(number)s: %(why)s") % {"number": number, "why": error}
        ) from error
    return Corner(*sizes)


# Sides of a free outline, by the corner each starts from.


def read_sides(text: str) -> list[int]:
    """'1, 3-5' is 1, 3, 4, 5. Raises ValueError."""
    found: set[int] = set()
    for part in filter(None, re.split(r"[,;\s]+", re.sub(r"\s*[-\N{EN DASH}]\s*", "-", text))):
        ends = part.split("-")
        if len(ends) > 2 or not all(end.isdecimal() and len(end) < 4 for end in ends):
            raise ValueError(_("Write sides by the corner they start from, like 1, 3-5."))
        found |= set(range(int(ends[0]), int(ends[-1]) + 1))
    return sorted(found)


def sides_words(numbers: Sequence[int]) -> str:
    """1, 3, 4, 5 is '1, 3-5'."""
    parts = []
    for _off, group in groupby(enumerate(numbers), key=lambda pair: pair[1] - pair[0]):
        run = [number for _place, number in group]
        parts.append(str(run[0]) if len(run) == 1 else f"{run[0]}-{run[-1]}")
    return ", ".join(parts)


def stored_rims(made: Cornered, numbers: list[int], row: int, size: Stored) -> list[dict[str, Any]]:
    """An edge for each of the outline's sides; `row` says that they were typed together."""
    count = len(set(map(abs, made.sides)))
    if wrong := [number for number in numbers if not 1 <= number <= count]:
        words = "There is no corner {number}: this outline has {count}."
        facts = {"number": str(wrong[0]), "count": str(count)}
        raise ShapeFault("no-such-side", words, part="edges", facts=facts)
    return [{"side": name, **size, "row": row} for name in made.named(numbers)]


def rim_rows(shape: Stored | None) -> list[dict[str, Any]]:
    """The edges of a free outline's sides, as they were typed together."""
    if not shape or shape.get("outline") != FREE:
        return []
    made = cornered(stored_corners(shape))
    edges = [edge for edge in shape.get("edges", ()) if edge["side"] != "all"]
    rows = []
    for (_row, width, depth), group in groupby(
        edges, key=lambda edge: (edge.get("row"), edge["width"], edge["depth"])
    ):
        numbers = made.numbers({edge["side"] for edge in group})
        rows.append({"sides": sides_words(numbers), "width": width, "depth": depth})
    return rows
