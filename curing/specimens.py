"""What a test specimen says of the concrete, by laws that carry their name.

A mix's curve speaks of compression as a 2 in cube of ASTM C109 shows it. No factor here has been
measured on glass-fibre-reinforced concrete: each law says where it comes from, and the default
changes no figure. Strengths are MPa.

References
----------
ASTM C109 (2 in cubes), ASTM C39 (cylinders), ASTM C947 (flexural coupons).
EN 1992-1-1:2004, table 3.1. ACI 318-19, 19.2.3.1.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from curing.strength import PSI

# fck,cyl and fck,cube of the strength classes, EN 1992-1-1:2004, table 3.1 [MPa].
CYLINDER = (12.0, 16.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 55.0, 60.0, 70.0, 80.0, 90.0)
CUBE = (15.0, 20.0, 25.0, 30.0, 37.0, 45.0, 50.0, 55.0, 60.0, 67.0, 75.0, 85.0, 95.0, 105.0)


class Kind(StrEnum):
    """What was broken: a 2 in cube (ASTM C109), a cylinder (C39), a flexural coupon (C947)."""

    CUBE = "cube"
    CYLINDER = "cylinder"
    COUPON = "coupon"


@dataclass(frozen=True)
class Law:
    """From the strength of one kind of specimen to that of a 2 in cube, both MPa.

    key, name : for options and for the reader; basis : where it comes from and what it is worth
    """

    key: str
    name: str
    basis: str
    convert: Callable[[float], float | None]


def as_measured(mpa: float) -> float:
    """The figure itself [MPa]. ValueError unless it is finite and above 0."""
    if not (math.isfinite(mpa) and mpa > 0):
        raise ValueError(f"a strength must be finite and above 0 MPa, got {mpa}")
    return mpa


def en1992_cube_from_cylinder(mpa: float) -> float:
    """Cube strength [MPa] from cylinder strength [MPa], straight between strength classes.

    Below 12 MPa the ratio of the lowest class, 1.25, is kept: an extrapolation, common practice.

    Raises
    ------
    ValueError
        Not above 0, or above 90 MPa, where the table ends.

    Reference: EN 1992-1-1:2004, table 3.1 (150 mm cubes and cylinders; its use for 2 in cubes of a
    fine mix is common practice without a source).

    >>> en1992_cube_from_cylinder(30.0)
    37.0
    """
    if not 0 < mpa <= CYLINDER[-1]:
        raise ValueError(f"EN 1992-1-1 table 3.1 holds for cylinders up to 90 MPa, got {mpa:g} MPa")
    if mpa < CYLINDER[0]:
        return mpa * CUBE[0] / CYLINDER[0]
    return float(np.interp(mpa, CYLINDER, CUBE))


def aci318_compression_from_flexure(mpa: float) -> float:
    """Compressive strength [MPa] from a modulus of rupture [MPa]: fc' = (fr / 7.5)^2 in psi.

    It was made for plain concrete: fibres and polymer lift a coupon's strength beyond it, so it
    reads such a coupon far too high. Only for coupons of the face mix, at their limit of
    proportionality.

    Raises
    ------
    ValueError
        Not above 0, or a result above 10,000 psi, beyond which ACI 318 limits the square root.

    Reference: ACI 318-19, 19.2.3.1, turned round; 19.2.3 and 22.5.3.1 for the limit, from memory.
    """
    if not (math.isfinite(mpa) and mpa > 0):
        raise ValueError(f"a flexural strength must be above 0, got {mpa}")
    psi = (mpa / PSI / 7.5) ** 2
    if psi > 10000:
        raise ValueError(
            f"ACI 318 turned round holds up to 750 psi (5.17 MPa) of flexure, got {mpa:g} MPa"
        )
    return float(psi * PSI)


def left_out(mpa: float) -> None:
    """No compressive strength follows from this specimen."""


CUBE_AS_MEASURED = Law(
    "measured", "cube, as measured", "ASTM C109: the curve speaks of 2 in cubes", as_measured
)
CYLINDER_AS_MEASURED = Law(
    "measured",
    "cylinder, as measured",
    "no factor; a cylinder of the same concrete breaks lower than a cube, so this errs on the "
    "cautious side [cp]",
    as_measured,
)
CYLINDER_EN1992 = Law(
    "en1992",
    "cylinder to cube by EN 1992-1-1 table 3.1",
    "strength classes, 150 mm cubes; for 2 in cubes and below 12 MPa common practice [cp]",
    en1992_cube_from_cylinder,
)
COUPON_LEFT_OUT = Law(
    "none",
    "coupon, shown and not fitted",
    "ASTM C947 measures bending; no published law turns it into compression for GFRC",
    left_out,
)
COUPON_ACI318 = Law(
    "aci318",
    "coupon by ACI 318 turned round, fc' = (fr / 7.5)^2",
    "made for plain concrete; reads a coupon with fibre too high [cp for anything but a face mix]",
    aci318_compression_from_flexure,
)

LAWS: dict[Kind, tuple[Law, ...]] = {
    Kind.CUBE: (CUBE_AS_MEASURED,),
    Kind.CYLINDER: (CYLINDER_AS_MEASURED, CYLINDER_EN1992),
    Kind.COUPON: (COUPON_LEFT_OUT, COUPON_ACI318),
}
# The first law of each kind: it changes no figure.
USUAL: dict[Kind, Law] = {kind: laws[0] for kind, laws in LAWS.items()}


def law_for(kind: Kind, key: str) -> Law:
    """The law of a kind of specimen by its key. ValueError, naming those there are."""
    for law in LAWS[kind]:
        if law.key == key:
            return law
    known = ", ".join(law.key for law in LAWS[kind])
    raise ValueError(f"no law {key!r} for a {kind}; there are: {known}")
