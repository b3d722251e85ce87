"""A piece's drawings in the shop's units, as data: `parts/drawing.html` makes pictures of them.

Reckoned once for each shape, sheet and system of units; nothing is read or written.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

from jobs.models import Piece
from jobs.shapes.checks import faults
from jobs.shapes.drawing import PHONE, SCREEN, Drawing, Item, Line, Sheet, Words
from jobs.shapes.faults import Long, ShapeFault
from jobs.shapes.plan import face_plan, underside_plan
from jobs.shapes.section import Cut, section
from jobs.shapes.shape import Shape
from jobs.shapes.solid import Solid
from jobs.shapes.stored import read
from shop import measures
from shop.models import Shop

__all__ = ["PHONE", "SCREEN", "PieceDrawings", "paper_drawings", "piece_drawings", "shape_of"]

INCH = 0.0254  # m
PX = INCH / 96  # m: a unit of a drawing that is printed at its own size (CSS 2.1, 4.3.2)
# Scales that a rule or a head can follow, large first.
RATIOS = (1, 2, 2.5, 4, 5, 6, 8, 10, 12, 15, 16, 20, 24, 25, 30, 32, 40, 48, 50, 60, 80, 100)
BARS_US = (48.0, 36.0, 24.0, 12.0, 6.0, 3.0, 2.0, 1.0)  # in
BARS_SI = (1000.0, 500.0, 250.0, 200.0, 100.0, 50.0, 20.0)  # mm
BAR_SHARE = 0.3  # of the drawing's piece, at most


@dataclass(frozen=True)
class Titled:
    """title, note : above and below it, for who sees it; `drawing.said` is for who does not"""

    key: str
    title: str
    note: str
    drawing: Drawing


@dataclass(frozen=True)
class PieceDrawings:
    """lengthwise is None where no concrete is met there"""

    face: Drawing
    underside: Drawing
    across: Drawing
    lengthwise: Drawing | None

    @property
    def titled(self) -> tuple[Titled, ...]:
        """Face, underside, section; the lengthwise one is for who asks."""
        return (
            Titled("face", "As seen from the face", "Front edge at the bottom.", self.face),
            Titled(
                "underside",
                "Underside, mirrored as it lies in the form",
                "Front edge at the bottom; left and right are changed over.",
                self.underside,
            ),
            Titled("across", "Section from front to back", _cut_note(self.across), self.across),
        )

    @property
    def along(self) -> Titled | None:
        if self.lengthwise is None:
            return None
        return Titled(
            "lengthwise", "Section lengthwise", _cut_note(self.lengthwise), self.lengthwise
        )


def shape_of(piece: Piece) -> Shape | None:
    """None without a shape, or for one that cannot be cast as thick as the piece is now; why is
    said by `jobs.services.shape.section_fault`."""
    if not piece.shape:
        return None
    try:
        shape = read(piece.shape)
    except ShapeFault:
        return None
    return shape if _can_be(shape, piece.thickness_m, piece.coat_m) else None


def piece_drawings(piece: Piece, shop: Shop, sheet: Sheet = SCREEN) -> PieceDrawings | None:
    """None for a piece without a shape that can be drawn."""
    shape = shape_of(piece)
    if shape is None:
        return None
    return _drawn(shape, piece.thickness_m, piece.coat_m, sheet, shop.units)


def paper_drawings(
    piece: Piece, shop: Shop, width_mm: float, tallest_mm: float, *, delivered: bool = False
) -> PieceDrawings | None:
    """For a printed page, at most so wide, each plan about so tall: at a round scale, which stands
    beside the bar. To be shown at its own size (`ink=True` writes it in CSS pixels). delivered :
    as the customer has it, without the strongbacks that go with it through the shop"""
    shape = shape_of(piece)
    if shape is None:
        return None
    if delivered:
        shape = replace(shape, strongbacks=())
    room = Sheet(width=width_mm / 1000 / PX, tallest=tallest_mm / 1000 / PX)
    face, coat = piece.thickness_m, piece.coat_m
    loose = _drawn(shape, face, coat, room, shop.units)
    scale = min(loose.face.scale, loose.underside.scale)
    plans = _drawn(shape, face, coat, replace(room, scale=round_scale(scale)), shop.units)
    return replace(loose, face=plans.face, underside=plans.underside)


def drawing_of(shape: Shape, shop: Shop, sheet: Sheet = SCREEN) -> Drawing:
    """The face of a shape that no piece has yet. Check it first."""
    spoken = in_units(sheet, shop.units)
    return with_bar(face_plan(shape, spoken), spoken, shop.units)


def round_scale(scale: float) -> float:
    """The largest scale of `RATIOS` that is no larger [units for a metre]."""
    fits = [ratio for ratio in RATIOS if 1 / PX / ratio <= scale * 1.0001]
    return 1 / PX / (fits[0] if fits else 1 / PX / scale)


def in_units(sheet: Sheet, units: str) -> Sheet:
    """The sheet with lengths as the shop reads them, the unit told once."""
    return replace(sheet, long=_long(units), unit=measures.sign("length", Shop(units=units)))


@lru_cache(maxsize=4)
def _long(units: str) -> Long:
    shop = Shop(units=units)

    def long(metres: float) -> str:
        return measures.words(metres, "length", shop).rsplit(" ", 1)[0]

    return long


@lru_cache(maxsize=512)
def _can_be(shape: Shape, face: float, coat: float) -> bool:
    return not faults(shape, face, coat)


@lru_cache(maxsize=256)
def _drawn(shape: Shape, face: float, coat: float, sheet: Sheet, units: str) -> PieceDrawings:
    spoken = in_units(sheet, units)
    solid = Solid(shape, face, coat)
    across = _cut(solid, "across", spoken)
    lengthwise = _cut(solid, "lengthwise", spoken)
    plans = (face_plan(shape, spoken), underside_plan(shape, face, spoken))
    told = [with_bar(one, spoken, units) if one else None for one in (*plans, across, lengthwise)]
    return PieceDrawings(*told)  # type: ignore[arg-type]


def _cut(solid: Solid, cut: Cut, sheet: Sheet) -> Drawing | None:
    """Through the largest cutout; where that leaves nothing, as an opening through and through,
    beside it."""
    left, front, right, back = solid.shape.outline.path.box
    low, high = (left, right) if cut == "across" else (front, back)
    for at in (None, *(low + share * (high - low) for share in (0.25, 0.75, 0.1, 0.9))):
        try:
            return section(solid, cut, at, sheet)
        except ShapeFault as fault:
            if fault.key != "section-outside":
                raise
    return None


def with_bar(drawing: Drawing, sheet: Sheet, units: str) -> Drawing:
    """The same with a bar of a round length below it, true at whatever size it is shown."""
    bars, metre = (BARS_US, 1 / INCH) if Shop(units=units).us else (BARS_SI, 1000.0)
    x0, _, x1, _ = drawing.frame.box
    room = BAR_SHARE * (x1 - x0)
    length = next((bar / metre for bar in bars if bar / metre <= room), bars[-1] / metre)
    left, y = drawing.frame.left, drawing.height - 2
    right = left + length * drawing.scale
    ends = [Line((x, y - 4), (x, y + 4), "scale") for x in (round(left, 2), round(right, 2))]
    words = sheet.whole(length)
    if sheet.scale:
        words += f", scale 1 : {1 / PX / drawing.scale:.4g}"
    items: list[Item] = [
        Line((round(left, 2), y), (round(right, 2), y), "scale"),
        *ends,
        Words((round(right + 7, 2), y + 4), words, "start", role="scale"),
    ]
    width = max(drawing.width, right + 7 + sheet.room(words))
    return replace(
        drawing,
        width=round(width, 2),
        height=round(drawing.height + sheet.tall * 0.6, 2),
        items=(*drawing.items, *items),
    )


def _cut_note(drawing: Drawing) -> str:
    """What the section's own words say of place and of how depths are drawn."""
    words = drawing.said.removesuffix(".")
    place = words.split(", ", 2)[1]
    drawn = words.partition("; ")[2]
    return f"Cut {place}, face up. {drawn[:1].upper() + drawn[1:] + '.' if drawn else ''}".strip()
