"""Batch weights of sand as moist as it lies, its water taken off the water that is added.

Moisture and absorption are fractions of oven-dry weight (ASTM C566, C128).

References
----------
ACI 211.1-91, adjustments for aggregate moisture (from memory: check your edition).
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from curing.mixture import GRAINS, Mix

__all__ = ["TooWet", "stock_of", "stock_weights"]


class TooWet(ValueError):
    """Sand that brings more water than the mix adds: brings_kg, adds_kg [kg]."""

    def __init__(self, brings_kg: float, adds_kg: float) -> None:
        self.brings_kg, self.adds_kg = brings_kg, adds_kg
        super().__init__(
            f"the sand brings {brings_kg:.3g} kg of water and the mix adds only {adds_kg:.3g} kg: "
            "dry the sand, or use a drier one"
        )


def stock_of(ssd: float, moisture: float, absorption: float) -> tuple[float, float]:
    """(weight as it lies, free water in it) of sand or aggregate wanted as SSD, both in its unit.

    ssd : weight saturated and surface-dry; moisture, absorption : of dry weight, 0 to 0.5

    The free water is taken off the water that is added; below 0, it is added.

    Raises
    ------
    ValueError
        A weight below 0, fractions out of range.

    Reference: ACI 211.1-91, 5.3.8 and 6.3.8 (from memory): dry weight × (1 + moisture), of which
    dry weight × (moisture − absorption) is mixing water.
    """
    if not 0 <= ssd < math.inf:
        raise ValueError(f"a weight is 0 or above, got {ssd}")
    for name, value in (("moisture", moisture), ("absorption", absorption)):
        if not 0 <= value < 0.5:
            raise ValueError(f"{name} is a fraction of dry weight from 0 to 0.5, got {value}")
    dry = ssd / (1 + absorption)
    return dry * (1 + moisture), dry * (moisture - absorption)


def stock_weights(
    mix: Mix, kg: float, moisture: Mapping[str, float] | None = None
) -> dict[str, float]:
    """What to weigh for a batch, sand as moist as it lies and its water taken off the water [kg].

    kg : of the whole batch, which stays what it is
    moisture : of sands and aggregates by name, of dry weight; one that is not named is as written

    Raises
    ------
    ValueError
        A weight not above 0, a name that is no sand or aggregate, moisture out of range.
    TooWet
        Sand that brings more water than the mix adds.

    Reference: ACI 211.1-91, 6.3.8 (from memory).
    """
    if not 0 < kg < math.inf:
        raise ValueError(f"a batch weighs more than 0 kg, got {kg}")
    wet = dict(moisture or {})
    weights = {c.name: share * kg for c, share in zip(mix.components, mix.kg, strict=True)}
    grains = {c.name: c for c in mix.components if c.role in GRAINS}
    unknown = sorted(set(wet) - set(grains))
    if unknown:
        raise ValueError(f"{', '.join(unknown)}: no sand or aggregate of this recipe")
    extra = 0.0
    for name, lies_at in wet.items():
        c = grains[name]
        ssd = weights[name] * (1 + c.absorption) / (1 + c.moisture)
        stock, _ = stock_of(ssd, lies_at, c.absorption)
        extra += stock - weights[name]
        weights[name] = stock
    waters = [c.name for c in mix.components if c.role == "water"]
    added = sum(weights[name] for name in waters)
    if extra and not added:
        raise ValueError("the recipe adds no water of its own that the sand's could be taken off")
    if extra > added:
        raise TooWet(extra, added)
    for name in waters:
        if added:
            weights[name] *= 1 - extra / added
    return weights
