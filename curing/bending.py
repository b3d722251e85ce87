"""Where a piece on two supports is stretched most, by its weight and what adds to it.

The piece is a beam in small elastic bending, its cuts plane, free to bend skew where they are
not symmetric. Beside a cutout the rails are beams between the solid ends, which stay plane:
they share what bends the piece, and each also bends between its own ends (as a Vierendeel
panel). Nominal stresses: the notch at an inside corner, twist, lifting jerks and shrinkage are
not in them, which is what the shop's own factor is for. Metres, newtons, N/m; stresses MPa.

References
----------
Gere and Timoshenko, Mechanics of Materials: overhanging beams; unsymmetric bending.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import groupby, pairwise
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from curing.panel import Along, Panel, Segment, cut_along
from curing.sections import Array, Section

Down = Literal["face", "underside", "front", "back"]

GRAVITY = 9.80665  # m/s²
MPA = 1e6  # Pa

# Which way is down, in (depth, across).
_DIRECTIONS: dict[Down, tuple[float, float]] = {
    "face": (-1.0, 0.0),
    "underside": (1.0, 0.0),
    "front": (0.0, -1.0),
    "back": (0.0, 1.0),
}


@dataclass(frozen=True)
class Carry:
    """A way of holding a piece.

    name : what the shop calls it
    down : what looks down: the show face (as cast), the underside (turned), or an edge
    share : the supports' distance from each end over the span [-], 0 (at the ends) to under 0.5
    along : the span lies along the length, or across the width (tilting over a long edge);
        "front" and "back" are then the left and right ends

    Raises
    ------
    ValueError
        A share outside 0 to 0.5.
    """

    name: str
    down: Down
    share: float = 0.0
    along: Along = "length"

    def __post_init__(self) -> None:
        if not 0 <= self.share < 0.5:
            raise ValueError(f"share must be from 0 to under 0.5 of the span, got {self.share}")


@dataclass(frozen=True)
class Load:
    """What the piece must bear: `factor` times its weight, and `bond` on its show face [Pa].

    basis : where the figures come from

    Raises
    ------
    ValueError
        A factor that is not above 0, or a bond below 0.
    """

    basis: str
    factor: float = 1.0
    bond: float = 0.0

    def __post_init__(self) -> None:
        if not (math.isfinite(self.factor) and self.factor > 0):
            raise ValueError(f"factor must be above 0, got {self.factor}")
        if not (math.isfinite(self.bond) and self.bond >= 0):
            raise ValueError(f"bond must not be below 0 Pa, got {self.bond}")

    def total(self, panel: Panel) -> float:
        """The whole force [N]."""
        return self.factor * panel.mass * GRAVITY + self.bond * panel.face_area

    def on(self, section: Section) -> float:
        """Force on a length of this part of a cut [N/m]."""
        wide = sum(r.u1 - r.u0 for r in section.rects if r.cast)
        return self.factor * section.mass * GRAVITY + self.bond * wide


@dataclass(frozen=True)
class Beam:
    """A straight beam on two supports, under loads that are uniform between stations.

    stations : (n + 1,) from one end to the other, rising [m]
    loads : (n,) downward between neighbours [N/m]
    supports : two places within the stations [m]

    Raises
    ------
    ValueError
        Lengths that do not fit, values that are not finite, stations that do not rise, supports
        not in order on the beam.
    """

    stations: tuple[float, ...]
    loads: tuple[float, ...]
    supports: tuple[float, float]

    def __post_init__(self) -> None:
        if len(self.stations) != len(self.loads) + 1 or not self.loads:
            raise ValueError("a beam needs one load between each two stations")
        if not np.isfinite([*self.stations, *self.loads, *self.supports]).all():
            raise ValueError("stations, loads and supports must be finite numbers")
        if any(b <= a for a, b in pairwise(self.stations)):
            raise ValueError("stations must rise")
        left, right = self.supports
        if not self.stations[0] <= left < right <= self.stations[-1]:
            raise ValueError("the supports must lie on the beam, one after the other")

    @cached_property
    def reactions(self) -> tuple[float, float]:
        """Upward force at each support [N]; below 0 when it would have to hold down."""
        ends, loads = np.array(self.stations), np.array(self.loads)
        forces = loads * np.diff(ends)
        left, right = self.supports
        about_left = float((forces * ((ends[1:] + ends[:-1]) / 2 - left)).sum())
        second = about_left / (right - left)
        return float(forces.sum()) - second, second

    def moment(self, at: ArrayLike) -> Array:
        """Bending moment [N m] at places [m] of any shape, sagging above 0.

        Example: 8 m on its ends under 1 N/m has w L² / 8 = 8 N m in the middle.
        """
        x = np.asarray(at, dtype=float)
        total = np.zeros_like(x)
        for (start, end), load in zip(pairwise(self.stations), self.loads, strict=True):
            total -= load / 2 * (np.maximum(x - start, 0) ** 2 - np.maximum(x - end, 0) ** 2)
        for place, force in zip(self.supports, self.reactions, strict=True):
            total += force * np.maximum(x - place, 0)
        return total


@dataclass(frozen=True)
class Peak:
    """The greatest tension in the concrete.

    stress : [MPa], 0 or above
    at : from the span's start [m]
    across, depth : of the fibre in the cut [m]
    part : which part of the cut, from 0 at the front (or left), and `parts` how many it has
    thickness : of that part in the direction it bends [m]
    """

    stress: float
    at: float
    across: float
    depth: float
    part: int
    parts: int
    thickness: float


def carried_beam(panel: Panel, carry: Carry, load: Load) -> Beam:
    """The statics of a piece held that way: its loads by the length, on two supports.

    Reference: Gere and Timoshenko, Mechanics of Materials, overhanging beams.
    """
    segments = cut_along(panel, carry.along)
    span = segments[-1].end
    loads = tuple(
        sum(load.on(s) for s in (*segment.parts, *segment.bars))
        + load.factor * segment.extra_mass * GRAVITY
        for segment in segments
    )
    stations = (*(s.start for s in segments), span)
    return Beam(stations, loads, (carry.share * span, (1 - carry.share) * span))


@lru_cache(maxsize=4096)
def peak_tension(panel: Panel, carry: Carry, load: Load) -> Peak:
    """The greatest tensile stress anywhere in a piece held that way.

    Parameters
    ----------
    panel, carry, load : the piece, how it is held and what it bears

    Returns
    -------
    Peak : the stress [MPa] with its place

    Errors
    ------
    Exact for a beam whose cut stays the same beside each cutout. Holes that overlap along the
    span are taken as one opening from the first to the last; a small hole in a rail counts its
    two strips as rails, which overstates them.

    Example: 8 ft × 25½ in × ¾ in at 130 lb/ft³, flat by its ends, bears 4.8 MPa (690 psi).

    Reference: Gere and Timoshenko, Mechanics of Materials, unsymmetric bending, sigma =
    M (Iz y - Iyz z) / (Iy Iz - Iyz²); rails by the compatibility of their ends.
    """
    beam = carried_beam(panel, carry, load)
    case = _Case(beam, load, np.array(_DIRECTIONS[carry.down]))
    peaks: list[Peak] = []
    segments = cut_along(panel, carry.along)
    for opened, run in groupby(segments, key=lambda s: len(s.parts) > 1):
        stretch = list(run)
        opening = _Opening(stretch, beam) if opened else None
        for segment in stretch:
            peaks += _segment_peaks(case, segment, opening)
    return max(peaks, key=lambda peak: peak.stress)


@dataclass(frozen=True, eq=False)
class _Case:
    beam: Beam
    load: Load
    down: Array


class _Opening:
    """What the rails beside a cutout have in common: its ends and the moment they must pass on."""

    def __init__(self, segments: Sequence[Segment], beam: Beam) -> None:
        start, end = segments[0].start, segments[-1].end
        self.middle, self.length = (start + end) / 2, end - start
        inner = [s.end for s in segments[:-1]] + [x for x in beam.supports if start < x < end]
        marks = [start, *sorted(set(inner)), end]
        # Simpson's rule is exact between marks, where the moment is a parabola.
        self.mean = (
            sum(
                (b - a) / 6 * float(beam.moment([a, b]).sum() + 4 * beam.moment((a + b) / 2))
                for a, b in pairwise(marks)
            )
            / self.length
        )

    def unit_moment(self, at: Array) -> Array:
        """Moment in a beam clamped at both ends of the opening, under 1 N/m [m²]."""
        return self.length**2 / 24 - (at - self.middle) ** 2 / 2


def _segment_peaks(case: _Case, segment: Segment, opening: _Opening | None) -> list[Peak]:
    supports = [x for x in case.beam.supports if segment.start < x < segment.end]
    peaks = []
    for start, end in pairwise([segment.start, *supports, segment.end]):
        at = np.array([start, (start + end) / 2, end])
        for number, part in enumerate(segment.parts):
            stresses = _stresses(case, segment, part, at, opening)
            peaks.append(_peak(segment, number, stresses, at, case.down))
    return peaks


def _stresses(
    case: _Case, segment: Segment, part: Section, at: Array, opening: _Opening | None
) -> Array:
    """Stress [Pa] at the part's corners (rows) and at places along (columns)."""
    moments, load, down = case.beam.moment(at), case.load, case.down
    side_by_side = segment.side_by_side
    own = _from(part.centroid, part.corners)
    if opening is None:
        return np.outer(own @ np.linalg.solve(side_by_side, down), moments)
    # The solid ends stay plane: the mean moment bends all rails as one section, with a push in
    # one and a pull in the other that stay the same from end to end.
    whole = segment.whole
    as_one = whole.tensor + sum((bar.tensor for bar in segment.bars), np.zeros((2, 2)))
    mean = _from(whole.centroid, part.corners) @ np.linalg.solve(as_one, down) * opening.mean
    # Each rail hangs between its ends under its own load; what is left, shear, goes by stiffness.
    hanging = opening.unit_moment(at)
    left = moments - opening.mean - sum(load.on(p) for p in segment.parts) * hanging
    shear = np.outer(own @ np.linalg.solve(side_by_side, down), left)
    alone = np.outer(own @ np.linalg.solve(part.tensor, down), load.on(part) * hanging)
    return np.asarray(mean[:, None] + shear + alone)


def _from(centroid: tuple[float, float], corners: Array) -> Array:
    """(n, 2) depth and across from a centroid."""
    return np.asarray((corners - np.array(centroid))[:, ::-1])


def _peak(segment: Segment, number: int, stresses: Array, at: Array, down: Array) -> Peak:
    """The greatest of parabolas that are known at both ends and in the middle."""
    first, middle, last = stresses.T
    bend = 2 * (first - 2 * middle + last)
    slope = 4 * middle - 3 * first - last
    with np.errstate(divide="ignore", invalid="ignore"):
        turn = np.where(bend < 0, -slope / (2 * bend), 0.0)
    places = np.stack([np.zeros_like(turn), np.clip(turn, 0, 1), np.ones_like(turn)], axis=1)
    values = first[:, None] + slope[:, None] * places + bend[:, None] * places**2
    corner, which = np.unravel_index(int(values.argmax()), values.shape)
    part = segment.parts[number]
    across, depth = part.corners[corner]
    return Peak(
        stress=max(float(values[corner, which]) / MPA, 0.0),
        at=float(at[0] + places[corner, which] * (at[-1] - at[0])),
        across=float(across),
        depth=float(depth),
        part=number,
        parts=len(segment.parts),
        thickness=part.extent(1 if down[0] else 0),
    )
