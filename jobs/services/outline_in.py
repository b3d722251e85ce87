"""An outline out of a DXF file, put in the place of a piece's own: what stays of its edges, ribs
and notes, and what must go. Pure; `jobs.services.sections.save_section` saves what comes of it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

from jobs.models import Piece
from jobs.shapes.checks import faults
from jobs.shapes.dxf_in import Contents, Drawn, read_dxf
from jobs.shapes.dxf_out import UNITS
from jobs.shapes.faults import Long, ShapeFault
from jobs.shapes.known import known
from jobs.shapes.outlines import Outline
from jobs.shapes.path import Side
from jobs.shapes.shape import ALL_ROUND, BuiltEdge, Cutout, PlacedRib, Shape, SpacedRibs
from jobs.shapes.stored import read, write
from shop import measures
from shop.models import Shop

MEETS = 1e-3  # m: sides nearer than this are the same side
BOX = ("front", "right", "back", "left")


@dataclass(frozen=True)
class Wanted:
    """Layers by their place in `Contents.layers`; unit "" where the file names its own; opens :
    a cutout that runs out through a side opens it, on purpose"""

    outline: int
    cutouts: tuple[int, ...] = ()
    unit: str = ""
    opens: bool = False


@dataclass(frozen=True)
class Row:
    """A part of the shape that was there: why it must go, empty where it stays."""

    words: str
    why: str = ""


@dataclass(frozen=True)
class Fitted:
    """shape : the new outline and cutouts with what still fits; stored : as the piece keeps it;
    faults : what keeps it from being cast, in the order in which it should be mended"""

    shape: Shape
    stored: dict[str, Any]
    unit: str
    stays: tuple[Row, ...]
    goes: tuple[Row, ...]
    faults: tuple[ShapeFault, ...]


def drawn_of(data: bytes, contents: Contents, wanted: Wanted) -> Drawn:
    """Raises ShapeFault as `read_dxf`, and "dxf-outline" where the largest line of all is not on
    the layer that was chosen for the outline."""
    names = [layer.name for layer in contents.layers]
    outline, others = names[wanted.outline], [names[place] for place in wanted.cutouts]
    drawn = read_dxf(data, unit=wanted.unit, layers=[outline, *others])
    if set(others) - {outline} and not _holds(data, wanted.unit, outline, drawn):
        raise ShapeFault(
            "dxf-outline",
            "The largest closed line of these layers is not on the one chosen for the outline. "
            "Choose the layer that holds the whole outline.",
            part="file",
        )
    return drawn


def _holds(data: bytes, unit: str, layer: str, drawn: Drawn) -> bool:
    """Whether that layer alone has the outline that was found on all of them."""
    try:
        alone = read_dxf(data, unit=unit, layers=[layer])
    except ShapeFault:
        return False
    pairs = zip(alone.outline.path.box, drawn.outline.path.box, strict=True)
    return all(abs(a - b) < MEETS for a, b in pairs)


def place_words(fault: ShapeFault, unit: str) -> str:
    """Where in the file a fault lies, as its drawing program counts; empty without a place."""
    if not fault.place or unit not in UNITS:
        return ""
    metres, _code = UNITS[unit]
    places = [f"x {x / metres:.6g}, y {y / metres:.6g} {unit}" for x, y in fault.place]
    return " to ".join(places)


def fitted(drawn: Drawn, piece: Piece, shop: Shop, *, opens: bool = False) -> Fitted:
    """The drawn outline with as much of the piece's own shape as can be cast with it."""
    old, rows = _old(piece)
    face, coat = piece.thickness_m, piece.coat_m
    outline, left, front = known(drawn.outline.path)
    cutouts = tuple(_cutout(one, (left, front), old, opens) for one in drawn.cutouts)
    shape = Shape(outline, cutouts=cutouts)
    if wrong := faults(shape, face, coat):
        return Fitted(shape, write(shape), drawn.unit, (), (), wrong)
    stored: dict[str, Any] = {}
    told: list[Row] = []
    long = _long(shop)
    for part, moved in _parts(old, outline, long):
        kept: list[dict[str, Any]] = []
        for number, (words, items) in enumerate(moved):
            more: dict[str, Any] = {part: (*getattr(shape, part), *items)}
            trial = replace(shape, **more)
            why = _why(trial, face, coat, long) if items else "this outline has no such side."
            told.append(Row(words, why))
            if not why:
                shape = trial
                # As it was stored, with what only its screen knows.
                kept += [rows[part][number]] if part != "edges" else []
        if part != "edges":
            stored[part] = kept
    stored = write(shape) | stored
    stays = tuple(row for row in told if not row.why)
    return Fitted(shape, stored, drawn.unit, stays, tuple(row for row in told if row.why), ())


def _old(piece: Piece) -> tuple[Shape | None, dict[str, list[dict[str, Any]]]]:
    """None for a shape that can't be read any more: nothing of it stays."""
    stored = piece.shape or {}
    try:
        shape = read(stored) if stored else None
    except ShapeFault:
        return None, {}
    return shape, {part: list(stored.get(part) or ()) for part in ("ribs", "inlays", "strongbacks")}


def _why(trial: Shape, face: float, coat: float, long: Long) -> str:
    found = faults(trial, face, coat)
    return found[0].said(long) if found else ""


def _cutout(drawn: Cutout, corner: tuple[float, float], old: Shape | None, opens: bool) -> Cutout:
    """A figure with a name where it is one; what it is for, where the same one was there before."""
    figure, x, y = known(drawn.path.moved(-corner[0], -corner[1]))
    cutout = Cutout(figure, x, y, opens=opens)
    for before in old.cutouts if old else ():
        pairs = zip(before.path.box, cutout.path.box, strict=True)
        if all(abs(a - b) < MEETS for a, b in pairs):
            return replace(cutout, use=before.use, opens=opens or before.opens)
    return cutout


# What was there, part by part, each row with its words and with what becomes of it.

Moved = list[tuple[str, tuple[Any, ...]]]


def _parts(old: Shape | None, outline: Outline, long: Long) -> list[tuple[str, Moved]]:
    if old is None:
        return []
    return [
        ("edges", [(_edge_words(e, long), _edges(e, old.outline, outline)) for e in old.edges]),
        ("ribs", [(_rib_words(rib, long), (rib,)) for rib in old.ribs]),
        ("inlays", [(f"Inlay: {one.words}", (one,)) for one in old.inlays]),
        (
            "strongbacks",
            [(f"Strongback, {long(bar.length)} long", (bar,)) for bar in old.strongbacks],
        ),
    ]


def _edges(edge: BuiltEdge, old: Outline, new: Outline) -> tuple[BuiltEdge, ...]:
    """The same edge along the sides of the new outline that it belongs to; none where there are
    none. A number is only a place in a list: such sides are known by where they lie."""
    names = [side.name for side in new.sides]
    if edge.side == ALL_ROUND or (edge.side in names and not edge.side.isdecimal()):
        return (edge,)
    before = [side for side in old.sides if side.name == edge.side]
    ways = [_place(side, old) for side in before]
    found = [
        side.name for side in new.sides if any(_same_place(_place(side, new), way) for way in ways)
    ]
    return tuple(replace(edge, side=name) for name in dict.fromkeys(found))


Place = str | tuple[tuple[float, float], tuple[float, float], float]


def _place(side: Side, outline: Outline) -> Place:
    """Which side of the box it lies on, or where it runs in it."""
    left, front, right, back = outline.path.box
    for name, axis, at in zip(BOX, (1, 0, 1, 0), (front, right, back, left), strict=True):
        if not side.bulge and all(abs(end[axis] - at) < MEETS for end in (side.start, side.end)):
            return name
    start, end = ((x - left, y - front) for x, y in (side.start, side.end))
    return start, end, side.bulge


def _same_place(one: Place, other: Place) -> bool:
    if isinstance(one, str) or isinstance(other, str):
        return one == other
    bent = abs(one[2] - other[2]) < MEETS
    return bent and math.dist(one[0], other[0]) < MEETS and math.dist(one[1], other[1]) < MEETS


def _edge_words(edge: BuiltEdge, long: Long) -> str:
    side = "all round" if edge.side == ALL_ROUND else f"along {edge.side}"
    return f"Edge {side}, {long(edge.width)} wide, {long(edge.depth)} deep"


def _rib_words(rib: Any, long: Long) -> str:
    size = f"{long(rib.width)} wide, {long(rib.depth)} deep"
    if isinstance(rib, SpacedRibs):
        return f"Ribs along the {rib.along}, {long(rib.spacing)} apart, {size}"
    if isinstance(rib, PlacedRib):
        return f"Rib from point to point, {size}"
    return f"Rib along the {rib.along} at {long(rib.at)}, {size}"


def _long(shop: Shop) -> Long:
    def long(metres: float) -> str:
        return measures.words(metres, "length", shop)

    return long


def layer_called(contents: Contents, name: str) -> int | None:
    """The place of the layer of that name, where lines on it can be read."""
    for place, layer in enumerate(contents.layers):
        if layer.read and layer.name.upper() == name:
            return place
    return None


def only_layer(contents: Contents) -> int | None:
    """The one with lines that can be read, where there is one alone."""
    drawn = [place for place, layer in enumerate(contents.layers) if layer.read]
    return drawn[0] if len(drawn) == 1 else None
