"""Unit weight, absolute volume, air and yield of fresh mix.

References
----------
ASTM C138/C138M: unit weight, yield and gravimetric air; ACI 211.1-91: absolute volume. Both from
memory: check your edition.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from curing.limits import Note
from curing.mixture import Mix
from curing.sections import above_zero

__all__ = [
    "DENSITY_TOLERANCE",
    "DensityCheck",
    "air_free_density",
    "batch_yield",
    "density_check",
    "density_with_air",
    "gravimetric_air",
    "unit_weight",
]

# Two laboratories' unit weights of one concrete may differ by 37 kg/m³ (2.31 lb/ft³) by ASTM C138's
# precision statement, from memory: 1.8 % at 2,080 kg/m³. Rounded up.
DENSITY_TOLERANCE = 0.02
BASIS = (
    "ACI 211.1 (absolute volume) against ASTM C138 (unit weight), whose precision of 37 kg/m³ "
    "between operators is about 1.8 %; from memory"
)


@dataclass(frozen=True)
class DensityCheck:
    """What was measured beside what the components' densities give.

    measured, computed, air_free [kg/m³]; computed is with `air` where it was given, else air_free
    difference : (measured − computed) / computed
    air : by weight, which the measured density means if every density is right (ASTM C138);
        below 0 when it is heavier than its components
    notes : keys 'density-low', 'density-high' beyond the tolerance, with a given air;
        'heavier-than-solid' beyond it above air_free; 'air-implied' where no air was given.
        figures : measured, computed, air_free [kg/m³], difference, tolerance, air [-]
    """

    measured: float
    computed: float
    air_free: float
    difference: float
    air: float
    notes: tuple[Note, ...]


def unit_weight(full_kg: float, empty_kg: float, volume_m3: float) -> float:
    """Density of fresh mix from a filled measure [kg/m³].

    Raises
    ------
    ValueError
        Not finite, the empty measure below 0 or not lighter than the full one, no volume.

    Reference: ASTM C138: (full − empty) / volume of the measure.
    """
    above_zero(full_kg=full_kg, volume_m3=volume_m3)
    if not 0 <= empty_kg < full_kg:
        raise ValueError(
            f"the empty measure ({empty_kg} kg) must be lighter than the full one ({full_kg} kg)"
        )
    return (full_kg - empty_kg) / volume_m3


def air_free_density(mix: Mix) -> float:
    """Density of the mix without air, from its components' densities [kg/m³] (ASTM C138's T)."""
    return 1 / mix.absolute_volume


def density_with_air(mix: Mix, air: float) -> float:
    """Density of the mix with air, a fraction of its volume from 0 to 0.5 [kg/m³] (ACI 211.1).

    Raises
    ------
    ValueError
        Air out of range.
    """
    if not 0 <= air < 0.5:
        raise ValueError(f"air is a fraction of the volume from 0 to 0.5, got {air}")
    return air_free_density(mix) * (1 - air)


def gravimetric_air(mix: Mix, measured: float) -> float:
    """Air as a fraction of the volume by weight: (T − D) / T (ASTM C138).

    measured : D, of the fresh mix [kg/m³]; T is the air-free density

    Raises
    ------
    ValueError
        A density not above 0.
    """
    above_zero(measured=measured)
    return 1 - measured * mix.absolute_volume


def density_check(
    mix: Mix, measured: float, air: float | None = None, tolerance: float = DENSITY_TOLERANCE
) -> DensityCheck:
    """The shop's unit weight against the absolute volumes of its recipe.

    measured : unit weight of the fresh mix [kg/m³]
    air : measured some other way, a fraction of the volume; None when it was not
    tolerance : of the computed density, above 0

    Raises
    ------
    ValueError
        A density or tolerance not above 0, air out of range.

    Reference: ACI 211.1-91 and ASTM C138, from memory.
    """
    above_zero(measured=measured, tolerance=tolerance)
    solid = air_free_density(mix)
    computed = solid if air is None else density_with_air(mix, air)
    difference = (measured - computed) / computed
    implied = gravimetric_air(mix, measured)
    figures = {
        "measured": measured,
        "computed": computed,
        "air_free": solid,
        "difference": difference,
        "tolerance": tolerance,
        "air": implied,
    }
    weighed = f"The measured unit weight of {measured:.0f} kg/m³ is {abs(difference):.1%} "
    notes: list[Note] = []
    if measured > solid * (1 + tolerance):
        notes.append(
            Note(
                "heavier-than-solid",
                f"The measured unit weight of {measured:.0f} kg/m³ is over the {solid:.0f} kg/m³ "
                "that the components weigh without any air: a density, a weight or the volume of "
                "the measure is wrong.",
                BASIS,
                figures,
            )
        )
    elif air is None:
        notes.append(
            Note(
                "air-implied",
                weighed
                + f"{'below' if difference <= 0 else 'over'} the {solid:.0f} kg/m³ without air: "
                f"air would be {implied:.1%}. Air was not measured.",
                BASIS,
                figures,
            )
        )
    elif abs(difference) > tolerance:
        low = difference < 0
        notes.append(
            Note(
                "density-low" if low else "density-high",
                weighed
                + f"{'below' if low else 'over'} the computed {computed:.0f} kg/m³, more than the "
                f"{tolerance:.1%} allowed. "
                + (
                    "There is more air or water in it than the recipe says."
                    if low
                    else "There is less air or water in it than the recipe says."
                ),
                BASIS,
                figures,
            )
        )
    return DensityCheck(measured, computed, solid, difference, implied, tuple(notes))


def batch_yield(kg: float, measured: float) -> float:
    """Volume that a batch really made [m³]: its weight over its measured unit weight (ASTM C138).

    Raises
    ------
    ValueError
        A weight below 0 or a density not above 0.
    """
    above_zero(measured=measured)
    if not 0 <= kg < math.inf:
        raise ValueError(f"a weight is 0 kg or above, got {kg}")
    return kg / measured
