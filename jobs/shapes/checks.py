"""What cannot be cast: every fault of a shape, with its place. Nothing here is quadratic in the
points of an outline: `Path` refuses too many before anything is reckoned with them."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator

import shapely
from shapely import LineString, Point, STRtree

from jobs.shapes.faults import Point as XY
from jobs.shapes.faults import ShapeFault
from jobs.shapes.path import NEAREST, Path, Side
from jobs.shapes.regions import (
    Region,
    face_region,
    outline_region,
    placed_band,
    rib_bands,
    sides_of,
)
from jobs.shapes.shape import BuiltEdge, Cutout, PlacedRib, Shape
from jobs.shapes.solid import check_thickness

LEAST_AREA = 1e-4  # m2, a square of 10 mm
LONGEST = 15.0  # m, past any table or truck: the unit was another
CLOSE = 1e-6  # m: surfaces nearer than this meet
PROBES = 9  # places along a side from which it is seen how far the piece reaches


def check(shape: Shape, face: float, coat: float = 0.0) -> None:
    """Raises ShapeFault: the first of `faults`."""
    for fault in faults(shape, face, coat):
        raise fault


def faults(shape: Shape, face: float, coat: float = 0.0) -> tuple[ShapeFault, ...]:
    """All that is wrong, in the order in which it should be mended; empty for a shape that can be
    cast. What stands on a wrong outline or a wrong cutout is not looked at before that is right."""
    for stage in (_outline, _cutouts, _edges, _ribs, _notes):
        found = tuple(stage(shape, face, coat))
        if found:
            return found
    return ()


def crossing(path: Path) -> tuple[XY, ...]:
    """Where a closed line crosses or touches itself; empty where it does not."""
    reason = shapely.is_valid_reason(path.polygon)
    if reason == "Valid Geometry":
        return ()
    numbers = re.findall(r"-?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?", reason)
    x, y = (float(number) for number in numbers[-2:]) if len(numbers) > 1 else path.points[0]
    return ((x, y),)


# Each stage in turn.


def _outline(shape: Shape, face: float, coat: float) -> Iterator[ShapeFault]:
    try:
        check_thickness(face, coat)
    except ShapeFault as fault:
        yield fault
    yield from _closed_line(shape.outline.path, "The outline", "outline", 0)


def _closed_line(path: Path, name: str, part: str, row: int) -> Iterator[ShapeFault]:
    left, front, right, back = path.box
    if max(right - left, back - front) > LONGEST:
        yield ShapeFault(
            "too-large",
            "{name} measures {size}; {most} is the most. Look at the unit.",
            part=part, row=row, facts={"name": name},
            figures={"size": max(right - left, back - front), "most": LONGEST},
        )  # fmt: skip
    elif place := crossing(path):
        yield ShapeFault(
            "crossing-lines",
            "{name} crosses or touches itself here. Move one of the corners.",
            place=place, part=part, row=row, facts={"name": name},
        )  # fmt: skip
    elif path.polygon.area < LEAST_AREA / (1 if part == "outline" else 10):
        yield ShapeFault(
            "no-area", "{name} encloses nothing that can be cast.",
            place=(path.points[0],), part=part, row=row, facts={"name": name},
        )  # fmt: skip


def _cutouts(shape: Shape, _face: float, _coat: float) -> Iterator[ShapeFault]:
    piece = outline_region(shape)
    for row, cutout in enumerate(shape.cutouts):
        wrong = list(_closed_line(cutout.path, f"Cutout {row + 1}", "cutouts", row))
        yield from wrong or _stands(piece, cutout, row)
        if wrong:
            return
    yield from _overlaps(shape)
    left = face_region(shape)
    parts = [part for part in _parts(left) if part.area > CLOSE]
    if len(parts) != 1:
        least = min(parts, key=lambda part: part.area, default=None)
        middle = () if least is None else (_xy(least.representative_point()),)
        words = (
            "The cutouts leave nothing of the piece."
            if least is None
            else "The cutouts cut the piece in two. Leave concrete beside them."
        )
        yield ShapeFault("cut-in-two", words, place=middle, part="cutouts",
                         row=len(shape.cutouts) - 1)  # fmt: skip


def _stands(piece: Region, cutout: Cutout, row: int) -> Iterator[ShapeFault]:
    hole = cutout.path.polygon
    facts = {"number": str(row + 1)}
    common = piece.intersection(hole).area
    if common < CLOSE**2 or not piece.intersects(hole):
        yield ShapeFault("cutout-outside", "Cutout {number} lies outside the piece.",
                         place=(_xy(hole.centroid),), part="cutouts", row=row,
                         facts=facts)  # fmt: skip
        return
    if cutout.opens or piece.buffer(-CLOSE).contains(hole):
        return
    outside = piece.exterior.intersection(hole.buffer(CLOSE))
    yield ShapeFault(
        "cutout-across-outline",
        "Cutout {number} runs across the outline here. Move it in, or say that it opens this side.",
        place=_ends(outside),
        part="cutouts",
        row=row,
        facts=facts,
    )


def _overlaps(shape: Shape) -> Iterator[ShapeFault]:
    if len(shape.cutouts) < 2:
        return
    holes = [cutout.path.polygon for cutout in shape.cutouts]
    tree = STRtree(holes)
    for one, other in sorted(map(tuple, tree.query(holes, predicate="intersects").T.tolist())):
        # What is stored as two rectangles of one opening stays as it is.
        both = shape.cutouts[one].opens and shape.cutouts[other].opens
        if one < other and not both and holes[one].intersection(holes[other]).area > CLOSE**2:
            yield ShapeFault(
                "cutouts-overlap",
                "Cutouts {one} and {other} overlap here. Move one, or make one of both.",
                place=(_xy(holes[one].intersection(holes[other]).centroid),),
                part="cutouts",
                row=other,
                facts={"one": str(one + 1), "other": str(other + 1)},
            )


def _edges(shape: Shape, face: float, _coat: float) -> Iterator[ShapeFault]:
    for row, edge in enumerate(shape.edges):
        sides = sides_of(shape, edge)
        if not sides:
            names = list(dict.fromkeys(side.name for side in shape.outline.sides))
            yield ShapeFault(
                "no-such-side",
                "This outline has no side {side}. Its sides are {names}.",
                part="edges",
                row=row,
                facts={"side": str(edge.side), "names": ", ".join(names[:20])},
            )
            continue
        if edge.depth < face:
            yield ShapeFault(
                "edge-too-shallow",
                "An edge is measured from the show face down: it must reach below the slab's "
                "{face}. This one has {depth}.",
                place=(sides[0].start, sides[0].end),
                part="edges",
                row=row,
                figures={"face": face, "depth": edge.depth},
            )
        yield from _too_wide(shape, edge, row, sides)


def _too_wide(shape: Shape, edge: BuiltEdge, row: int, sides: list[Side]) -> Iterator[ShapeFault]:
    room = outline_region(shape).buffer(CLOSE)
    shapely.prepare(room)
    for side in sides:
        if _has_room(room, side, edge.width):
            continue
        reach, across = widest(shape, side)
        if edge.width > reach + CLOSE:
            yield ShapeFault(
                "edge-wider-than-piece",
                "This edge is {width} wide, and the piece has {reach} there.",
                place=across,
                part="edges",
                row=row,
                figures={"width": edge.width, "reach": reach},
            )
            return


def _has_room(room: Region, side: Side, width: float) -> bool:
    """Whether an edge of that width fits somewhere along the side: quickly, for most do."""
    for probe in (3, 1, 2, 4, 5):
        x, y = _along(side.points, probe / 6)
        nx, ny = side.inwards((x, y))
        if room.covers(LineString([(x, y), (x + width * nx, y + width * ny)])):
            return True
    return False


def widest(shape: Shape, side: Side) -> tuple[float, tuple[XY, ...]]:
    """How far the outline reaches inwards of a side at most [m], and where."""
    piece = outline_region(shape)
    left, front, right, back = piece.bounds
    far = math.hypot(right - left, back - front) + 1
    points = side.points
    found: tuple[float, tuple[XY, ...]] = (0.0, (points[0], points[-1]))
    for probe in range(1, PROBES + 1):
        x, y = _along(points, probe / (PROBES + 1))
        nx, ny = side.inwards((x, y))
        ray = LineString([(x + CLOSE * nx, y + CLOSE * ny), (x + far * nx, y + far * ny)])
        inside = next((part for part in _parts(ray.intersection(piece)) if part.length), None)
        if inside is not None and Point(x, y).distance(inside) < 10 * CLOSE:
            reach = inside.length + CLOSE
            if reach > found[0]:
                found = reach, ((x, y), (x + reach * nx, y + reach * ny))
    return found


def _ribs(shape: Shape, face: float, _coat: float) -> Iterator[ShapeFault]:
    try:
        bands = rib_bands(shape)
    except ShapeFault as fault:
        yield fault
        return
    piece, slab = outline_region(shape), face_region(shape)
    left, front, right, back = piece.bounds
    for row, band, _depth in bands:
        rib = shape.ribs[row]
        if isinstance(rib, PlacedRib):
            continue
        x0, y0, x1, y1 = band.bounds
        outside = x0 < left - CLOSE or x1 > right + CLOSE or y0 < front - CLOSE or y1 > back + CLOSE
        if outside or slab.intersection(band).area < CLOSE**2:
            yield _rib_outside(row, ((x0 + x1) / 2, (y0 + y1) / 2))
    for row, placed in enumerate(shape.ribs):
        if isinstance(placed, PlacedRib):
            yield from _placed(shape, placed, row)


def _placed(shape: Shape, rib: PlacedRib, row: int) -> Iterator[ShapeFault]:
    band = placed_band(rib)
    for number, cutout in enumerate(shape.cutouts, start=1):
        meets = band.intersection(cutout.path.polygon)
        if meets.area > CLOSE**2:
            line = LineString([rib.start, rib.end]).intersection(cutout.path.polygon)
            yield ShapeFault(
                "rib-through-cutout",
                "Rib {rib} runs through cutout {cutout} here. Move it, or end it before.",
                place=_ends(line) if line.length else (_xy(meets.centroid),),
                part="ribs",
                row=row,
                facts={"rib": str(row + 1), "cutout": str(number)},
            )
            return
    if not outline_region(shape).buffer(CLOSE).contains(LineString([rib.start, rib.end])):
        yield _rib_outside(row, rib.end)


def _rib_outside(row: int, place: XY) -> ShapeFault:
    return ShapeFault(
        "rib-outside", "Rib {rib} lies outside the piece. Move it in.",
        place=(place,), part="ribs", row=row, facts={"rib": str(row + 1)},
    )  # fmt: skip


def _notes(shape: Shape, _face: float, _coat: float) -> Iterator[ShapeFault]:
    piece = outline_region(shape).buffer(CLOSE)
    for row, note in enumerate(shape.inlays):
        corners = [(note.x, note.y), (note.x + note.length, note.y + note.width)]
        if not all(piece.contains(Point(corner)) for corner in corners):
            yield ShapeFault("inlay-outside", "This inlay does not lie on the piece.",
                             place=(corners[0],), part="inlays", row=row)  # fmt: skip
    for row, bar in enumerate(shape.strongbacks):
        plan = shapely.box(bar.x, bar.y, bar.x + bar.length, bar.y + bar.width)
        if not shapely.box(*piece.bounds).contains(plan):
            yield ShapeFault(
                "strongback-outside", "This strongback runs off the piece.",
                place=(_xy(plan.centroid),), part="strongbacks", row=row,
            )  # fmt: skip


# Small things.


def _parts(region: Region) -> list[Region]:
    return [part for part in getattr(region, "geoms", [region]) if not part.is_empty]


def _xy(point: Region) -> XY:
    return float(point.x), float(point.y)


def _ends(lines: Region) -> tuple[XY, ...]:
    """The ends of a stretch of line, or of what its corners span, farthest apart."""
    points = [(float(x), float(y)) for x, y in shapely.get_coordinates(lines)]
    if len(points) < 2:
        return tuple(points)
    first, last = _spread(points)
    return (first,) if math.dist(first, last) < NEAREST else (first, last)


def _spread(points: list[XY]) -> tuple[XY, XY]:
    """Two points far apart: the farthest from the first, and the farthest from that."""
    one = max(points, key=lambda point: math.dist(point, points[0]))
    return one, max(points, key=lambda point: math.dist(point, one))


def _along(points: tuple[XY, ...], share: float) -> XY:
    place = LineString(points).interpolate(share, normalized=True)
    return _xy(place)
