"""An outline and its cutouts out of a DXF file that somebody has sent: judged as hostile, refused
with words, never guessed at. Lines, arcs, circles and polylines of the model space are read;
nothing else is followed, opened or run."""

from __future__ import annotations

import io
import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from jobs.shapes.chains import Piece, chained, tidy
from jobs.shapes.checks import LONGEST
from jobs.shapes.dxf_out import CUTOUTS, OUTLINE, UNITS, unit_of
from jobs.shapes.faults import Point, ShapeFault
from jobs.shapes.outlines import FreeOutline, free
from jobs.shapes.path import NEAREST, Path, check_count
from jobs.shapes.shape import MOST_ROWS, Cutout, Shape

MOST_BYTES = 4_000_000
MOST_ENTITIES = 20_000  # of a whole file: to read more takes seconds, and no outline needs them
ENTITY = re.compile(rb"\n[ \t]*0[ \t]*\r?\n[A-Za-z]")
READ = ("LINE", "ARC", "CIRCLE", "LWPOLYLINE", "POLYLINE")
# Drawn beside an outline and no part of it.
BESIDE = (
    "TEXT",
    "MTEXT",
    "DIMENSION",
    "POINT",
    "HATCH",
    "LEADER",
    "MULTILEADER",
    "ATTDEF",
    "IMAGE",
)


@dataclass(frozen=True)
class Layer:
    """read : how many lines, arcs and so on there can be read; unread : kinds that cannot"""

    name: str
    read: int
    unread: tuple[str, ...]


@dataclass(frozen=True)
class Contents:
    """What is in a file, to ask which layers are meant. unit : None where the file has none, or
    one that no shop draws in."""

    unit: str | None
    layers: tuple[Layer, ...]


@dataclass(frozen=True)
class Drawn:
    """The largest closed line and those within it, moved to the left end and the front edge."""

    outline: FreeOutline
    cutouts: tuple[Cutout, ...]
    unit: str

    @property
    def shape(self) -> Shape:
        return Shape(self.outline, cutouts=self.cutouts)


def look(data: bytes) -> Contents:
    """Raises ShapeFault "dxf-too-large", "dxf-too-many", "dxf-binary", "dxf-cut-off",
    "dxf-broken"."""
    file = _opened(data)
    counts: dict[str, Counter[str]] = {}
    for entity in file.modelspace():
        counts.setdefault(_layer(entity) or "0", Counter())[entity.dxftype()] += 1
    layers = [
        Layer(
            name,
            sum(kinds[kind] for kind in READ),
            tuple(sorted(set(kinds) - set(READ) - set(BESIDE))),
        )
        for name, kinds in sorted(counts.items())
    ]
    return Contents(_unit_named(file, data), tuple(layers))


def read_dxf(
    data: bytes,
    *,
    unit: str = "",
    layers: Sequence[str] = (),
    near: float = NEAREST,
) -> Drawn:
    """unit : needed only where the file names none; layers : none for those that `write_dxf`
    makes, or the only one with lines on it; near : ends this close meet [m].

    Raises
    ------
    ShapeFault
        As `look` and `chains.chained`, and "dxf-units", "dxf-units-differ", "dxf-layers",
        "dxf-kind", "dxf-nothing", "dxf-several", "dxf-tilted". Whether the shape can be cast is
        for `checks.faults`.
    """
    try:
        return _drawn(data, unit, layers, near)
    except ShapeFault as fault:
        raise fault.at("file", 0) from None


def _drawn(data: bytes, unit: str, layers: Sequence[str], near: float) -> Drawn:
    file = _opened(data)
    named = _unit_named(file, data)
    if unit and named and unit != named:
        raise ShapeFault(
            "dxf-units-differ",
            "The file says that it is drawn in {named}, and {unit} was chosen. Leave the unit "
            "out, or send a file without one.",
            part="file",
            facts={"named": named, "unit": unit},
        )
    used = named or unit
    metres, _code = unit_of(used)
    loops = _loops(_on(file, layers), metres, near)
    outline, holes = _sorted(loops)
    left, front, _, _ = outline.box
    return Drawn(
        free(outline.moved(-left, -front)),
        tuple(Cutout(free(hole.moved(-left, -front))) for hole in holes),
        used,
    )


def _refused(key: str, words: str, **facts: str) -> ShapeFault:
    return ShapeFault(key, words, part="file", facts=facts)


# The file.


def _opened(data: bytes) -> Any:
    if len(data) > MOST_BYTES:
        raise _refused(
            "dxf-too-large",
            "This file has {size} MB; {most} MB are the most. Save the outline alone.",
            size=f"{len(data) / 1e6:.1f}",
            most=f"{MOST_BYTES / 1e6:g}",
        )
    if b"\x00" in data:
        raise _refused("dxf-binary", "This is not a DXF file of text. Save it as ASCII DXF.")
    if not data.rstrip().endswith(b"EOF"):
        raise _refused(
            "dxf-cut-off",
            "This is not a whole DXF file: its end is missing. Send it again.",
        )
    count = sum(1 for _ in ENTITY.finditer(data))
    if count > MOST_ENTITIES:
        raise _refused(
            "dxf-too-many",
            "This file draws {count} things; {most} are the most. Save the outline alone.",
            count=f"{count:,}",
            most=f"{MOST_ENTITIES:,}",
        )
    import ezdxf

    try:
        # Not by ezdxf's recovery: that makes a number of what is none, and a cut is made by it.
        return ezdxf.read(io.StringIO(_text(data)))
    except Exception as error:  # the reader meets a stranger's bytes: whatever it raises is theirs
        raise _broken() from error


def _text(data: bytes) -> str:
    """Since R2007 in UTF-8; before in a page that matters for layers' names alone."""
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def _broken() -> ShapeFault:
    return _refused(
        "dxf-broken", "This DXF file is damaged and cannot be read. Save it again as DXF R2010."
    )


def _unit_named(file: Any, data: bytes) -> str | None:
    # The reader fills in a unit of its own where a file has no header.
    code = file.header.get("$INSUNITS", 0) if b"$INSUNITS" in data else 0
    return next((name for name, (_, own) in UNITS.items() if own == code), None)


def _on(file: Any, layers: Sequence[str]) -> list[Any]:
    """What is drawn on the layers that were chosen, or that need no choice."""
    sheet = list(file.modelspace())
    drawn = [entity for entity in sheet if entity.dxftype() not in BESIDE]
    there = {layer for entity in drawn if (layer := _layer(entity))}
    chosen = set(layers)
    if not chosen:
        chosen = {OUTLINE, CUTOUTS} if OUTLINE in there else there
        if OUTLINE not in there and len(there) > 1:
            raise _refused(
                "dxf-layers",
                "This file has lines on several layers: {layers}. Choose those with the outline "
                "and the cutouts.",
                layers=", ".join(sorted(there)[:20]),
            )
    # What the reader does not know may lie on any layer, and is refused below.
    found = [entity for entity in drawn if _layer(entity) in {*chosen, None}]
    if not found:
        raise _refused("dxf-nothing", "There are no lines on the layers that were chosen.")
    kinds = sorted({entity.dxftype() for entity in found} - set(READ))
    if kinds:
        raise _refused(
            "dxf-kind",
            "The outline is drawn with {kinds}, which cannot be read. Draw it with lines, arcs, "
            "circles and polylines; blocks must be exploded.",
            kinds=", ".join(kinds[:10]),
        )
    return found


def _layer(entity: Any) -> str | None:
    """None for a kind of which the reader knows nothing."""
    return str(entity.dxf.get("layer", "0")) if entity.dxf.is_supported("layer") else None


# Its lines, in metres.


def _loops(entities: Sequence[Any], metres: float, near: float) -> list[Path]:
    loops: list[Path] = []
    pieces: list[Piece] = []
    for entity in entities:
        try:
            _take(entity, metres, near, loops, pieces)
        except (AttributeError, TypeError, ValueError, OverflowError) as error:
            if isinstance(error, ShapeFault):
                raise
            raise _broken() from error
    loops += chained(pieces, near)
    if not loops:
        raise _refused("dxf-nothing", "There is no closed line on the layers that were chosen.")
    return loops


def _take(entity: Any, metres: float, near: float, loops: list[Path], pieces: list[Piece]) -> None:
    mirrored = _mirrored(entity)
    kind = entity.dxftype()

    def at(point: Any) -> Point:
        x, y = float(point[0]) * metres, float(point[1]) * metres
        if not (abs(x) < 1e6 and abs(y) < 1e6):
            raise ShapeFault(
                "dxf-far-away",
                "A line of this file lies immeasurably far away. Delete it, and send the file "
                "again.",
                part="file",
            )
        return (-x if mirrored else x), y

    if kind == "LINE":
        # A line's ends stand in the world's axes whatever its own are.
        mirrored = False
        pieces.append(Piece(at(entity.dxf.start), at(entity.dxf.end)))
    elif kind == "CIRCLE":
        loops.append(_circle(at(entity.dxf.center), abs(float(entity.dxf.radius)) * metres))
    elif kind == "ARC":
        arc = _arc(entity, at(entity.dxf.center), metres, mirrored=mirrored)
        if abs(arc.bulge) > 1 and math.dist(arc.start, arc.end) <= near:
            loops.append(_circle(at(entity.dxf.center), abs(float(entity.dxf.radius)) * metres))
        else:
            pieces.append(arc)
    else:
        _polyline(entity, at, near, loops, pieces, mirrored=mirrored)


def _at(x: float, y: float) -> Point:
    if not (math.isfinite(x) and math.isfinite(y)):
        raise _broken()
    return x, y


def _circle(centre: Point, radius: float) -> Path:
    x, y = centre
    return Path((_at(x - radius, y), _at(x + radius, y)), (1.0, 1.0))


def _mirrored(entity: Any) -> bool:
    """Seen from below, as a drawing that was mirrored stores its arcs."""
    x, y, z = entity.dxf.get("extrusion", (0.0, 0.0, 1.0))
    if entity.dxftype() != "LINE" and (abs(x) > 1e-6 or abs(y) > 1e-6 or abs(abs(z) - 1) > 1e-6):
        raise _refused("dxf-tilted", "A line of this file stands aslant in space. Draw it flat.")
    return bool(z < 0)


def _arc(entity: Any, centre: Point, metres: float, *, mirrored: bool) -> Piece:
    radius = abs(float(entity.dxf.radius)) * metres
    start, end = float(entity.dxf.start_angle), float(entity.dxf.end_angle)
    if mirrored:
        start, end = 180 - end, 180 - start
    turn = (end - start) % 360 or 360.0

    def on(angle: float) -> Point:
        way = math.radians(angle)
        return _at(centre[0] + radius * math.cos(way), centre[1] + radius * math.sin(way))

    return Piece(on(start), on(end), math.tan(math.radians(turn) / 4))


def _polyline(
    entity: Any, at: Any, near: float, loops: list[Path], pieces: list[Piece], *, mirrored: bool
) -> None:
    if entity.dxftype() == "LWPOLYLINE":
        rows = [(at((x, y)), float(bulge)) for x, y, bulge in entity.get_points("xyb")]
        closed = bool(entity.closed)
    else:
        if not entity.is_2d_polyline:
            raise _refused("dxf-tilted", "A line of this file stands in space. Draw it flat.")
        rows = [
            (at(vertex.dxf.location), float(vertex.dxf.get("bulge", 0.0)))
            for vertex in entity.vertices
        ]
        closed = bool(entity.is_closed)
    check_count(len(rows))
    if len(rows) < 2:
        return
    points = [point for point, _ in rows]
    bulges = [-bulge if mirrored else bulge for _, bulge in rows]
    if closed or math.dist(points[0], points[-1]) <= near:
        loops.append(tidy(points, bulges, near))
        return
    for number in range(len(points) - 1):
        pieces.append(Piece(points[number], points[number + 1], bulges[number]))


def _sorted(loops: Sequence[Path]) -> tuple[Path, list[Path]]:
    """The largest, and the others, which must lie within its box."""
    if len(loops) > MOST_ROWS:
        raise _refused(
            "dxf-several",
            "There are {count} closed lines on these layers; {most} are the most.",
            count=f"{len(loops):,}",
            most=str(MOST_ROWS),
        )
    outline = max(loops, key=lambda loop: loop.polygon.area)
    left, front, right, back = outline.box
    if max(right - left, back - front) > LONGEST:
        raise ShapeFault(
            "too-large",
            "The outline measures {size}; {most} is the most. Is the unit the right one?",
            part="file",
            figures={"size": max(right - left, back - front), "most": LONGEST},
        )
    holes = [loop for loop in loops if loop is not outline]
    for hole in holes:
        x0, y0, x1, y1 = hole.box
        if x0 > right or x1 < left or y0 > back or y1 < front:
            raise ShapeFault(
                "dxf-several",
                "There is a second outline beside the largest. A file holds one piece: put the "
                "other on a layer of its own.",
                place=(hole.points[0],),
                part="file",
            )
    return outline, holes
