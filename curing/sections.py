"""Elastic properties of a cross section made of rectangles.

Across is measured from the front edge (or the left end), depth from the show face down. Lengths
are metres, areas m², second moments m⁴.

References
----------
Gere and Timoshenko, Mechanics of Materials: composite areas, parallel axes, transformed section.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def above_zero(**values: float) -> None:
    """Refuse with ValueError, by its name, a value that is not finite and above 0."""
    for name, value in values.items():
        if not (math.isfinite(value) and value > 0):
            raise ValueError(f"{name} must be a finite number above 0, got {value}")


@dataclass(frozen=True)
class Rect:
    """A rectangle of a cut: across from u0 to u1, deep from v0 to v1 [m].

    ratio : modulus over the concrete's [-]; density [kg/m³]; cast : concrete, not a strongback

    Raises
    ------
    ValueError
        u1 not above u0, v1 not above v0, a ratio or density that is not above 0.
    """

    u0: float
    u1: float
    v0: float
    v1: float
    ratio: float = 1.0
    density: float = 2080.0
    cast: bool = True

    def __post_init__(self) -> None:
        above_zero(
            across=self.u1 - self.u0,
            deep=self.v1 - self.v0,
            ratio=self.ratio,
            density=self.density,
        )

    @property
    def area(self) -> float:
        """Area as drawn, not transformed [m²]."""
        return (self.u1 - self.u0) * (self.v1 - self.v0)


@dataclass(frozen=True)
class Section:
    """Elastic properties of rectangles that do not overlap, transformed to the concrete's modulus.

    Second moments are about axes through the centroid. The section moduli are those of the
    concrete's outermost fibres, which are not a bonded strongback's.

    Reference: Gere and Timoshenko, Mechanics of Materials, transformed-section method.
    """

    rects: tuple[Rect, ...]

    def __post_init__(self) -> None:
        if not self.rects:
            raise ValueError("a section needs a rectangle or more")

    @cached_property
    def area(self) -> float:
        """Transformed area [m²]."""
        return sum(r.ratio * r.area for r in self.rects)

    @cached_property
    def centroid(self) -> tuple[float, float]:
        """(across, depth) of the transformed section's centroid [m]."""
        u = sum(r.ratio * r.area * (r.u0 + r.u1) / 2 for r in self.rects)
        v = sum(r.ratio * r.area * (r.v0 + r.v1) / 2 for r in self.rects)
        return u / self.area, v / self.area

    @cached_property
    def tensor(self) -> Array:
        """(2, 2) second moments [m⁴]: flat and product in row 0, product and on edge in row 1."""
        uc, vc = self.centroid
        flat = edge = product = 0.0
        for r in self.rects:
            area, wide, deep = r.ratio * r.area, r.u1 - r.u0, r.v1 - r.v0
            du, dv = (r.u0 + r.u1) / 2 - uc, (r.v0 + r.v1) / 2 - vc
            flat += area * (deep**2 / 12 + dv**2)
            edge += area * (wide**2 / 12 + du**2)
            product += area * du * dv
        return np.array([[flat, product], [product, edge]])

    @property
    def flat(self) -> float:
        """Second moment for bending out of the slab's plane [m⁴]."""
        return float(self.tensor[0, 0])

    @property
    def on_edge(self) -> float:
        """Second moment for bending in the slab's plane [m⁴]."""
        return float(self.tensor[1, 1])

    @property
    def product(self) -> float:
        """Product of inertia [m⁴]; 0 when one axis is an axis of symmetry."""
        return float(self.tensor[0, 1])

    @cached_property
    def corners(self) -> Array:
        """(n, 2) across and depth of every corner of the concrete [m]; n is 0 without concrete."""
        found = [(u, v) for r in self.rects if r.cast for u in (r.u0, r.u1) for v in (r.v0, r.v1)]
        return np.array(found, dtype=float).reshape(-1, 2)

    @property
    def top(self) -> float:
        """Section modulus at the show face [m³], bent flat."""
        return self.flat / (self.centroid[1] - self._outermost(1)[0])

    @property
    def bottom(self) -> float:
        """Section modulus at the deepest concrete of the underside [m³], bent flat."""
        return self.flat / (self._outermost(1)[1] - self.centroid[1])

    @property
    def front(self) -> float:
        """Section modulus at the fibre nearest the origin across [m³], bent on edge."""
        return self.on_edge / (self.centroid[0] - self._outermost(0)[0])

    @property
    def back(self) -> float:
        """Section modulus at the fibre farthest across [m³], bent on edge."""
        return self.on_edge / (self._outermost(0)[1] - self.centroid[0])

    @cached_property
    def mass(self) -> float:
        """Mass of a length [kg/m]."""
        return sum(r.density * r.area for r in self.rects)

    def extent(self, axis: Literal[0, 1]) -> float:
        """How far the concrete reaches [m]: 0 across, 1 in depth."""
        low, high = self._outermost(axis)
        return high - low

    def _outermost(self, axis: Literal[0, 1]) -> tuple[float, float]:
        if not len(self.corners):
            raise ValueError("this section has no concrete")
        return float(self.corners[:, axis].min()), float(self.corners[:, axis].max())
