"""A cut through a shape, face up: what stands behind the blade is not drawn."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from shapely import LineString

from jobs.shapes.drawing import SCREEN, Area, Drawing, Item, Sheet, chain, frame_for, marks_of
from jobs.shapes.faults import ShapeFault, finite
from jobs.shapes.solid import Layer, Prism, Solid

Sizes = tuple[float, float, float, float]  # wide, slab, deepest, how much deeper drawn
Cut = Literal["across", "lengthwise"]

ROLES: dict[Layer, str] = {
    "face coat": "face coat", "backer": "backer", "edge": "edge", "ribs": "rib"
}  # fmt: skip
CLOSE = 1e-6
LEAST_DEPTH = 40.0  # units for the deepest foot: a thin section is drawn deeper than it is


def section(
    solid: Solid, cut: Cut = "across", at: float | None = None, sheet: Sheet = SCREEN
) -> Drawing:
    """cut : "across" from front to back at `at` from the left end of the plan, seen from the left
    with the front on the left; "lengthwise" at `at` from its front edge. None: through the middle
    of the largest cutout, else the middle. [m]

    Depths are drawn larger than widths where they would hardly be seen; `said` tells by how much.

    Raises
    ------
    ShapeFault
        "section-outside": no concrete is met there; "not-finite".
    """
    place = middle_of(solid, cut) if at is None else at
    finite("section", section_place=place)
    spans = [(prism, span) for prism in solid.prisms for span in _spans(prism, cut, place)]
    if not spans:
        raise ShapeFault(
            "section-outside", "There is no concrete at {place}.", part="section",
            figures={"place": place},
        )  # fmt: skip
    low, high = min(a for _, (a, _) in spans), max(b for _, (_, b) in spans)
    deep = max(prism.foot for prism, _ in spans)
    stretch = _stretch(sheet, high - low, deep)
    # Depth goes down the sheet: the face is the back of the frame's box.
    box = (low, -deep * stretch, high, 0.0)
    margins = (sheet.step * 0.5, sheet.step * 1.5, sheet.step * 2.5, sheet.step * 1.5)
    frame, width, height = frame_for(sheet, box, margins)
    items: list[Item] = []
    for prism, (start, end) in spans:
        top, foot = -prism.top * stretch, -prism.foot * stretch
        corners = ((start, top), (end, top), (end, foot), (start, foot))
        items.append(Area((tuple(frame.at(corner) for corner in corners),), ROLES[prism.layer]))
    parts = marks_of((mark for _, span in spans for mark in span), low, high)
    if len(parts) > 2:
        items += chain(frame, sheet, "bottom", parts, 1)
    items += chain(frame, sheet, "bottom", [low, high], 2 if len(parts) > 2 else 1, whole=True)
    deepened = replace(sheet, long=lambda metres: sheet.long(metres / stretch))
    items += chain(frame, deepened, "left", [-solid.face * stretch, 0.0], 1)
    if deep > solid.face + CLOSE:
        items += chain(frame, deepened, "right", [-deep * stretch, 0.0], 1)
    said = _said(sheet, cut, place, (high - low, solid.face, deep, stretch))
    return Drawing(width, height, frame, tuple(items), said)


def middle_of(solid: Solid, cut: Cut) -> float:
    """Where a section tells most: through the middle of the largest cutout, else the middle."""
    cutouts = solid.shape.cutouts
    largest = max(cutouts, key=lambda one: one.path.polygon.area, default=None)
    left, front, right, back = (largest or solid.shape.outline).path.box
    return (left + right) / 2 if cut == "across" else (front + back) / 2


def _stretch(sheet: Sheet, wide: float, deep: float) -> float:
    scale = sheet.scale or (sheet.width - 3 * sheet.step) / wide
    found = LEAST_DEPTH / (deep * scale)
    return 1.0 if sheet.scale or found < 1.05 else found


def _spans(prism: Prism, cut: Cut, place: float) -> list[tuple[float, float]]:
    left, front, right, back = prism.region.bounds
    ends = (
        [(place, front - 1), (place, back + 1)]
        if cut == "across"
        else [(left - 1, place), (right + 1, place)]
    )
    met = prism.region.intersection(LineString(ends))
    axis = 1 if cut == "across" else 0
    parts = [part for part in getattr(met, "geoms", [met]) if part.length > CLOSE]
    return sorted((part.bounds[axis], part.bounds[axis + 2]) for part in parts)


def _said(sheet: Sheet, cut: Cut, place: float, sizes: Sizes) -> str:
    wide, face, deep, stretch = sizes
    start = "the left end" if cut == "across" else "the front edge"
    words = (
        f"Section {cut}, {sheet.whole(place)} from {start}, face up: {sheet.whole(wide)} wide, "
        f"slab {sheet.long(face)}, deepest {sheet.whole(deep)}"
    )
    drawn = f"; depths drawn {stretch:.1f} times as large" if stretch > 1.05 else ""
    return words + drawn + "."
