"""From which age this shop may demold: what its demolds say, and what applies to a piece.

Demolds are looked at together where mix, route and kind of piece are the same, so that the default
gate is one: the age at which the route's own demold step is met by the mix's curve. A later age
than that applies by itself and beside the route's gate. An earlier one applies once the owner has
said yes to it, in place of the route's strength and age; hours after casting, and the strength that
lifting the piece's section asks for, stay.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple

from django.db.models import F, QuerySet

from curing.outcomes import Evidence, Suggestion, learn
from jobs.models import Demold, Mark, Piece, TrustedAge
from jobs.services.shape import kind_of
from shop.models import Mix, RouteStep, Shop, StepKind
from shop.services.materials import curve_of

# Ages are looked at to so many hours: finer than anybody knows them, and few enough to reckon with.
GRAIN = 0.1
LEAST_FLOOR = 0.1  # h; a floor of no hours is none


class Alike(NamedTuple):
    """Pieces whose demolds are looked at together."""

    mix_id: int
    route_id: int
    kind: str


@dataclass(frozen=True)
class DemoldGate:
    """The age that applies to a piece's demold.

    instead : in place of the route's strength and age, by the owner's yes; else beside them
    demolds : how many with an outcome it rests on
    """

    hours: float
    instead: bool
    demolds: int


Outcomes = tuple[tuple[float, str], ...]


@dataclass(frozen=True)
class Trust:
    """The shop's demolds and the ages agreed on."""

    outcomes: Mapping[Alike, Outcomes] = field(default_factory=dict)
    agreed: Mapping[Alike, TrustedAge] = field(default_factory=dict)

    def gate_of(self, piece: Piece, shop: Shop) -> DemoldGate | None:
        """None where only the route's own gate applies. Needs `route.steps` and `mix` loaded."""
        alike = alike_of(piece)
        found, agreed = self.outcomes.get(alike, ()), self.agreed.get(alike)
        if not found and agreed is None:
            return None
        default = default_gate(piece.route.steps.all(), piece.mix)
        if default is None:
            return None
        hours = suggestion_of(found, default, agreed, shop).hours
        if hours == default:
            return None
        return DemoldGate(hours, instead=hours < default, demolds=len(found))


def load_trust() -> Trust:
    """All demolds that count, in two queries."""
    outcomes: dict[Alike, list[tuple[float, str]]] = defaultdict(list)
    for mix_id, route_id, kind, age, outcome in demolds_that_count().values_list(
        "mix_id", "route_id", "kind", "age_hours", "mark__outcome"
    ):
        outcomes[Alike(mix_id, route_id, kind)].append((rounded(age), outcome))
    return Trust({alike: tuple(sorted(rows)) for alike, rows in outcomes.items()}, agreed_ages())


def demolds_that_count() -> QuerySet[Demold]:
    """With an outcome and not struck. A casting that was lost since counts with its outcome."""
    return Demold.objects.filter(mark__struck_by=None).exclude(mark__outcome="")


def agreed_ages() -> dict[Alike, TrustedAge]:
    """The latest row of each. What a struck mark had set does not count."""
    rows = TrustedAge.objects.filter(mark__struck_by=None).select_related("by", "mark__piece")
    return {Alike(row.mix_id, row.route_id, row.kind): row for row in rows.order_by("at", "pk")}


def alike_of(piece: Piece) -> Alike:
    return Alike(piece.mix_id, piece.route_id, str(kind_of(piece)))


def rounded(age: float) -> float:
    return max(GRAIN, round(round(age / GRAIN) * GRAIN, 6))


def round_up(hours: float) -> float:
    """As it is shown and agreed on: never earlier than what the demolds say."""
    return round(math.ceil(hours / GRAIN - 1e-6) * GRAIN, 6)


def default_gate(steps: Iterable[RouteStep], mix: Mix) -> float | None:
    """Equivalent age at which the route's own demold step is met: the later of its age and its
    strength's by the mix's curve. None where it asks for neither, or the curve never gets there.
    """
    step = next((step for step in steps if step.kind == StepKind.DEMOLD), None)
    if step is None:
        return None
    ages = [step.equivalent_hours or 0.0]
    if step.strength_mpa:
        ages.append(float(curve_of(mix).age_at(step.strength_mpa)))
    latest = max(ages)
    return latest if 0 < latest < math.inf else None


@lru_cache(maxsize=512)
def evidence_of(outcomes: Outcomes, gate_hours: float) -> Evidence:
    return learn(outcomes, gate_hours=gate_hours)


def floor_of(shop: Shop, default: float) -> float:
    """The owner's floor. A route's own gate under it is the owner's too, and stays."""
    return min(max(shop.demold_floor_hours, LEAST_FLOOR), default)


def suggestion_of(
    outcomes: Outcomes, default: float, agreed: TrustedAge | None, shop: Shop
) -> Suggestion:
    in_force = agreed.hours if agreed is not None and agreed.hours else default
    evidence = evidence_of(outcomes, default)
    return evidence.suggested(floor_of(shop, default), in_force=in_force)


def record_demold(mark: Mark, piece: Piece, age_hours: float, shop: Shop) -> Demold | None:
    """Keep the age with the mark; a demold that was not clean may raise the age that applies.

    None where no time has passed since casting.
    """
    if not age_hours > 0:
        return None
    alike = alike_of(piece)
    demold = Demold.objects.create(mark=mark, age_hours=age_hours, **alike._asdict())
    if mark.outcome:
        _keep_raise(mark, alike, piece, shop)
    return demold


def _keep_raise(mark: Mark, alike: Alike, piece: Piece, shop: Shop) -> None:
    """A later age stays until the owner says yes to an earlier one, or the mark is struck."""
    default = default_gate(piece.route.steps.all(), piece.mix)
    if default is None:
        return
    trust = load_trust()
    found = trust.outcomes.get(alike, ())
    suggestion = suggestion_of(found, default, trust.agreed.get(alike), shop)
    if suggestion.warns:
        TrustedAge.objects.create(
            mark=mark, hours=round_up(suggestion.hours), outcomes=len(found), **alike._asdict()
        )


def demolds_without_outcome(mix: Mix) -> dict[Alike, int]:
    rows = Demold.objects.filter(mix=mix, mark__struck_by=None, mark__outcome="")
    counted: dict[Alike, int] = defaultdict(int)
    for route_id, kind in rows.values_list(F("route_id"), "kind"):
        counted[Alike(mix.pk, route_id, kind)] += 1
    return counted
