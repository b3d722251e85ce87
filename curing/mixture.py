"""A recipe as a shop writes it, brought to kilograms per kilogram of mix.

A component may be written in parts by weight, as a share of cement, of cementitious material or of
the total, by its solids, or (water) by the ratio it is to reach. Each way is one linear equation in
the weights; together with 'the weights add up to 1 kg' they have one solution or the recipe is
wrong.

Water is counted as ACI 211.1 counts it: free water is what is added, what liquids carry beside
their solids, and what sand carries beyond its absorption. Moisture and absorption are fractions of
oven-dry weight (ASTM C566, C128). A sand's weight is written at `written_moisture`, by default
saturated and surface-dry (SSD), and the recipe's water goes with sand in that state.

Shares are fractions: 0.05 is 5 %.

References
----------
ACI 211.1-91, absolute volume method and moisture adjustment (from memory: check your edition).
ASTM C125 for the words; roles and ways of writing are common practice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "WATER_DENSITY",
    "By",
    "Component",
    "Mix",
    "Recipe",
    "Role",
    "for_layer",
    "normalise",
]

Role = Literal[
    "cement",
    "pozzolan",
    "sand",
    "aggregate",
    "water",
    "polymer",
    "pigment",
    "admixture",
    "fibre",
]
By = Literal[
    "parts",
    "cement",
    "cementitious",
    "total",
    "solids-of-cement",
    "solids-of-cementitious",
    "water-of-cement",
    "water-of-cementitious",
]
CEMENTITIOUS: tuple[Role, ...] = ("cement", "pozzolan")
GRAINS: tuple[Role, ...] = ("sand", "aggregate")
LIQUIDS: tuple[Role, ...] = ("polymer", "pigment", "admixture")

# Of water at 20 °C [kg/m³].
WATER_DENSITY = 998.2
# How far a recipe's shares may contradict each other: a rounding in the sixth place is none.
LOOSE = 1e-6

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Component:
    """One thing that is weighed.

    amount : 0 or above, in the unit of `by`:
        'parts' by weight, on one scale for the whole recipe;
        'cement', 'cementitious', 'total' : its weight over that;
        'solids-of-cement', 'solids-of-cementitious' : its solids over that;
        'water-of-cement', 'water-of-cementitious' : for water, the mix's free water over that, from
        which the water of the liquids and the sand is taken off
    density : as it comes [kg/m³]; of sand, its grains saturated and surface-dry
    solids : of its weight, 0 to 1; the rest is water (polymer, liquid pigment, admixture)
    absorption : of sand or aggregate, of its dry weight
    written_moisture : of the sand as the recipe's weight means it, of its dry weight; None is SSD

    Raises
    ------
    ValueError
        A role or way that is not known, a number out of its range, or one that the role has not.
    """

    name: str
    role: Role
    amount: float
    by: By = "parts"
    density: float = WATER_DENSITY
    solids: float = 1.0
    absorption: float = 0.0
    written_moisture: float | None = None

    def __post_init__(self) -> None:
        name = self.name
        if not name.strip():
            raise ValueError("a component needs a name")
        if self.role not in get_args(Role):
            raise ValueError(f"{name}: {self.role!r} is no role; use one of {get_args(Role)}")
        if self.by not in get_args(By):
            raise ValueError(f"{name}: {self.by!r} is no way to write an amount: {get_args(By)}")
        if not 0 <= self.amount < math.inf:
            raise ValueError(f"{name}: an amount is a number of 0 or above, got {self.amount}")
        if not 0 < self.density < math.inf:
            raise ValueError(f"{name}: a density is above 0 kg/m³, got {self.density}")
        if not 0 < self.solids <= 1:
            raise ValueError(f"{name}: solids are above 0 and at most 1, got {self.solids}")
        if self.solids < 1 and self.role not in LIQUIDS:
            raise ValueError(f"{name}: solids below 1 are for a {', '.join(LIQUIDS)}")
        if self.by.startswith("water-of") and self.role != "water":
            raise ValueError(f"{name}: only water is written by the ratio it is to reach")
        for what, value in (
            ("absorption", self.absorption),
            ("moisture", self.written_moisture or 0.0),
        ):
            if not 0 <= value < 0.5:
                raise ValueError(f"{name}: {what} is a fraction from 0 to 0.5, got {value}")
            if value and self.role not in GRAINS:
                raise ValueError(f"{name}: {what} is for {' and '.join(GRAINS)}")

    @property
    def moisture(self) -> float:
        """Moisture at which its weight is written, of its dry weight [-]."""
        return self.absorption if self.written_moisture is None else self.written_moisture

    def free_water(self, moisture: float | None = None) -> float:
        """Mixing water in a kilogram of it [kg/kg]; below 0 for sand that will still soak some up.

        moisture : of sand as it lies, of its dry weight; None is as the recipe has it
        """
        if self.role == "water":
            return 1.0
        if self.role in GRAINS:
            wet = self.moisture if moisture is None else moisture
            return (wet - self.absorption) / (1 + wet)
        return 1 - self.solids


@dataclass(frozen=True)
class Recipe:
    """Components of one mix, each under its own name.

    Raises
    ------
    ValueError
        No cement, or a name that stands twice.
    """

    components: tuple[Component, ...]

    def __post_init__(self) -> None:
        names = [c.name for c in self.components]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise ValueError(f"two components are called {', '.join(twice)}: rename one")
        if not any(c.role == "cement" and c.amount > 0 for c in self.components):
            raise ValueError("a recipe needs a cement with an amount above 0")


@dataclass(frozen=True)
class Mix:
    """A recipe as weights.

    components : (n,)
    kg : (n,) of each in a kilogram of mix, as written; they add up to 1
    """

    components: tuple[Component, ...]
    kg: tuple[float, ...]

    def mass(self, *roles: Role) -> float:
        """Weight of these roles together [kg per kg of mix]."""
        return sum(kg for c, kg in zip(self.components, self.kg, strict=True) if c.role in roles)

    @cached_property
    def free_water(self) -> float:
        """Effective mixing water [kg per kg of mix] (ACI 211.1)."""
        return sum(c.free_water() * kg for c, kg in zip(self.components, self.kg, strict=True))

    @property
    def cement(self) -> float:
        """[kg per kg of mix]"""
        return self.mass("cement")

    @property
    def cementitious(self) -> float:
        """Cement and pozzolan [kg per kg of mix]."""
        return self.mass(*CEMENTITIOUS)

    @property
    def water_cement(self) -> float:
        """w/c: free water over cement [-]."""
        return self.free_water / self.cement

    @property
    def water_cementitious(self) -> float:
        """w/cm: free water over cement and pozzolan [-] (ACI 211.1)."""
        return self.free_water / self.cementitious

    @property
    def pozzolan(self) -> float:
        """Pozzolan over cementitious material [-]."""
        return self.mass("pozzolan") / self.cementitious

    @property
    def polymer(self) -> float:
        """Polymer solids over cement [-]."""
        return self._solids("polymer") / self.cement

    @property
    def pigment(self) -> float:
        """Pigment solids over cement [-] (the share ASTM C979 limits)."""
        return self._solids("pigment") / self.cement

    @property
    def fibre(self) -> float:
        """Fibre over the total weight [-]."""
        return self.mass("fibre")

    @property
    def sand(self) -> float:
        """Sand over cementitious material, as written [-]."""
        return self.mass("sand") / self.cementitious

    @cached_property
    def absolute_volume(self) -> float:
        """Of a kilogram of mix without air [m³/kg]: each weight over its density (ACI 211.1).

        Sand counts as SSD grains; water beyond that (or wanting to that) counts as water.
        """
        volume = 0.0
        for c, kg in zip(self.components, self.kg, strict=True):
            loose = c.free_water() * kg if c.role in GRAINS else 0.0
            volume += (kg - loose) / c.density + loose / WATER_DENSITY
        return volume

    def per_m3(self, density: float) -> dict[str, float]:
        """Weight of each component in a cubic metre of fresh mix [kg/m³], by name, as written.

        density : of the fresh mix, measured, or reckoned with its air [kg/m³]

        Raises
        ------
        ValueError
            A density that is not above 0.
        """
        if not 0 < density < math.inf:
            raise ValueError(f"a density is above 0 kg/m³, got {density}")
        return {c.name: kg * density for c, kg in zip(self.components, self.kg, strict=True)}

    def _solids(self, role: Role) -> float:
        pairs = zip(self.components, self.kg, strict=True)
        return sum(c.solids * kg for c, kg in pairs if c.role == role)


def normalise(recipe: Recipe) -> Mix:
    """The weights of a recipe in a kilogram of mix.

    Raises
    ------
    ValueError
        Shares that contradict each other or do not fix every weight, or that leave less than none
        for a component, as water when the liquids bring more than the ratio allows.

    Example: cement 0.8 and pozzolan 0.2 of cementitious, sand 1.0, and water to reach w/cm 0.34 are
    0.342, 0.085, 0.427 and 0.145.
    """
    parts = recipe.components
    n = len(parts)
    # One unknown more, what the parts are worth; the greatest part is its unit, so that a recipe in
    # grams solves as well as one in tons.
    greatest = max((c.amount for c in parts if c.by == "parts"), default=0.0)
    scaled = greatest > 0
    rows = np.zeros((n + 1, n + scaled))
    right = np.zeros(n + 1)
    for i, c in enumerate(parts):
        if c.by.startswith("water-of"):
            rows[i, :n] = [p.free_water() for p in parts]
        else:
            rows[i, i] = c.solids if c.by.startswith("solids-of") else 1.0
        if c.by == "parts":
            if scaled:
                rows[i, n] = -c.amount / greatest
        else:
            rows[i, :n] -= c.amount * _whole(c.by, parts)
    rows[n, :n] = right[n] = 1.0

    weights, _, rank, _ = np.linalg.lstsq(rows, right, rcond=1e-12)
    if np.abs(rows @ weights - right).max() > LOOSE:
        told = ", ".join(
            f"{sum(c.amount for c in parts if c.by == by):.6g} of {name}"
            for by, name in (("total", "the total"), ("cementitious", "cementitious material"))
            if any(c.by == by for c in parts)
        )
        raise ValueError(
            f"the recipe's shares contradict each other ({told or 'none of the total'}): shares of "
            "one whole must add up to 1; write one of them in parts, or mend a share"
        )
    if rank < rows.shape[1]:
        raise ValueError(
            "the recipe does not fix every weight: tie each component to the others, in parts or "
            "as a share"
        )
    for c, kg in zip(parts, weights[:n], strict=True):
        if kg < -LOOSE:
            raise ValueError(
                f"{c.name} would have to be below 0: the rest of the recipe already brings more "
                "than it asks for; give a greater ratio or less of the rest"
            )
    # What the solver leaves of a component without an amount is none.
    kilograms = np.where(weights[:n] > 1e-12, weights[:n], 0.0)
    mix = Mix(parts, tuple(float(kg) for kg in kilograms / kilograms.sum()))
    if not mix.cement > 0:
        raise ValueError("the recipe comes out without cement: give its cement a weight")
    if mix.free_water < -LOOSE:
        raise ValueError("the sand soaks up more water than the recipe has: add water")
    return mix


def for_layer(mix: Mix, fibre: float) -> Mix:
    """The same matrix with its fibre set to a share of the total weight, as one layer takes it.

    fibre : of the total weight, 0 to below 0.2; several fibres keep the proportion they have

    Raises
    ------
    ValueError
        A share out of range, or above 0 for a mix that has no fibre, or several and none of each.
    """
    if not 0 <= fibre < 0.2:
        raise ValueError(f"fibre is a share of the total weight from 0 to 0.2, got {fibre}")
    fibres = [c for c in mix.components if c.role == "fibre"]
    if fibre > 0 and not (mix.fibre > 0 or len(fibres) == 1):
        raise ValueError("the recipe has no fibre whose share could be set: add the fibre first")

    def loaded(c: Component, kg: float) -> float:
        if c.role != "fibre":
            return kg * (1 - fibre) / (1 - mix.fibre)
        return fibre * (kg / mix.fibre if mix.fibre > 0 else 1 / len(fibres))

    pairs = zip(mix.components, mix.kg, strict=True)
    return replace(mix, kg=tuple(loaded(c, kg) for c, kg in pairs))


def _whole(by: By, parts: tuple[Component, ...]) -> Array:
    """(n,) 1 for each component that counts into what a share is of."""
    if by == "total":
        return np.ones(len(parts))
    roles: tuple[Role, ...] = CEMENTITIOUS if by.endswith("cementitious") else ("cement",)
    return np.array([float(c.role in roles) for c in parts])
