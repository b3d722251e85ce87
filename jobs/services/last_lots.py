"""Lots that lie open in the shop: the last ones written down for each component."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import Max

from curing.mix_checks import LAYERS
from jobs.models import Weighed

OFFERED = 3


def last_lots(components: Iterable[str]) -> dict[str, list[str]]:
    """By component, the newest first, three at the most; two queries however many there are.

    A component's lines are its name, and for fibre its name with the layer it is for.
    """
    named = {
        line: name
        for name in components
        for line in (name, *(f"{name}, {layer}" for layer in LAYERS))
    }
    rows = Weighed.objects.filter(line__in=named, struck_at=None).exclude(lot_key="")
    last = rows.order_by().values("line", "lot_key").annotate(last=Max("pk")).values("last")
    found: dict[str, list[str]] = {}
    seen: set[tuple[str, str]] = set()
    newest = Weighed.objects.filter(pk__in=last).order_by("-pk")
    for line, lot, key in newest.values_list("line", "lot", "lot_key"):
        name = named[line]
        if (name, key) not in seen and len(found.get(name, ())) < OFFERED:
            seen.add((name, key))
            found.setdefault(name, []).append(lot)
    return found
