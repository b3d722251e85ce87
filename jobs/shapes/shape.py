"""A piece's shape: outline, edges built down, ribs, cutouts, inlays, strongbacks. Metres."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from curing.panel import Along, Strongback
from jobs.shapes.faults import Point, ShapeFault, above_nought, finite
from jobs.shapes.outlines import Outline, Rectangle
from jobs.shapes.path import Path

ALL_ROUND = "all"
MOST_ROWS = 100  # of edges, cutouts, ribs, inlays or strongbacks, together
MOST_RIBS = 60  # that a spacing may make


@dataclass(frozen=True)
class BuiltEdge:
    """A rim built down along the sides of that name ("all": every side), `width` in plan, `depth`
    from the show face to its foot."""

    side: str
    width: float
    depth: float

    def __post_init__(self) -> None:
        above_nought("edges", edge_width=self.width, edge_depth=self.depth)


@dataclass(frozen=True)
class Rib:
    """A stiffener from side to side; cutouts and edges interrupt it. `at` its middle, from the
    front edge, or from the left end when it runs along the width; `depth` below the slab."""

    at: float
    width: float
    depth: float
    along: Along = "length"

    def __post_init__(self) -> None:
        above_nought("ribs", rib_width=self.width, rib_depth=self.depth)
        finite("ribs", rib_place=self.at)
        _known_way(self.along)


@dataclass(frozen=True)
class SpacedRibs:
    """As few ribs as keep `spacing` from one to the next and to the sides, evenly."""

    spacing: float
    width: float
    depth: float
    along: Along = "length"

    def __post_init__(self) -> None:
        above_nought("ribs", spacing=self.spacing, rib_width=self.width, rib_depth=self.depth)
        _known_way(self.along)

    def ribs(self, low: float, high: float) -> tuple[Rib, ...]:
        """Between two sides that stand `low` and `high`."""
        gaps = math.ceil((high - low) / self.spacing - 1e-9)
        if gaps - 1 > MOST_RIBS:
            raise ShapeFault(
                "too-many-ribs",
                "A spacing of {spacing} makes {count} ribs here; {most} are the most. Is it meant?",
                part="ribs",
                figures={"spacing": self.spacing},
                facts={"count": str(gaps - 1), "most": str(MOST_RIBS)},
            )
        step = (high - low) / max(gaps, 1)
        return tuple(
            Rib(low + step * n, self.width, self.depth, self.along) for n in range(1, gaps)
        )


@dataclass(frozen=True)
class PlacedRib:
    """A stiffener from point to point, whole: it may not meet a cutout."""

    start: Point
    end: Point
    width: float
    depth: float

    def __post_init__(self) -> None:
        above_nought("ribs", rib_width=self.width, rib_depth=self.depth)
        finite("ribs", rib_start=self.start[0], rib_end=self.end[0])
        finite("ribs", rib_start=self.start[1], rib_end=self.end[1])
        above_nought("ribs", rib_length=math.dist(self.start, self.end))


@dataclass(frozen=True)
class Cutout:
    """A hole right through. x, y : where the figure's own left end and front edge stand.

    use : what it is for, in the shop's words; around : the figure is only the rectangle around
    the real one; opens : it runs out through a side on purpose, as for an apron sink
    """

    figure: Outline
    x: float = 0.0
    y: float = 0.0
    use: str = ""
    around: bool = False
    opens: bool = False

    def __post_init__(self) -> None:
        finite("cutouts", x=self.x, y=self.y)

    @property
    def path(self) -> Path:
        return self.figure.path.moved(self.x, self.y)


@dataclass(frozen=True)
class Inlay:
    """A note with its place: what is set into the face there (a trivet, a plate). It counts for
    nothing in weights. Length and width of the place, 0 for a point."""

    words: str
    x: float
    y: float
    length: float = 0.0
    width: float = 0.0

    def __post_init__(self) -> None:
        finite("inlays", x=self.x, y=self.y, length=self.length, width=self.width)
        if min(self.length, self.width) < 0:
            raise ShapeFault("not-above-zero", "An inlay's size cannot be below nought.",
                             part="inlays")  # fmt: skip


AnyRib = Rib | SpacedRibs | PlacedRib


@dataclass(frozen=True)
class Shape:
    outline: Outline
    edges: tuple[BuiltEdge, ...] = ()
    ribs: tuple[AnyRib, ...] = ()
    cutouts: tuple[Cutout, ...] = ()
    inlays: tuple[Inlay, ...] = ()
    strongbacks: tuple[Strongback, ...] = ()

    def __post_init__(self) -> None:
        lists = (self.edges, self.ribs, self.cutouts, self.inlays, self.strongbacks)
        rows = sum(len(rows) for rows in lists)
        if rows > MOST_ROWS:
            raise ShapeFault(
                "too-many-parts",
                "{count} edges, ribs, cutouts and notes are too many for one piece; {most} are "
                "the most.",
                facts={"count": f"{rows:,}", "most": f"{MOST_ROWS}"},
            )

    @property
    def rectangular(self) -> bool:
        return isinstance(self.outline, Rectangle)

    def straight_ribs(self) -> tuple[tuple[int, Rib], ...]:
        """The ribs from side to side, spaced ones worked out, each with its row."""
        left, front, right, back = self.outline.path.box
        found: list[tuple[int, Rib]] = []
        for row, rib in enumerate(self.ribs):
            if isinstance(rib, SpacedRibs):
                low, high = (front, back) if rib.along == "length" else (left, right)
                found += [(row, one) for one in rib.ribs(low, high)]
            elif isinstance(rib, Rib):
                found.append((row, rib))
        return tuple(found)

    def plain(self) -> Shape:
        """Outline and cutouts alone."""
        return replace(self, edges=(), ribs=(), inlays=(), strongbacks=())


def _known_way(along: str) -> None:
    if along not in ("length", "width"):
        raise ShapeFault("rib-way", "A rib runs along the length or the width.", part="ribs")
