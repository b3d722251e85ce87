"""A shape as a piece keeps it (JSON), read and written.

A rectangle is stored as it always was: {"outline": "rectangle", "length", "width", "edges":
[{"side", "width", "depth"}], "ribs": [{"at", "width", "depth", "along"}], "cutouts": [{"x", "y",
"length", "width", "around"}], "strongbacks": [...]}. Beside that:

outline  "L" {"notch_length", "notch_width", "corner"}, "U" {"notch_x", "notch_length",
         "notch_width", "side"}, "rounded" {"radius"}, "circle" {"diameter"}, "polygon" {"points":
         [[x, y], ...], "bulges"}; all with the "length" and "width" of the box around them
edges    "side" is any side's name, or "all"
ribs     {"spacing", "width", "depth", "along"} or {"start": [x, y], "end", "width", "depth"}
cutouts  "figure": "rounded" with "radius", "circle" with "diameter", "polygon" with "points" and
         "bulges"; none is a rectangle. "use" and "opens". In a rectangle stored without "opens",
         a cutout that reaches past a side opens it.
inlays   [{"words", "x", "y", "length", "width"}]

What else a row holds is a screen's; `write` does not know it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from curing.panel import Strongback
from jobs.shapes.faults import Point, ShapeFault
from jobs.shapes.outlines import (
    Circle,
    FreeOutline,
    LShape,
    Outline,
    Rectangle,
    RoundedRectangle,
    UShape,
)
from jobs.shapes.path import check_count
from jobs.shapes.shape import AnyRib, BuiltEdge, Cutout, Inlay, PlacedRib, Rib, Shape, SpacedRibs

Stored = Mapping[str, Any]

RECTANGLE = "rectangle"
KINDS: dict[str, tuple[Callable[..., Any], tuple[str, ...]]] = {
    RECTANGLE: (Rectangle, ("length", "width")),
    "L": (LShape, ("length", "width", "notch_length", "notch_width", "corner")),
    "U": (UShape, ("length", "width", "notch_x", "notch_length", "notch_width", "side")),
    "circle": (Circle, ("diameter",)),
    "rounded": (RoundedRectangle, ("length", "width", "radius")),
    "polygon": (FreeOutline, ("points", "bulges")),
}
MOST = 100  # rows in a list


def read(stored: Stored) -> Shape:
    """Raises ShapeFault, for what is missing or misshapen too; see `checks` for what is
    impossible."""
    try:
        outline = _figure(stored, stored.get("outline", RECTANGLE))
        known = isinstance(outline, Rectangle)
        return Shape(
            outline=outline,
            edges=_rows(stored, "edges", _edge),
            ribs=_rows(stored, "ribs", _rib),
            cutouts=_rows(stored, "cutouts", lambda row: _cutout(row, outline, known)),
            inlays=_rows(stored, "inlays", _inlay),
            strongbacks=_rows(stored, "strongbacks", _strongback),
        )
    except (KeyError, TypeError, AttributeError) as error:
        raise ShapeFault("unreadable", "This shape is stored in a way that cannot be read.",
                         part="stored") from error  # fmt: skip


def write(shape: Shape) -> dict[str, Any]:
    left, front, right, back = shape.outline.path.box
    stored: dict[str, Any] = {"length": right - left, "width": back - front}
    stored |= _figure_row(shape.outline, "outline")
    stored["edges"] = [_fields(edge) for edge in shape.edges]
    stored["ribs"] = [_rib_row(rib) for rib in shape.ribs]
    stored["cutouts"] = [_cutout_row(cutout) for cutout in shape.cutouts]
    stored["strongbacks"] = [_fields(bar) for bar in shape.strongbacks]
    if shape.inlays:
        stored["inlays"] = [_fields(inlay) for inlay in shape.inlays]
    return stored


# Reading.


def _figure(row: Stored, kind: Any) -> Outline:
    if kind not in KINDS:
        raise ShapeFault(
            "unknown-outline",
            "There is no outline called {kind}. There are {kinds}.",
            facts={"kind": str(kind)[:40], "kinds": ", ".join(KINDS)},
        )
    make, names = KINDS[kind]
    values = {name: row[name] for name in names if name in row}
    if "points" in values:
        check_count(len(values["points"]))
        values["points"] = tuple(_point(point) for point in values["points"])
        values["bulges"] = tuple(values.get("bulges") or ())
    figure: Outline = make(**values)
    return figure


def _rows(stored: Stored, part: str, make: Callable[[Stored], Any]) -> tuple[Any, ...]:
    rows = stored.get(part) or ()
    if len(rows) > MOST:
        raise ShapeFault(
            "too-many-parts",
            "{count} rows of {part} are too many; {most} are the most.",
            part=part,
            facts={"count": f"{len(rows):,}", "part": part, "most": str(MOST)},
        )
    found = []
    for number, row in enumerate(rows):
        try:
            found.append(make(row))
        except ShapeFault as fault:
            raise fault.at(part, number) from None
    return tuple(found)


def _edge(row: Stored) -> BuiltEdge:
    return BuiltEdge(row["side"], row["width"], row["depth"])


def _rib(row: Stored) -> AnyRib:
    sizes = row["width"], row["depth"]
    if "spacing" in row:
        return SpacedRibs(row["spacing"], *sizes, row.get("along", "length"))
    if "start" in row:
        return PlacedRib(_point(row["start"]), _point(row["end"]), *sizes)
    return Rib(row["at"], *sizes, row.get("along", "length"))


def _cutout(row: Stored, outline: Outline, rectangular: bool) -> Cutout:
    figure = _figure(row, row.get("figure", RECTANGLE))
    x, y = row["x"], row["y"]
    opens = bool(row.get("opens", False))
    if rectangular and "opens" not in row and "figure" not in row:
        _, _, right, back = outline.path.box
        opens = x < 0 or y < 0 or x + row["length"] > right or y + row["width"] > back
    return Cutout(figure, x, y, str(row.get("use", "")), bool(row.get("around", False)), opens)


def _inlay(row: Stored) -> Inlay:
    return Inlay(
        str(row["words"]), row["x"], row["y"], row.get("length", 0.0), row.get("width", 0.0)
    )


def _strongback(row: Stored) -> Strongback:
    names = ("x", "y", "length", "width", "depth", "modulus", "density", "bonded")
    try:
        return Strongback(**{name: row[name] for name in names if name in row})
    except ValueError as error:
        raise ShapeFault("not-above-zero", "{why}", part="strongbacks",
                         facts={"why": str(error)}) from error  # fmt: skip


def _point(pair: Sequence[float]) -> Point:
    if len(pair) != 2:
        raise ShapeFault("unreadable", "A corner has two measures, along and across.")
    return pair[0], pair[1]


# Writing.


def _figure_row(figure: Outline, key: str) -> dict[str, Any]:
    kind = next(name for name, (make, _) in KINDS.items() if type(figure) is make)
    row = {name: getattr(figure, name) for name in KINDS[kind][1]}
    if isinstance(figure, FreeOutline):
        row["points"] = [list(point) for point in figure.points]
        row["bulges"] = list(figure.bulges)
    return row if key == "figure" and kind == RECTANGLE else {key: kind, **row}


def _cutout_row(cutout: Cutout) -> dict[str, Any]:
    row = {"x": cutout.x, "y": cutout.y, **_figure_row(cutout.figure, "figure")}
    row |= {"around": cutout.around, "opens": cutout.opens}
    return row | ({"use": cutout.use} if cutout.use else {})


def _rib_row(rib: AnyRib) -> dict[str, Any]:
    row = _fields(rib)
    return row | ({"start": list(rib.start), "end": list(rib.end)}
                  if isinstance(rib, PlacedRib) else {})  # fmt: skip


def _fields(made: Any) -> dict[str, Any]:
    return {name: getattr(made, name) for name in made.__dataclass_fields__}
