"""What follows from a section as it is typed: its drawings, area, weight, people, weakest cut; or,
of one that cannot be, its lines with the places marked."""

from __future__ import annotations

import copy
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from curing.handling import Lift, lift
from curing.panel import Panel, weakest_cut
from jobs.models import Piece
from jobs.piece.section_outline import FREE, stored_corners
from jobs.services.drawings import PHONE, SCREEN, Titled, in_units, piece_drawings
from jobs.services.section_faults import Fault
from jobs.services.shape import bars_kg, face_area_of, panel_from, weight_of
from jobs.shapes.drawing import Drawing, Frame, Item, Line, Words
from jobs.shapes.faults import ShapeFault
from jobs.shapes.plan import bare_plan, marked
from jobs.shapes.regions import rib_bands
from jobs.shapes.shape import Shape
from jobs.shapes.stored import read
from shop.models import Shop

SHEETS = (("wide", SCREEN), ("narrow", PHONE))
CLOSE = 1e-6  # m
PAST = 6.0  # units a line goes on past the piece
OFF = 9.0  # units from a corner to its number
MOST_NUMBERS = 40
# Outlines whose cuts the engine has as they are: of others the weakest may be but a tip.
WHOLE_CUTS = ("rectangle", "L", "U")


@dataclass(frozen=True)
class View:
    """One drawing, in a wide and a narrow size."""

    key: str
    title: str
    note: str
    sizes: tuple[tuple[str, Drawing], ...]


@dataclass(frozen=True)
class Looked:
    views: tuple[View, ...]
    area_m2: float
    weight_kg: float
    bars_kg: float
    people: Lift
    weak_at: float | None  # from the left end [m]; None where every cut is the same

    @property
    def with_bars_kg(self) -> float:
        return self.weight_kg + self.bars_kg


def look(shape: dict[str, Any], piece: Piece, shop: Shop) -> Looked:
    """Of a shape that can be cast."""
    face, density = piece.thickness_m, piece.mix.density
    weight, bars = weight_of(shape, face=face, density=density), bars_kg(shape)
    panel = panel_from(shape, face=face, density=density)
    weak = weak_at(panel, shape)
    return Looked(
        views=_views(shape, piece, shop, weak),
        area_m2=face_area_of(shape, face=face),
        weight_kg=weight,
        bars_kg=bars,
        people=lift(weight + bars, shop.carry_limit_kg),
        weak_at=weak,
    )


def _views(shape: dict[str, Any], piece: Piece, shop: Shop, weak: float | None) -> tuple[View, ...]:
    typed = copy.copy(piece)
    typed.shape = shape
    drawn: dict[str, list[tuple[str, Titled]]] = {}
    for fit, sheet in SHEETS:
        drawings = piece_drawings(typed, shop, sheet)
        for titled in drawings.titled if drawings else ():
            drawn.setdefault(titled.key, []).append((fit, titled))
    return tuple(_view(key, sizes, shape, weak) for key, sizes in drawn.items())


def _view(
    key: str, sizes: Sequence[tuple[str, Titled]], shape: dict[str, Any], weak: float | None
) -> View:
    def more(drawing: Drawing) -> Drawing:
        items = _numbers(drawing.frame, shape) + _weak_line(drawing.frame, weak)
        return replace(drawing, items=(*drawing.items, *items)) if key == "face" else drawing

    first = sizes[0][1]
    own = tuple((fit, more(titled.drawing)) for fit, titled in sizes)
    return View(key, first.title, first.note, own)


def weak_at(panel: Panel, shape: dict[str, Any]) -> float | None:
    if shape.get("outline", "rectangle") not in WHOLE_CUTS:
        return None
    cut = weakest_cut(panel)
    if cut.start <= CLOSE and cut.end >= panel.length - CLOSE:
        return None
    return (cut.start + cut.end) / 2


def _weak_line(frame: Frame, weak: float | None) -> list[Item]:
    if weak is None:
        return []
    left, front, _right, back = frame.box
    (x, top), (_, bottom) = frame.at((left + weak, back)), frame.at((left + weak, front))
    return [Line((x, top - PAST), (x, bottom + PAST), "mark")]


def _numbers(frame: Frame, shape: dict[str, Any]) -> list[Item]:
    """The corners of a free outline, as the form counts them."""
    corners = stored_corners(shape) if shape.get("outline") == FREE else ()
    if len(corners) > MOST_NUMBERS:
        return []
    middle = [
        sum(values) / len(corners) for values in zip(*(one.at for one in corners), strict=True)
    ]
    found: list[Item] = []
    for number, one in enumerate(corners, start=1):
        x, y = frame.at(one.at)
        mx, my = frame.at((middle[0], middle[1]))
        right, below = (OFF if x < mx else -OFF), (-OFF if y > my else OFF)
        found.append(
            Words((round(x + right, 2), round(y + below + 4, 2)), str(number), role="note")
        )
    return found


def wrong_views(shape: dict[str, Any], faults: Sequence[Fault], shop: Shop) -> tuple[View, ...]:
    """The bare lines with the place of each fault; nothing where none has a place to show."""
    if not any(fault.at for fault in faults):
        return ()
    found = read(shape)
    sizes = tuple((fit, _marked(found, shape, faults, in_units(sheet, shop.units)))
                  for fit, sheet in SHEETS)  # fmt: skip
    return (View("wrong", "Where it cannot be, in red", "", sizes),)


def _marked(found: Shape, shape: dict[str, Any], faults: Sequence[Fault], sheet: Any) -> Drawing:
    plain = bare_plan(found, sheet)
    ribs = _bands(plain.frame, found, {f.place for f in faults if f.part == "ribs"})
    marks = [item for fault in faults if fault.judged for item in marked(plain, fault.judged)]
    numbers = _numbers(plain.frame, shape)
    return replace(plain, items=(*ribs, *plain.items, *numbers, *marks))


def _bands(frame: Frame, shape: Shape, rows: set[int]) -> list[Item]:
    """The ribs that are told of, as they were placed."""
    try:
        bands = rib_bands(shape) if rows else []
    except ShapeFault:
        return []
    return [area for row, band, _ in bands if row in rows for area in frame.areas(band, "rib")]
