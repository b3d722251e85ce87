"""A mix's demolds by route and kind of piece, and the owner's yes to an earlier age."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

from django.db import transaction

from curing.outcomes import Evidence, Suggestion
from jobs.models import TrustedAge
from jobs.services.errors import Conflict, Refused
from jobs.services.trust import (
    Alike,
    Outcomes,
    default_gate,
    demolds_without_outcome,
    evidence_of,
    floor_of,
    load_trust,
    round_up,
    suggestion_of,
)
from shop.models import Mix, Person, Route, Shop
from shop.services import rows
from shop.services.changed import note_change


@dataclass(frozen=True)
class Learned:
    """What the outcomes say beside the gates. All ages h at 20 °C.

    default : the route's own gate; floor : the owner's, or the route's own where that is lower
    """

    default: float
    floor: float
    evidence: Evidence
    suggestion: Suggestion

    @property
    def in_force(self) -> float:
        """The gate that applies now: a later one than was agreed on applies at once."""
        return self.suggestion.hours

    @property
    def suggested(self) -> float:
        """Rounded up: as it is shown, and as it is agreed on."""
        return round_up(self.suggestion.suggested)


@dataclass(frozen=True)
class DemoldKind:
    """Pieces of one mix that go one route and are of one kind."""

    alike: Alike
    route: Route
    outcomes: Outcomes
    unsaid: int  # demolds without an outcome
    agreed: TrustedAge | None
    history: tuple[TrustedAge, ...]  # the latest first
    learned: Learned | None  # None: the route asks for no age and no strength
    basis: str

    @property
    def may_be_taken_back(self) -> bool:
        """An earlier age than the route's is in force by the owner's yes."""
        agreed, learned = self.agreed, self.learned
        return bool(agreed and agreed.hours and learned and learned.in_force < learned.default)


def kinds_of(mix: Mix, shop: Shop) -> list[DemoldKind]:
    """Every kind with a demold of this mix, those with most outcomes first. Five queries."""
    trust, unsaid = load_trust(), demolds_without_outcome(mix)
    history: dict[Alike, list[TrustedAge]] = {}
    past = TrustedAge.objects.filter(mix=mix).select_related("by", "mark__piece", "mark__struck_by")
    for row in past:
        history.setdefault(Alike(row.mix_id, row.route_id, row.kind), []).append(row)
    known = {alike for alike in (*trust.outcomes, *trust.agreed) if alike.mix_id == mix.pk}
    known |= unsaid.keys() | history.keys()
    routes = Route.objects.prefetch_related("steps").in_bulk({alike.route_id for alike in known})
    found = []
    for alike in known:
        outcomes, agreed = trust.outcomes.get(alike, ()), trust.agreed.get(alike)
        default = default_gate(routes[alike.route_id].steps.all(), mix)
        learned = None if default is None else _learned(outcomes, default, agreed, shop)
        found.append(
            DemoldKind(
                alike=alike,
                route=routes[alike.route_id],
                outcomes=outcomes,
                unsaid=unsaid.get(alike, 0),
                agreed=agreed,
                history=tuple(history.get(alike, ())),
                learned=learned,
                basis=_basis(alike, outcomes, agreed, learned),
            )
        )
    return sorted(found, key=lambda kind: (-len(kind.outcomes), kind.route.name, kind.alike.kind))


def _learned(outcomes: Outcomes, default: float, agreed: TrustedAge | None, shop: Shop) -> Learned:
    return Learned(
        default=default,
        floor=floor_of(shop, default),
        evidence=evidence_of(outcomes, default),
        suggestion=suggestion_of(outcomes, default, agreed, shop),
    )


def _basis(
    alike: Alike, outcomes: Outcomes, agreed: TrustedAge | None, learned: Learned | None
) -> str:
    """Stands for everything the suggestion rests on."""
    gates = learned and (learned.default, learned.floor, learned.suggested)
    said = (tuple(alike), outcomes, agreed.pk if agreed else 0, gates)
    return hashlib.sha256(repr(said).encode()).hexdigest()[:24]


@transaction.atomic
def say_yes(
    *, mix_id: int, route_id: int, kind: str, version: int, basis: str, by: Person, shop: Shop
) -> TrustedAge:
    """The suggested age is in force from now on: dates that rest on it are reckoned anew."""
    seen = _seen(Alike(mix_id, route_id, kind), version, basis, shop)
    if seen.learned is None or not seen.learned.suggestion.asks_yes:
        raise Refused("These demolds suggest no earlier age.")
    return _set(seen, seen.learned.suggested, by)


@transaction.atomic
def take_back(
    *, mix_id: int, route_id: int, kind: str, version: int, basis: str, by: Person, shop: Shop
) -> TrustedAge:
    """The route's own gate is in force again, unless the demolds ask for a later one."""
    seen = _seen(Alike(mix_id, route_id, kind), version, basis, shop)
    if not seen.may_be_taken_back:
        raise Refused("The route's own gate is in force already.")
    return _set(seen, None, by)


def _seen(alike: Alike, version: int, basis: str, shop: Shop) -> DemoldKind:
    """The kind as it is now, if it is what the person looked at. The mix is held."""
    mix = rows.locked(Mix, alike.mix_id, version, {})
    found = next((kind for kind in kinds_of(mix, shop) if kind.alike == alike), None)
    if found is None or found.basis != basis:
        raise Conflict(
            "A demold, a gate or the floor has changed since you looked, so the ages are others "
            "now. Nothing is changed: look again.",
            version=mix.version,
            theirs={},
        )
    return found


def _set(seen: DemoldKind, hours: float | None, by: Person) -> TrustedAge:
    row = TrustedAge.objects.create(
        hours=hours, outcomes=len(seen.outcomes), by=by, **seen.alike._asdict()
    )
    note_change(f"demold age of {seen.route.name}, {seen.alike.kind}"[:80])
    return row
