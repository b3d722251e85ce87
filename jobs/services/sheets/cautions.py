"""Cautions on a sheet: lettered once, named where they are needed, in full at the foot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from django.utils import translation

from shop.cautions import Caution, for_step


@dataclass(frozen=True)
class Cared:
    """headline : the first sentence, which is read with gloves on"""

    letter: str
    headline: str
    rest: str
    reference: str

    @property
    def length(self) -> int:
        return len(self.headline) + len(self.rest) + len(self.reference) + 30


def in_columns(cares: Sequence[Cared]) -> tuple[tuple[Cared, ...], tuple[Cared, ...]]:
    """Two columns in order, about as long as each other."""
    whole, left = sum(care.length for care in cares), 0
    for place, care in enumerate(cares):
        if left + care.length / 2 >= whole / 2:
            return tuple(cares[:place]), tuple(cares[place:])
        left += care.length
    return tuple(cares), ()


@dataclass
class Cares:
    """Letters in the order in which the steps first need them."""

    isocyanates: bool = False
    _given: dict[Caution, Cared] = field(default_factory=dict)

    def of(self, kind: str) -> tuple[Cared, ...]:
        return tuple(self.named(caution) for caution in for_step(kind, self.isocyanates))

    @property
    def listed(self) -> tuple[Cared, ...]:
        return tuple(self._given.values())

    def named(self, caution: Caution) -> Cared:
        if caution not in self._given:
            self._given[caution] = cared(caution, chr(ord("a") + len(self._given)))
        return self._given[caution]


def cared(caution: Caution, letter: str = "") -> Cared:
    """In English, as the sheets are."""
    with translation.override("en"):
        headline, _, rest = str(caution.text).partition(". ")
        return Cared(letter, headline.rstrip("."), rest, str(caution.reference))
