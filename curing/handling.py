"""What a piece must bear when it is stripped, flipped and carried, and the age that asks for.

Stress comes from `bending`, times the factor that the shop has set: that is the modulus of
rupture asked for. A law turns it into compressive strength, the mix's curve that into an
equivalent age. A result is a limit with its basis, not a permission.

Lengths are metres, masses kg, stresses and strengths MPa, ages hours at the reference
temperature.

References
----------
PCI Design Handbook, handling multipliers (from memory: check your edition). ACI 318-19,
19.2.3.1. EN 1992-1-1:2004, 3.1.2 and 3.1.8.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from curing.bending import Carry, Load, Peak, peak_tension
from curing.panel import Panel
from curing.sections import above_zero
from curing.strength import PSI, Curve, flexural_tensile, mean_tensile

# (modulus of rupture [MPa], thickness in the direction of bending [m]) -> compressive [MPa]
StrengthLaw = Callable[[float, float], float]

# PCI Design Handbook, from memory: on the weight of the piece alone.
PCI_STRIP_SMOOTH = 1.3  # flat in a smooth form with removable sides
PCI_STRIP_REVEALS = 1.4  # with reveals or false joints
PCI_YARD = 1.2
PCI_TRAVEL = 1.5
# Oiled smooth form, from memory; the shop's own lifts come first.
FORM_BOND = 1000.0  # Pa
# 50 lb, from which the shop moves it.
PERSON_KG = 22.68


def strength_aci318(rupture: float, thickness: float = 0.0, *, lightness: float = 1.0) -> float:
    """Compressive strength at which 7.5 lambda sqrt(fc') reaches a modulus of rupture [MPa].

    Parameters
    ----------
    rupture : modulus of rupture asked for [MPa], 0 or above
    thickness : not used, this law knows none [m]
    lightness : lambda [-], 0.75 (all-lightweight) to 1 (normal weight)

    Raises
    ------
    ValueError
        A rupture below 0 or not finite, a lambda outside its range.

    Example: 474 psi (3.27 MPa) asks for 4000 psi (27.6 MPa).

    Reference: ACI 318-19, 19.2.3.1, turned round; lambda by 19.2.4.
    """
    _not_below_zero(rupture=rupture)
    if not 0.75 <= lightness <= 1:
        raise ValueError(f"lightness must be from 0.75 to 1, got {lightness}")
    return (rupture / PSI / (7.5 * lightness)) ** 2 * PSI


def strength_en1992(rupture: float, thickness: float, *, fck: float) -> float:
    """Mean compressive strength fcm(t) at which fctm,fl(t) reaches a modulus of rupture [MPa].

    fctm,fl = max(1.6 - h / 1000, 1) beta^alpha fctm, and fcm(t) = beta fcm; alpha is 1 while
    beta is under 1 (before 28 d) and 2/3 from then on.

    Parameters
    ----------
    rupture : modulus of rupture asked for [MPa], 0 or above
    thickness : of the member in the direction it bends [m], above 0
    fck : the mix's characteristic strength at 28 d [MPa], 12 to 90

    Raises
    ------
    ValueError
        A rupture below 0 or not finite, a thickness that is not above 0, fck outside table 3.1.

    Reference: EN 1992-1-1:2004, 3.1.2 (9) equation 3.4, 3.1.8 equation 3.23, table 3.1.
    """
    _not_below_zero(rupture=rupture)
    ratio = rupture / flexural_tensile(1000 * thickness, mean_tensile(fck))
    beta = ratio if ratio <= 1 else ratio**1.5
    return beta * (fck + 8.0)


@dataclass(frozen=True)
class Rules:
    """The shop's figures for handling; each default is a starting point with its source above.

    strip_multiplier, yard, travel : on the weight [-], 1 to 3
    bond : of the show face to its form [Pa], 0 to 20 000
    share : where supports stand, from each end over the length [-], 0 to under 0.5
    rupture_factor : modulus of rupture over stress [-], 1 to 10; 1.5 is, from memory, PCI's
    person_kg : what one person lifts [kg], 1 to 60

    Raises
    ------
    ValueError
        A figure outside its range.
    """

    strip_multiplier: float = PCI_STRIP_SMOOTH
    bond: float = FORM_BOND
    yard: float = PCI_YARD
    travel: float = PCI_TRAVEL
    share: float = 0.21
    rupture_factor: float = 1.5
    person_kg: float = PERSON_KG

    def __post_init__(self) -> None:
        ranges = {
            "strip_multiplier": (1.0, 3.0),
            "yard": (1.0, 3.0),
            "travel": (1.0, 3.0),
            "bond": (0.0, 20_000.0),
            "rupture_factor": (1.0, 10.0),
            "person_kg": (1.0, 60.0),
        }
        for name, (low, high) in ranges.items():
            if not low <= getattr(self, name) <= high:
                raise ValueError(
                    f"{name} must be from {low:g} to {high:g}, got {getattr(self, name)}"
                )
        if not 0 <= self.share < 0.5:
            raise ValueError(f"share must be from 0 to under 0.5, got {self.share}")


@dataclass(frozen=True)
class Way:
    """One way of handling, judged by the worst of the attitudes it passes through.

    strips : whether it takes the piece out of its form
    """

    name: str
    carries: tuple[Carry, ...]
    load: Load
    strips: bool = False

    def __post_init__(self) -> None:
        if not self.carries:
            raise ValueError(f"{self.name}: a way needs an attitude or more")


@dataclass(frozen=True)
class Need:
    """What one way asks of the concrete.

    peak : the tension under the load, with its place
    rupture : modulus of rupture asked for [MPa]
    strength : compressive strength asked for [MPa]
    age_hours : equivalent age at which the mix has it [h]; inf when it never does
    """

    way: Way
    carry: Carry
    peak: Peak
    rupture: float
    strength: float
    age_hours: float

    def possible(self, age_hours: float) -> bool:
        """Whether the concrete has that strength at an equivalent age [h]."""
        return self.age_hours <= age_hours


@dataclass(frozen=True)
class Lift:
    """How many people a mass asks for.

    people : at the shop's figure for a person; each_kg : then on each [kg]
    team_kg : what a team of so many lifts together by published shares of the sum of what each
        lifts alone, two 2/3 and three 1/2 [kg]; None above three, where no share is given.
        Under the mass, more hands or an aid are called for.
    """

    people: int
    each_kg: float
    team_kg: float | None


def stripping_load(
    panel: Panel, multiplier: float = PCI_STRIP_SMOOTH, bond: float = FORM_BOND
) -> Load:
    """The larger of a multiple of the weight, and the weight with the bond of the show face.

    Parameters
    ----------
    panel : the piece
    multiplier : on its weight [-], above 0
    bond : of the show face to its form [Pa], 0 or above; the forms' sides are taken off before

    Raises
    ------
    ValueError
        As `Load`.

    Reference: PCI Design Handbook, equivalent static load multipliers, from memory; adhesion
    from memory of the same for oiled smooth forms.
    """
    by_factor = Load(f"PCI {multiplier:g} × weight", factor=multiplier)
    by_bond = Load(f"weight + {bond:g} Pa form bond", bond=bond)
    return max(by_factor, by_bond, key=lambda load: load.total(panel))


def stripped_by_tilting(load: Load) -> Way:
    """Out of the form over one long edge: it spans its width, face down."""
    carry = Carry("stripped by tilting", "face", along="width")
    return Way(carry.name, (carry,), load, strips=True)


def stripped_flat_by_its_ends(load: Load) -> Way:
    """Lifted out of the form at both ends, face down."""
    carry = Carry("stripped flat by its ends", "face")
    return Way(carry.name, (carry,), load, strips=True)


def stripped_flat_on_two(load: Load, share: float = 0.21) -> Way:
    """Lifted out of the form at two lines, `share` of the length from each end, face down."""
    carry = Carry("stripped flat at two places", "face", share)
    return Way(carry.name, (carry,), load, strips=True)


def flipped(load: Load) -> Way:
    """Raised over one long edge and laid on its other side: it spans its width, both faces."""
    return _both_faces("flipped", load, Carry("", "face", along="width"))


def flat_by_its_ends(load: Load) -> Way:
    """Carried flat at both ends, the worse of face up and face down."""
    return _both_faces("flat by its ends", load, Carry("", "face"))


def flat_on_two(load: Load, share: float = 0.21) -> Way:
    """Carried flat on two supports, `share` of the length from each end, the worse face."""
    return _both_faces("flat on two supports", load, Carry("", "face", share))


def on_edge(load: Load, name: str = "on edge") -> Way:
    """Carried upright at both ends, the worse of front and back edge down."""
    return Way(name, (Carry("front edge down", "front"), Carry("back edge down", "back")), load)


def usual_ways(panel: Panel, rules: Rules) -> tuple[Way, ...]:
    """Stripping, flipping, carrying and travelling, with the loads that a shop's rules give."""
    strip = stripping_load(panel, rules.strip_multiplier, rules.bond)
    yard = Load(f"PCI {rules.yard:g} × weight", factor=rules.yard)
    travel = Load(f"PCI {rules.travel:g} × weight", factor=rules.travel)
    return (
        stripped_by_tilting(strip),
        stripped_flat_on_two(strip, rules.share),
        stripped_flat_by_its_ends(strip),
        flipped(yard),
        on_edge(yard),
        flat_on_two(yard, rules.share),
        flat_by_its_ends(yard),
        on_edge(travel, "travels on edge"),
    )


def need(
    panel: Panel,
    way: Way,
    curve: Curve,
    *,
    rupture_factor: float,
    strength_for: StrengthLaw = strength_aci318,
) -> Need:
    """What one way of handling asks of the concrete, and the age at which the mix has it.

    Parameters
    ----------
    panel, way : the piece and how it is handled
    curve : the mix's compressive strength against equivalent age
    rupture_factor : modulus of rupture over stress [-], 1 or above, set by the shop
    strength_for : law from modulus of rupture [MPa] and thickness [m] to strength [MPa]:
        `strength_aci318`, or `strength_en1992` with the mix's fck

    Returns
    -------
    Need : of the attitude that asks for most strength; its age is inf when the curve never
        gets there

    Raises
    ------
    ValueError
        A factor under 1, or a law outside its range.

    Reference: ACI 318-19, 19.2.3.1, or EN 1992-1-1:2004, 3.1.8, by the law given.
    """
    if not (math.isfinite(rupture_factor) and rupture_factor >= 1):
        raise ValueError(f"rupture_factor must be 1 or above, got {rupture_factor}")

    def asked(carry: Carry) -> Need:
        peak = peak_tension(panel, carry, way.load)
        rupture = rupture_factor * peak.stress
        strength = strength_for(rupture, peak.thickness)
        return Need(way, carry, peak, rupture, strength, curve.age_at(strength))

    return max((asked(carry) for carry in way.carries), key=lambda found: found.strength)


def needs(
    panel: Panel,
    curve: Curve,
    rules: Rules,
    *,
    ways: Iterable[Way] | None = None,
    strength_for: StrengthLaw = strength_aci318,
) -> tuple[Need, ...]:
    """`need` for every way, `usual_ways` unless others are given, in their order.

    Parameters, errors: as `need`; `rules` also gives the factor on the stress.
    """
    return tuple(
        need(panel, way, curve, rupture_factor=rules.rupture_factor, strength_for=strength_for)
        for way in (usual_ways(panel, rules) if ways is None else ways)
    )


def demold_age(found: Sequence[Need], floor_hours: float) -> float:
    """Equivalent age [h] at which some way of stripping is possible, not before the floor.

    Parameters
    ----------
    found : what the ways ask for, one of stripping among them
    floor_hours : the shop's least age [h], 0 or above

    Returns
    -------
    age [h]; inf when no way of stripping ever is

    Raises
    ------
    ValueError
        A floor below 0, or no way of stripping.
    """
    _not_below_zero(floor_hours=floor_hours)
    ages = [one.age_hours for one in found if one.way.strips]
    if not ages:
        raise ValueError("none of these ways strips the piece")
    return max(floor_hours, min(ages))


def lift(mass: float, person_kg: float = PERSON_KG) -> Lift:
    """People for a mass at a figure for each, with what such a team is published to lift.

    Parameters
    ----------
    mass, person_kg : [kg], above 0

    Raises
    ------
    ValueError
        A value that is not above 0.

    Example: 62.7 kg at 22.68 kg a person asks for 3, with 20.9 kg on each.

    Reference: the shop's figure (OSHA sets none); shares of a team as quoted in trade texts on
    team lifting.
    """
    above_zero(mass=mass, person_kg=person_kg)
    # A mass that is so many people's figure but for rounding does not ask for one more.
    people = max(1, math.ceil(mass / person_kg - 1e-9))
    share = {1: 1.0, 2: 2 / 3, 3: 1 / 2}.get(people)
    team = None if share is None else share * people * person_kg
    return Lift(people, mass / people, team)


def _both_faces(name: str, load: Load, carry: Carry) -> Way:
    down = Carry("face down", "face", carry.share, carry.along)
    up = Carry("face up", "underside", carry.share, carry.along)
    return Way(name, (down, up), load)


def _not_below_zero(**values: float) -> None:
    for name, value in values.items():
        if not (math.isfinite(value) and value >= 0):
            raise ValueError(f"{name} must be a finite number, 0 or above, got {value}")
