"""When a piece may be lifted and carried which way, by its own section. Pure: nothing is written.

A limit with its basis, never a permission: the stress is nominal, the factor on it the shop's.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from django.utils.translation import gettext_lazy

from curing.climate import Climate
from curing.handling import Lift, Need, lift
from curing.panel import Panel
from jobs.models import Piece
from jobs.services.outlook import WayOutlook
from jobs.services.shape import CARRIED, bare, bars_kg, panel_of, rules_of, ways, weight_kg
from shop.localtime import from_hours
from shop.models import Shop, StepKind
from shop.services.materials import curve_of

if TYPE_CHECKING:
    from django_stubs_ext import StrPromise

# By the names of `curing.handling`: what the shop calls each way.
WAY_WORDS: dict[str, StrPromise] = {
    "stripped by tilting": gettext_lazy("strip by tilting"),
    "stripped flat at two places": gettext_lazy("strip flat at two places"),
    "stripped flat by its ends": gettext_lazy("strip flat by its ends"),
    "flipped": gettext_lazy("flip over one long edge"),
    "on edge": gettext_lazy("carry on edge"),
    "flat on two supports": gettext_lazy("carry flat on two supports"),
    "flat by its ends": gettext_lazy("carry flat by its ends"),
    "travels on edge": gettext_lazy("travel on edge"),
}
STRIPPING = ("stripped by tilting", "stripped flat at two places", "stripped flat by its ends")
CARRYING = ("on edge", "flat on two supports", "flat by its ends")


@dataclass(frozen=True)
class WayNeed:
    """One way of handling for one piece; `plain` is the same without its strongbacks."""

    need: Need
    at: dt.datetime | None
    passed: bool
    plain: WayNeed | None = None

    @property
    def words(self) -> str:
        return way_words(self.need.way.name)

    @property
    def never(self) -> bool:
        return self.at is None


@dataclass(frozen=True)
class Lifting:
    """What lifting asks of a piece, and how many people its weight asks for."""

    ways: tuple[WayNeed, ...]
    weight_kg: float
    bars_kg: float  # of the strongbacks, 0 without
    people: Lift
    cast_known: bool
    strip_basis: str

    def way(self, name: str) -> WayNeed:
        return next(way for way in self.ways if way.need.way.name == name)

    @property
    def strip(self) -> WayNeed:
        """The way out of the form that asks for least strength."""
        return min((w for w in self.ways if w.need.way.strips), key=lambda w: w.need.strength)


def way_words(name: str) -> str:
    return str(WAY_WORDS.get(name, name))


def needed_ways(kind: str, found: tuple[WayOutlook, ...]) -> tuple[WayOutlook, ...]:
    """What a step of this kind waits for: the gentlest stripping and the flip, or its carrying."""
    if kind == StepKind.DEMOLD:
        strips = [way for way in found if way.name in STRIPPING]
        gentlest = min(strips, key=lambda way: way.mpa, default=None)
        return tuple(way for way in found if way == gentlest or way.name == "flipped")
    names = CARRIED.get(StepKind(kind), ()) if kind in StepKind.values else ()
    return tuple(way for way in found if way.name in names)


def ways_of(piece: Piece, shop: Shop, climate: Climate, cast: float) -> tuple[WayOutlook, ...]:
    """Needs the piece's mix loaded. `cast` [h], taken or known; nothing without a section."""
    panel = panel_of(piece)
    if panel is None or not math.isfinite(cast):
        return ()
    return tuple(
        WayOutlook(
            need.way.name,
            round(need.strength, 3),
            _reached(piece, climate, cast, need),
            bool(panel.strongbacks),
        )
        for need in ways(panel, rules_of(shop))
    )


def lifting_of(
    piece: Piece, shop: Shop, climate: Climate, cast: float, now: float, *, cast_known: bool
) -> Lifting | None:
    """None without a section or without a casting time in sight. Times in hours."""
    panel = panel_of(piece)
    if panel is None or not math.isfinite(cast):
        return None

    def judged(own: Panel) -> list[WayNeed]:
        return [
            WayNeed(need, at, cast_known and at is not None and at <= from_hours(now))
            for need in ways(own, rules_of(shop))
            for at in [_reached(piece, climate, cast, need)]
        ]

    found = judged(panel)
    if panel.strongbacks:
        without = judged(bare(panel))
        found = [replace(way, plain=plain) for way, plain in zip(found, without, strict=True)]
    weight = weight_kg(piece)
    return Lifting(
        ways=tuple(found),
        weight_kg=weight,
        bars_kg=bars_kg(piece.shape),
        people=lift(weight + bars_kg(piece.shape), shop.carry_limit_kg),
        cast_known=cast_known,
        strip_basis=next(way.need.way.load.basis for way in found if way.need.way.strips),
    )


def _reached(piece: Piece, climate: Climate, cast: float, need: Need) -> dt.datetime | None:
    """When the mix has that strength in the room's air; the ages in `need` are a placeholder's."""
    age = curve_of(piece.mix).age_at(need.strength)
    if not math.isfinite(age):
        return None
    until = climate.time_of_age(cast, age, piece.mix.activation_energy)
    return from_hours(until) if math.isfinite(until) else None
