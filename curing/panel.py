"""A thin casting and its cuts, along its length or across its width.

A piece lies face down in its form: the show face is at depth 0 and everything else is built
down from it. `length` runs from the left end, `width` from the front edge, depth from the show
face to the underside. Lengths are metres, masses kg.

A cut goes straight through the piece. Across a sink it leaves two **parts**, the rails before
and behind; a clamped strongback is a section of its own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import pairwise
from typing import Literal

import numpy as np

from curing.sections import Array, Rect, Section, above_zero

Along = Literal["length", "width"]
Side = Literal["front", "back", "left", "right"]

TOUCH = 1e-9  # m, surfaces nearer than this meet


@dataclass(frozen=True)
class Edge:
    """A rim built down along one side: `width` in plan, `depth` from show face to its foot [m]."""

    side: Side
    width: float
    depth: float

    def __post_init__(self) -> None:
        above_zero(width=self.width, depth=self.depth)


@dataclass(frozen=True)
class Rib:
    """A stiffener under the face, from side to side; cutouts interrupt it.

    at : its centreline, from the front edge, or from the left end when it runs `along` the width
    [m]; width [m]; depth : below the face's underside [m]
    """

    at: float
    width: float
    depth: float
    along: Along = "length"

    def __post_init__(self) -> None:
        above_zero(width=self.width, depth=self.depth)
        _numbers(at=self.at)


@dataclass(frozen=True)
class Cutout:
    """A rectangular hole right through, or the rectangle around one of another shape [m].

    x : from the left end to its near side; y : from the front edge to its near side. One that
    reaches past a side opens that side.
    """

    x: float
    y: float
    length: float
    width: float

    def __post_init__(self) -> None:
        above_zero(length=self.length, width=self.width)
        _numbers(x=self.x, y=self.y)


@dataclass(frozen=True)
class Strongback:
    """A bar fixed to the underside along the length, to carry a cutout's rails while handling.

    x, y : its near corner, from the left end and the front edge [m]
    length, width, depth : [m]
    modulus : Young's modulus [MPa]: softwood about 9 000, aluminium 69 000, steel 200 000
    density : [kg/m³]
    bonded : glued over its whole length, so that it and the concrete bend as one section.
        Otherwise (clamped) it slips: it bends as much as the concrete does, about its own axis.

    It must reach well past the cutout into the solid piece. It helps bending along its length
    only; across the width it counts as weight.
    """

    x: float
    y: float
    length: float
    width: float
    depth: float
    modulus: float
    density: float
    bonded: bool = False

    def __post_init__(self) -> None:
        above_zero(
            length=self.length,
            width=self.width,
            depth=self.depth,
            modulus=self.modulus,
            density=self.density,
        )


@dataclass(frozen=True)
class Segment:
    """A stretch of the piece from `start` to `end` [m] over which every cut is the same.

    parts : the connected pieces of the cut, from the origin across; two or more at a cutout
    bars : clamped strongbacks, each a section of its own
    extra_mass : what hangs there without helping [kg/m]
    """

    start: float
    end: float
    parts: tuple[Section, ...]
    bars: tuple[Section, ...] = ()
    extra_mass: float = 0.0

    @cached_property
    def whole(self) -> Section:
        """The parts as one section, plane across the cutouts as the solid ends hold them."""
        return Section(tuple(r for part in self.parts for r in part.rects))

    @cached_property
    def side_by_side(self) -> Array:
        """(2, 2) second moments of parts and bars that bend alike, each about its own centroid."""
        return sum((s.tensor for s in (*self.parts, *self.bars)), np.zeros((2, 2)))

    @cached_property
    def mass(self) -> float:
        """Mass of a length [kg/m]."""
        return sum(s.mass for s in (*self.parts, *self.bars)) + self.extra_mass


@dataclass(frozen=True)
class Panel:
    """A thin casting: a flat face with edges, ribs, cutouts and strongbacks.

    length, width : in plan [m]; face : the slab's thickness, face coat and backer together [m]
    density : [kg/m³], 2080 (130 lb/ft³) until the shop has weighed its own, 1000 to 3000
    modulus : the concrete's Young's modulus at handling [MPa]; only its ratio to a strongback's
        is used. 20 000 is from memory the upper end for GFRC in PCI MNL-128, where the bar helps
        least.

    Raises
    ------
    ValueError
        A size that is not above 0, a density out of range, an edge or rib that does not fit, a
        cutout that misses the piece or cuts it in two.
    """

    length: float
    width: float
    face: float
    edges: tuple[Edge, ...] = ()
    ribs: tuple[Rib, ...] = ()
    cutouts: tuple[Cutout, ...] = ()
    strongbacks: tuple[Strongback, ...] = ()
    density: float = 2080.0
    modulus: float = 20_000.0

    def __post_init__(self) -> None:
        above_zero(length=self.length, width=self.width, face=self.face, modulus=self.modulus)
        if not 1000 <= self.density <= 3000:
            raise ValueError(f"density must be from 1000 to 3000 kg/m³, got {self.density}")
        _check_fit(self)

    @cached_property
    def mass(self) -> float:
        """Mass of the whole piece with its strongbacks [kg]."""
        return sum((s.end - s.start) * s.mass for s in cut_along(self, "length"))

    @cached_property
    def face_area(self) -> float:
        """Area of the show face without the cutouts [m²]."""
        return sum(
            (s.end - s.start) * (r.u1 - r.u0)
            for s in cut_along(self, "length")
            for r in s.whole.rects
            if r.cast
        )

    @property
    def mass_per_area(self) -> float:
        """Mass over the area of the show face [kg/m²]; times 0.2048 for lb/ft²."""
        return self.mass / self.face_area


@dataclass(frozen=True)
class _Block:
    """Concrete in plan, from the show face down to `depth`, in the axes of the cut."""

    s0: float
    s1: float
    u0: float
    u1: float
    depth: float


@lru_cache(maxsize=1024)
def cut_along(panel: Panel, along: Along = "length") -> tuple[Segment, ...]:
    """Cut a piece square to `along`, wherever its section changes.

    Parameters
    ----------
    panel : the piece
    along : the direction of the span; "length" for rails before and behind a sink

    Returns
    -------
    tuple of Segment, end to end from 0 to the piece's length (or width)

    Raises
    ------
    ValueError
        A cutout leaves nothing somewhere.
    """
    span, across = _spans(panel, along)
    blocks, holes = _blocks(panel, along), _holes(panel, along)
    ends = [(b.s0, b.s1) for b in (*blocks, *holes)]
    for bar in panel.strongbacks:
        near, reach = (bar.x, bar.length) if along == "length" else (bar.y, bar.width)
        ends.append((near, near + reach))
    finish = _finish_lengthwise if along == "length" else _finish_crosswise
    return tuple(
        finish(panel, start, end, _strips(panel, (start + end) / 2, blocks, holes, across))
        for start, end in pairwise(_marks(ends, span))
    )


def weakest_cut(panel: Panel, along: Along = "length") -> Segment:
    """The stretch whose parts together have the least section modulus, bent flat.

    Parameters, errors: as `cut_along`. The parts bend side by side, each about its own centroid.
    """

    def modulus(segment: Segment) -> float:
        shared = sum(part.flat for part in segment.parts)
        return min(shared / part.flat * min(part.top, part.bottom) for part in segment.parts)

    return min(cut_along(panel, along), key=modulus)


def _numbers(**places: float) -> None:
    for name, place in places.items():
        if not math.isfinite(place):
            raise ValueError(f"{name} must be a finite number of metres, got {place}")


def _check_fit(panel: Panel) -> None:
    for edge in panel.edges:
        reach = panel.width if edge.side in ("front", "back") else panel.length
        if edge.width > reach:
            raise ValueError(f"the {edge.side} edge is wider than the piece's {reach:g} m")
        if edge.depth < panel.face:
            raise ValueError(f"the {edge.side} edge must reach below the face's {panel.face:g} m")
    for rib in panel.ribs:
        reach = panel.width if rib.along == "length" else panel.length
        if rib.at - rib.width / 2 < -TOUCH or rib.at + rib.width / 2 > reach + TOUCH:
            raise ValueError(f"a rib at {rib.at:g} m lies outside the piece")
    for hole in panel.cutouts:
        beyond_x = hole.x >= panel.length or hole.x + hole.length <= 0
        if beyond_x or hole.y >= panel.width or hole.y + hole.width <= 0:
            raise ValueError("a cutout lies outside the piece")
    for bar in panel.strongbacks:
        inside = bar.x >= 0 and bar.x + bar.length <= panel.length + TOUCH
        if not (inside and bar.y >= 0 and bar.y + bar.width <= panel.width + TOUCH):
            raise ValueError("a strongback must lie within the piece's length and width")
    cut_along(panel, "length")
    cut_along(panel, "width")


def _spans(panel: Panel, along: Along) -> tuple[float, float]:
    sizes = (panel.length, panel.width)
    return sizes if along == "length" else sizes[::-1]


def _blocks(panel: Panel, along: Along) -> list[_Block]:
    long, wide = panel.length, panel.width
    plan = [(0.0, long, 0.0, wide, panel.face)]
    for edge in panel.edges:
        w, d = edge.width, edge.depth
        plan.append(
            {
                "front": (0.0, long, 0.0, w, d),
                "back": (0.0, long, wide - w, wide, d),
                "left": (0.0, w, 0.0, wide, d),
                "right": (long - w, long, 0.0, wide, d),
            }[edge.side]
        )
    for rib in panel.ribs:
        low, high, depth = rib.at - rib.width / 2, rib.at + rib.width / 2, panel.face + rib.depth
        lengthwise = rib.along == "length"
        plan.append((0, long, low, high, depth) if lengthwise else (low, high, 0, wide, depth))
    return [_Block(*(box if along == "length" else (*box[2:4], *box[:2], box[4]))) for box in plan]


def _holes(panel: Panel, along: Along) -> list[_Block]:
    return [
        _Block(x0, x1, y0, y1, math.inf) if along == "length" else _Block(y0, y1, x0, x1, math.inf)
        for x0, x1, y0, y1 in ((h.x, h.x + h.length, h.y, h.y + h.width) for h in panel.cutouts)
    ]


def _marks(ends: list[tuple[float, float]], span: float) -> list[float]:
    """Where something starts or ends, within the span, each once."""
    marks = [0.0]
    for mark in sorted(value for pair in ends for value in pair if 0 < value < span):
        if mark - marks[-1] > TOUCH:
            marks.append(mark)
    if len(marks) > 1 and span - marks[-1] <= TOUCH:
        marks.pop()
    return [*marks, span]


def _covers(block: _Block, s: float, u: float) -> bool:
    return block.s0 < s < block.s1 and block.u0 < u < block.u1


def _strips(
    panel: Panel, s: float, blocks: list[_Block], holes: list[_Block], across: float
) -> list[Rect]:
    """The concrete of one cut, in strips that each go from the show face to their own depth."""
    here = [block for block in (*blocks, *holes) if block.s0 < s < block.s1]
    found: list[Rect] = []
    for u0, u1 in pairwise(_marks([(b.u0, b.u1) for b in here], across)):
        middle = (u0 + u1) / 2
        if any(_covers(hole, s, middle) for hole in holes):
            continue
        depth = max(b.depth for b in blocks if _covers(b, s, middle))
        found.append(Rect(u0, u1, 0.0, depth, density=panel.density))
    if not found:
        raise ValueError("the cutouts cut this piece in two")
    return found


def _finish_crosswise(panel: Panel, start: float, end: float, strips: list[Rect]) -> Segment:
    middle = (start + end) / 2
    idle = [b for b in panel.strongbacks if b.y < middle < b.y + b.width]
    extra = sum(b.density * b.length * b.depth for b in idle)
    return Segment(start, end, _connected(strips), extra_mass=extra)


def _finish_lengthwise(panel: Panel, start: float, end: float, strips: list[Rect]) -> Segment:
    middle = (start + end) / 2
    backs = [b for b in panel.strongbacks if b.x < middle < b.x + b.length]
    glued = [_bar(panel, b, strips) for b in backs if b.bonded]
    # Over the hole of a cutout there is nothing to be glued to: there it is a bar by itself.
    held = [bar for bar in glued if any(_rests(bar, strip) for strip in strips)]
    bars = [bar for bar in glued if bar not in held]
    bars += [_bar(panel, b, strips) for b in backs if not b.bonded]
    parts = _connected([*strips, *held])
    return Segment(start, end, parts, tuple(Section((bar,)) for bar in bars))


def _rests(bar: Rect, strip: Rect) -> bool:
    """Whether the bar rests on this strip's foot."""
    return bar.u0 < strip.u1 and strip.u0 < bar.u1 and abs(bar.v0 - strip.v1) < TOUCH


def _bar(panel: Panel, back: Strongback, strips: list[Rect]) -> Rect:
    low, high = back.y, back.y + back.width
    under = [s.v1 for s in strips if s.u0 < high and low < s.u1]
    foot = max(under, default=panel.face)
    ratio = back.modulus / panel.modulus
    return Rect(low, high, foot, foot + back.depth, ratio, back.density, cast=False)


def _connected(rects: list[Rect]) -> tuple[Section, ...]:
    groups: list[list[Rect]] = []
    reach = -math.inf
    for rect in sorted(rects, key=lambda r: r.u0):
        if rect.u0 > reach + TOUCH:
            groups.append([])
        groups[-1].append(rect)
        reach = max(reach, rect.u1)
    return tuple(Section(tuple(group)) for group in groups)
