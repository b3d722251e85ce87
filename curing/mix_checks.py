"""A mix held against the trade's usual limits, each with its basis and who set it.

Every check gives its value and the limit used, within or not; a note is made of one that is not
within. Nothing here refuses a mix: the shop's own tests, the products' data sheets and local rules
come first.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from curing.limits import Note
from curing.mixture import Mix

__all__ = ["FIBRE", "LAYERS", "Check", "Layer", "Limits", "Range", "mix_checks", "mix_notes"]

Layer = Literal["face", "backer", "rib"]
# In the order they are cast.
LAYERS: tuple[Layer, ...] = ("face", "backer", "rib")

PRACTICE = "common practice, no source"
DEFAULT = "a default of this program, for the shop to change"
# Shares that were solved for carry the last digits of the arithmetic.
CLOSE = 1e-9


@dataclass(frozen=True)
class Range:
    """Least and greatest that are usual, what that rests on, and who set it.

    Raises
    ------
    ValueError
        Not in order, or not numbers; the greatest may be inf.
    """

    least: float
    greatest: float
    basis: str
    set_by: str = DEFAULT

    def __post_init__(self) -> None:
        if not (math.isfinite(self.least) and self.least <= self.greatest):
            raise ValueError(f"a range has its least first, got {self.least} to {self.greatest}")


# Of the total weight. PCI and trade texts name 2 to 3 % for premix [trade texts]; ribs and edges
# carry, and get more.
FIBRE: Mapping[Layer, Range] = {
    "face": Range(0.0, 0.0, f"face coats have no fibre: it would show; {PRACTICE}"),
    "backer": Range(0.02, 0.03, "premix at 2 to 3 % of the total weight, trade texts"),
    "rib": Range(0.03, 0.04, f"ribs and edges carry and get 3 to 4 %; {PRACTICE}"),
}


@dataclass(frozen=True)
class Limits:
    """What a shop holds its mixes to; shares are fractions.

    water : w/cm, which is w/c where there is no pozzolan (ACI 211.1 limits w/c so)
    polymer : solids of cement; pozzolan : of cementitious; pigment : solids of cement
    fibre : of the total weight, by layer
    """

    water: Range = Range(0.30, 0.38, "trade texts on GFRC: 0.30 to 0.38")
    polymer: Range = Range(
        0.04, 0.07, "trade texts: about 5 % of cement, some 6 % of cementitious; a point each side"
    )
    pozzolan: Range = Range(0.10, 0.25, f"10 to 25 % of cementitious; {PRACTICE}")
    pigment: Range = Range(0.0, 0.10, "ASTM C979: at most 10 % of cement, from memory")
    fibre: Mapping[Layer, Range] = field(default_factory=lambda: dict(FIBRE), hash=False)


@dataclass(frozen=True)
class Check:
    """One figure of a mix beside its limit.

    key : 'water', 'polymer', 'pozzolan', 'pigment', 'fibre-face', 'fibre-backer', 'fibre-rib'
    what : the figure in words; value : a fraction; usual : the limit it is held to
    consequence : of too little and of too much
    figures : others of the same matter, such as water_cement
    """

    key: str
    what: str
    value: float
    usual: Range
    consequence: tuple[str, str]
    figures: Mapping[str, float] = field(default_factory=dict, hash=False)

    @property
    def within(self) -> bool:
        """Whether the value lies within the limit, ends included."""
        return self.usual.least - CLOSE <= self.value <= self.usual.greatest + CLOSE

    @property
    def note(self) -> Note | None:
        """Key `<key>-low` or `<key>-high` when it is not within; figures value, least, greatest."""
        if self.within:
            return None
        low = self.value < self.usual.least
        limit = self.usual.least if low else self.usual.greatest
        return Note(
            f"{self.key}-{'low' if low else 'high'}",
            f"{self.what} is {self.value:.3g}, {'below' if low else 'over'} {limit:g}. "
            + self.consequence[0 if low else 1],
            f"{self.usual.basis}; {self.usual.set_by}",
            {
                "value": self.value,
                "least": self.usual.least,
                "greatest": self.usual.greatest,
                **self.figures,
            },
        )


def mix_checks(mix: Mix, layer: Layer, limits: Limits | None = None) -> tuple[Check, ...]:
    """Every figure of a mix that has a usual range, in a fixed order: water first, fibre last.

    Raises
    ------
    ValueError
        A layer that is not one of 'face', 'backer', 'rib'.
    """
    held = limits or Limits()
    if layer not in held.fibre:
        raise ValueError(f"{layer!r} is no layer of this shop's limits: {', '.join(held.fibre)}")
    return (
        Check(
            "water",
            "Free water over cementitious material (w/cm)",
            mix.water_cementitious,
            held.water,
            (
                "It may be too stiff to fill corners.",
                "It gets weaker, shrinks more and takes longer to dry.",
            ),
            {
                "water_cement": mix.water_cement,
                "water_cementitious": mix.water_cementitious,
            },
        ),
        Check(
            "polymer",
            "Polymer solids over cement",
            mix.polymer,
            held.polymer,
            (
                "Without enough polymer it needs moist curing, commonly 7 days.",
                "It may hold more air, soften and cost more.",
            ),
        ),
        Check(
            "pozzolan",
            "Pozzolan over cementitious material",
            mix.pozzolan,
            held.pozzolan,
            (
                "Free lime attacks the glass and blooms on the face.",
                "It gains strength more slowly and wants more water.",
            ),
        ),
        Check(
            "pigment",
            "Pigment solids over cement",
            mix.pigment,
            held.pigment,
            ("", "It weakens the mix, wants water, and shades no deeper."),
        ),
        Check(
            f"fibre-{layer}",
            f"Fibre over the total weight of the {layer} mix",
            mix.fibre,
            held.fibre[layer],
            (
                "It bends less before it breaks.",
                "It shows at the face."
                if layer == "face"
                else "It balls, traps air and will not compact.",
            ),
        ),
    )


def mix_notes(mix: Mix, layer: Layer, limits: Limits | None = None) -> tuple[Note, ...]:
    """The notes of the checks that are not within; none when all are.

    Raises
    ------
    ValueError
        As `mix_checks`.
    """
    notes = [check.note for check in mix_checks(mix, layer, limits)]
    return tuple(note for note in notes if note is not None)
