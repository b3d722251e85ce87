"""Mixes and sealers: what the shop knows of its concrete and of its products' data sheets."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.db.models import ProtectedError
from django.utils.translation import gettext as _

from curing.maturity import age_factor
from shop.models import Mix, Recipe, Sealer
from shop.services import rows
from shop.services.curves import curve_of, strength_band
from shop.services.errors import Refused

__all__ = [
    "HoursAt",
    "StrengthAt",
    "as_typed",
    "curve_of",
    "delete_mix",
    "hours_like_16_at_20",
    "save_mix",
    "save_sealer",
    "strengths",
]

CURVE = (
    "curve", "su_mpa", "rate_per_hour", "setting_hours", "tau_hours", "alpha", "placeholder",
)  # fmt: skip
TABLE_HOURS = (8.0, 12.0, 16.0, 24.0, 48.0, 168.0)
TABLE_CELSIUS = (10.0, 15.0, 20.0, 25.0, 30.0)


@dataclass(frozen=True)
class StrengthAt:
    hours: float  # equivalent, at 20 °C
    mpa: float
    low: float
    high: float


@dataclass(frozen=True)
class HoursAt:
    celsius: float
    hours: float  # real ones that cure as far as 16 h at 20 °C


def save_mix(*, mix_id: int | None, version: int, values: dict[str, Any]) -> Mix:
    if mix_id is None:
        return rows.add(Mix, values)
    known = Mix.objects.get(pk=mix_id)
    if any(getattr(known, name) != values.get(name, getattr(known, name)) for name in CURVE):
        # The curve is another one, so what its tests had for a band is not its own any more.
        values = {**values, "curve_draws": []}
    return rows.change(Mix, mix_id, version, values)


@transaction.atomic
def delete_mix(mix_id: int) -> str:
    """With its recipe, unless something was cast of it."""
    try:
        Recipe.objects.filter(mix_id=mix_id).delete()
    except ProtectedError as error:
        raise Refused(_("The mixer has run this mix, so it stays. Take it out of use.")) from error
    return rows.delete(Mix, mix_id)


def as_typed(mix: Mix, stored: Mix | None) -> Mix:
    """A mix that is only looked at: with another curve the band of the stored one's tests is not
    its own, as `save_mix` has it."""
    if stored and any(getattr(stored, name) != getattr(mix, name) for name in CURVE):
        mix.curve_draws = []
    return mix


def save_sealer(*, sealer_id: int | None, version: int, values: dict[str, Any]) -> Sealer:
    if sealer_id is None:
        return rows.add(Sealer, values)
    return rows.change(Sealer, sealer_id, version, values)


def strengths(mix: Mix) -> list[StrengthAt]:
    """At the table's equivalent ages, with the band of the curve."""
    likely = curve_of(mix).at(TABLE_HOURS).tolist()
    low, high = (part.tolist() for part in strength_band(mix, TABLE_HOURS))
    return [StrengthAt(*row) for row in zip(TABLE_HOURS, likely, low, high, strict=True)]


def hours_like_16_at_20(mix: Mix) -> list[HoursAt]:
    return [
        HoursAt(celsius, 16.0 / float(age_factor(celsius, mix.activation_energy)))
        for celsius in TABLE_CELSIUS
    ]
