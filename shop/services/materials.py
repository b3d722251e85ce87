"""Mixes and sealers: what the shop knows of its concrete and of its products' data sheets."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from curing.maturity import age_factor
from curing.strength import Exponential, Hyperbolic
from shop.models import Mix, Sealer
from shop.models.materials import CurveForm
from shop.services import rows

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
    return rows.change(Mix, mix_id, version, values)


def save_sealer(*, sealer_id: int | None, version: int, values: dict[str, Any]) -> Sealer:
    if sealer_id is None:
        return rows.add(Sealer, values)
    return rows.change(Sealer, sealer_id, version, values)


def curve_of(mix: Mix) -> Hyperbolic | Exponential:
    if mix.curve == CurveForm.EXPONENTIAL:
        return Exponential(su=mix.su_mpa, tau=mix.tau_hours, alpha=mix.alpha)
    return Hyperbolic(su=mix.su_mpa, k=mix.rate_per_hour, t0=mix.setting_hours)


def strengths(mix: Mix) -> list[StrengthAt]:
    """At the table's equivalent ages, with ±30 % while the curve is a placeholder."""
    curve, band = curve_of(mix), 0.3 if mix.placeholder else 0.0
    at = [(hours, float(curve.at(hours))) for hours in TABLE_HOURS]
    return [StrengthAt(hours, mpa, mpa * (1 - band), mpa * (1 + band)) for hours, mpa in at]


def hours_like_16_at_20(mix: Mix) -> list[HoursAt]:
    return [
        HoursAt(celsius, 16.0 / float(age_factor(celsius, mix.activation_energy)))
        for celsius in TABLE_CELSIUS
    ]
