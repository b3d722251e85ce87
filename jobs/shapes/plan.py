"""The plan of a shape from its face, and of its underside as it is seen when it is turned over
left to right: mirrored, with edges and ribs. The front edge is at the bottom in both."""

from __future__ import annotations

import math
from collections.abc import Sequence

from jobs.shapes.drawing import (
    SCREEN,
    Arc,
    Area,
    Drawing,
    Frame,
    Item,
    Line,
    Sheet,
    Words,
    chain,
    frame_for,
    marks_of,
)
from jobs.shapes.faults import Point, ShapeFault
from jobs.shapes.outlines import Circle, Outline, RoundedRectangle
from jobs.shapes.path import Side
from jobs.shapes.regions import edge_regions, face_region, rib_regions
from jobs.shapes.shape import Cutout, PlacedRib, Shape

MOST_MARKS = 14  # in a chain: a rounder outline is told by its box alone
SLANT = 1e-4  # m
ROOM_BESIDE = 0.5  # of a step, past the outermost chain


def face_plan(shape: Shape, sheet: Sheet = SCREEN) -> Drawing:
    """From the face: outline, cutouts, inlays; chains of the whole, of the corners, of the cutouts.

    Check the shape first."""
    columns, lines = _corner_marks(shape)
    holes_x, holes_y = _cutout_marks(shape)
    levels = (bool(holes_x), bool(holes_y), 1 + bool(columns), 1 + bool(lines))
    frame, width, height = _framed(shape, sheet, levels, mirrored=False)
    items: list[Item] = [
        *frame.areas(face_region(shape), "face"),
        *_strokes(frame, shape),
        *_inlays(frame, shape),
        *_sizes_of_cutouts(frame, shape, sheet),
        *_side_lengths(frame, shape, sheet),
        *_whole(frame, shape, sheet, columns=columns, lines=lines),
    ]
    if holes_x:
        items += chain(frame, sheet, "top", holes_x, 1)
    if holes_y:
        items += chain(frame, sheet, "right", holes_y, 1)
    said = _said(shape, sheet, "Plan of the face")
    return Drawing(width, height, frame, tuple(items), said)


def underside_plan(shape: Shape, face: float, sheet: Sheet = SCREEN) -> Drawing:
    """From below, mirrored: edges, ribs, strongbacks; chains of the ribs' middles and the edges'
    insides. face : thickness of the slab [m]"""
    ribs_x, ribs_y = _rib_marks(shape)
    levels = (bool(ribs_x), bool(ribs_y), 1, 1)
    frame, width, height = _framed(shape, sheet, levels, mirrored=True)
    items: list[Item] = [*frame.areas(face_region(shape), "face")]
    for edge in edge_regions(shape):
        items += frame.areas(edge.region, "edge")
    for rib in rib_regions(shape, face):
        items += frame.areas(rib.region, "rib")
    items += _bars(frame, shape)
    items += _strokes(frame, shape)
    items += _whole(frame, shape, sheet)
    if ribs_x:
        items += chain(frame, sheet, "top", ribs_x, 1)
    if ribs_y:
        items += chain(frame, sheet, "right", ribs_y, 1)
    said = _said(shape, sheet, "Plan of the underside, mirrored")
    return Drawing(width, height, frame, tuple(items), said)


def marked(drawing: Drawing, fault: ShapeFault, radius: float = 8.0) -> tuple[Item, ...]:
    """The place of a fault on a plan: a line, or a ring around a point; nothing without a place."""
    places = [drawing.frame.at(place) for place in fault.place]
    if len(places) == 2:
        return (Line(places[0], places[1], "mark"),)
    return tuple(item for place in places for item in _ring(place, radius))


def bare_plan(shape: Shape, sheet: Sheet = SCREEN) -> Drawing:
    """The lines of outline and cutouts alone: also of a shape that cannot be, to mark why."""
    frame, width, height = _framed(shape, sheet, (0, 0, 0, 0), mirrored=False)
    items = tuple(_strokes(frame, shape))
    return Drawing(width, height, frame, items, _said(shape, sheet, "Outline"))


# The parts.


def _framed(
    shape: Shape, sheet: Sheet, levels: tuple[int, int, int, int], *, mirrored: bool
) -> tuple[Frame, float, float]:
    """levels : of chains at the top, right, bottom and left."""
    margins = tuple(sheet.step * (level + ROOM_BESIDE) for level in levels)
    return frame_for(sheet, shape.outline.path.box, margins, mirrored=mirrored)  # type: ignore[arg-type]


def _strokes(frame: Frame, shape: Shape) -> list[Item]:
    found: list[Item] = [frame.side(side, "outline") for side in shape.outline.sides]
    for cutout in shape.cutouts:
        found += [frame.side(side, "cutout") for side in cutout.path.sides]
    return found


def _whole(
    frame: Frame,
    shape: Shape,
    sheet: Sheet,
    *,
    columns: Sequence[float] = (),
    lines: Sequence[float] = (),
) -> list[Item]:
    """The whole length and width, outside the chains of the corners where there are such."""
    left, front, right, back = shape.outline.path.box
    items = chain(frame, sheet, "bottom", [left, right], 2 if columns else 1, whole=True)
    items += chain(frame, sheet, "left", [front, back], 2 if lines else 1, whole=True)
    if columns:
        items += chain(frame, sheet, "bottom", columns, 1)
    if lines:
        items += chain(frame, sheet, "left", lines, 1)
    return items


def _corner_marks(shape: Shape) -> tuple[list[float], list[float]]:
    """Between the corners of the outline; nothing where there are none but the box's."""
    left, front, right, back = shape.outline.path.box
    columns = marks_of((x for x, _ in shape.outline.path.points), left, right)
    lines = marks_of((y for _, y in shape.outline.path.points), front, back)
    round_one = isinstance(shape.outline, Circle)
    return (
        columns if 2 < len(columns) <= MOST_MARKS and not round_one else [],
        lines if 2 < len(lines) <= MOST_MARKS and not round_one else [],
    )


def _cutout_marks(shape: Shape) -> tuple[list[float], list[float]]:
    """Over the sides of each cutout; over the middle of a round one."""
    if not shape.cutouts:
        return [], []
    left, front, right, back = shape.outline.path.box
    across: list[float] = []
    up: list[float] = []
    for cutout in shape.cutouts:
        x0, y0, x1, y1 = cutout.path.box
        round_one = isinstance(cutout.figure, Circle)
        across += [(x0 + x1) / 2] if round_one else [x0, x1]
        up += [(y0 + y1) / 2] if round_one else [y0, y1]
    return marks_of(across, left, right), marks_of(up, front, back)


def _rib_marks(shape: Shape) -> tuple[list[float], list[float]]:
    left, front, right, back = shape.outline.path.box
    across: list[float] = []
    up: list[float] = []
    for _row, rib in shape.straight_ribs():
        (up if rib.along == "length" else across).append(rib.at)
    for placed in shape.ribs:
        if isinstance(placed, PlacedRib):
            across += [placed.start[0], placed.end[0]]
            up += [placed.start[1], placed.end[1]]
    for edge in shape.edges:
        for name, marks, place, sign in (
            ("front", up, front, 1), ("back", up, back, -1),
            ("left", across, left, 1), ("right", across, right, -1),
        ):  # fmt: skip
            if edge.side == name:
                marks.append(place + sign * edge.width)
    columns, lines = marks_of(across, left, right), marks_of(up, front, back)
    return (columns if len(columns) > 2 else []), (lines if len(lines) > 2 else [])


def _sizes_of_cutouts(frame: Frame, shape: Shape, sheet: Sheet) -> list[Words]:
    """What a cutout measures, in it or, where it has no room, nowhere: the chains tell it."""
    found: list[Words] = []
    for cutout in shape.cutouts:
        x0, y0, x1, y1 = cutout.path.box
        lines = [*([cutout.use] if cutout.use else []), _size_words(cutout.figure, sheet)]
        room, high = (x1 - x0) * frame.scale, (y1 - y0) * frame.scale
        lines = [words for words in lines if sheet.room(words) <= room - 4]
        if not lines or len(lines) * sheet.tall > high:
            if isinstance(cutout.figure, Circle):
                found.append(_beside(frame, cutout, sheet))
            continue
        x, y = frame.at(((x0 + x1) / 2, (y0 + y1) / 2))
        first = y + sheet.tall * (0.35 - (len(lines) - 1) / 2)
        found += [
            Words((x, round(first + n * sheet.tall, 2)), words, role="label")
            for n, words in enumerate(lines)
        ]
    return found


def _beside(frame: Frame, cutout: Cutout, sheet: Sheet) -> Words:
    """A small round hole is named to its right."""
    _x0, y0, x1, y1 = cutout.path.box
    x, y = frame.at((x1, (y0 + y1) / 2))
    words = _size_words(cutout.figure, sheet)
    return Words((round(x + 4, 2), round(y + sheet.tall * 0.35, 2)), words, "start", role="label")


def _size_words(figure: Outline, sheet: Sheet) -> str:
    left, front, right, back = figure.path.box
    if isinstance(figure, Circle):
        return f"⌀ {sheet.long(figure.diameter)}"
    words = f"{sheet.long(right - left)} × {sheet.long(back - front)}"
    if isinstance(figure, RoundedRectangle):
        words += f", R {sheet.long(figure.radius)}"
    return words


def _side_lengths(frame: Frame, shape: Shape, sheet: Sheet) -> list[Words]:
    """Along each slanting side its length, at each arc its radius, outside the piece."""
    if len(shape.outline.sides) > MOST_MARKS or isinstance(shape.outline, Circle):
        return []
    found: list[Words] = []
    told: set[str] = set()
    for side in shape.outline.sides:
        dx, dy = side.end[0] - side.start[0], side.end[1] - side.start[1]
        if side.bulge:
            words = f"R {sheet.long(side.radius)}"
        elif min(abs(dx), abs(dy)) > SLANT:
            words = sheet.long(side.length)
        else:
            continue
        if side.bulge and words in told:
            continue
        told.add(words)
        found.append(_along_side(frame, side, words, sheet))
    return found


def _along_side(frame: Frame, side: Side, words: str, sheet: Sheet) -> Words:
    nx, ny = side.inwards(side.middle)
    turn = -math.degrees(math.atan2(-nx, ny))
    turn = (turn + 90) % 180 - 90  # never upside down
    x, y = frame.at(side.middle)
    # Outwards is up on the sheet where the inside lies in front of the side.
    off = 5.0 if ny < 0 else 5.0 + sheet.tall * 0.7
    at = round(x - nx * off, 2), round(y + ny * off, 2)
    return Words(at, words, turn=round(turn, 2))


def _inlays(frame: Frame, shape: Shape) -> list[Item]:
    found: list[Item] = []
    for note in shape.inlays:
        x0, y0 = frame.at((note.x, note.y))
        x1, y1 = frame.at((note.x + note.length, note.y + note.width))
        if note.length and note.width:
            found.append(Area((((x0, y0), (x1, y0), (x1, y1), (x0, y1)),), "inlay"))
        else:
            found += _ring((x0, y0), 4.0, role="inlay")
        middle = round((x0 + x1) / 2, 2), round((y0 + y1) / 2 + 4, 2)
        found.append(Words(middle, note.words, role="note"))
    return found


def _bars(frame: Frame, shape: Shape) -> list[Item]:
    found: list[Item] = []
    for bar in shape.strongbacks:
        corners = [(bar.x, bar.y), (bar.x + bar.length, bar.y),
                   (bar.x + bar.length, bar.y + bar.width), (bar.x, bar.y + bar.width)]  # fmt: skip
        found.append(Area((tuple(frame.at(corner) for corner in corners),), "bar"))
    return found


def _ring(at: Point, radius: float, role: str = "mark") -> list[Item]:
    x, y = at
    left, right = (round(x - radius, 2), y), (round(x + radius, 2), y)
    halves = ((left, right), (right, left))
    return [Arc(start, end, at, radius, True, False, role) for start, end in halves]


def _said(shape: Shape, sheet: Sheet, name: str) -> str:
    left, front, right, back = shape.outline.path.box
    parts = [
        f"{name}, {sheet.long(right - left)} by {sheet.whole(back - front)}, "
        "front edge at the bottom"
    ]
    for number, cutout in enumerate(shape.cutouts, start=1):
        x0, y0, _, _ = cutout.path.box
        use = f" ({cutout.use})" if cutout.use else ""
        parts.append(
            f"cutout {number}{use}: {_size_words(cutout.figure, sheet)}, "
            f"{sheet.long(x0 - left)} from the left end, {sheet.long(y0 - front)} from the front"
        )
    parts += [
        f"edge along {edge.side}: {sheet.long(edge.width)} wide, {sheet.long(edge.depth)} deep"
        for edge in shape.edges
    ]
    return "; ".join(parts) + "."
