"""The shop's two scales: what they show, and weights as they show them. kg inside."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from django.utils.translation import gettext as _

from shop.measures import NUMBER
from shop.models import Shop

# Exact by the international pound of 1959.
KILOGRAMS: Mapping[str, float] = {"lb": 0.45359237, "oz": 0.028349523125, "kg": 1.0, "g": 0.001}
FINEST = 6  # decimals


@dataclass(frozen=True)
class Scale:
    """unit : a key of `KILOGRAMS`; step_kg : the least difference it shows [kg]"""

    unit: str
    step_kg: float

    @property
    def decimals(self) -> int:
        """As many as its step needs, written in its unit."""
        step = self.step_kg / KILOGRAMS[self.unit]
        enough = (n for n in range(FINEST) if abs(round(step, n) - step) < 1e-4 * step)
        return next(enough, FINEST)

    def number(self, kg: float) -> float:
        return kg / KILOGRAMS[self.unit]

    def kilograms(self, number: float) -> float:
        return number * KILOGRAMS[self.unit]

    def digits(self, kg: float, more: int = 0) -> str:
        """The number as it stands on the scale; `more` decimals for what lies between its steps."""
        text = f"{self.number(kg):.{self.decimals + more}f}"
        if more and "." in text:
            head, tail = text.split(".")
            kept = tail[: self.decimals] + tail[self.decimals :].rstrip("0")
            text = f"{head}.{kept}" if kept else head
        return (text if float(text) else text.lstrip("-")).replace("-", "−")

    def words(self, kg: float, more: int = 0) -> str:
        return f"{self.digits(kg, more)} {self.unit}"

    def signed(self, kg: float, more: int = 0) -> str:
        """With its sign before it, none for nothing."""
        text = self.words(kg, more)
        nothing = not float(text.split()[0].replace("−", ""))
        return text if text.startswith("−") or nothing else f"+{text}"


def large_scale(shop: Shop) -> Scale:
    return Scale(shop.scale_unit, shop.scale_step_kg)


def small_scale(shop: Shop) -> Scale:
    return Scale(shop.small_scale_unit, shop.small_scale_step_kg)


def read_weight(text: str, scale: Scale) -> float:
    """kg from what somebody typed: '12.35', '12,35', '350 g'. Without a unit, the scale's own.

    Raises ValueError, in words.
    """
    match = NUMBER.match(text)
    if match is None:
        raise ValueError(
            _("%(text)s is not a weight. Write it as the scale shows it, like 12.5 %(unit)s.")
            % {"text": text.strip()[:20] or "–", "unit": scale.unit}
        )
    unit = match[2].lower().rstrip("s") or scale.unit
    if unit not in KILOGRAMS:
        raise ValueError(
            _("%(unit)s is no unit of weight here. Write %(own)s, or no unit.")
            % {"unit": unit[:12], "own": scale.unit}
        )
    return float(match[1].replace(",", ".").replace("−", "-")) * KILOGRAMS[unit]
