"""Pieces that were asked a day for, carried over into the form of a new job."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

from django.utils.translation import gettext as _

from jobs.office import date_forms
from jobs.services.asked import Asked, materials
from shop.http import ShopRequest


@dataclass(frozen=True)
class Carried:
    """`asked` is None where what was carried can't be taken any more; `trouble` says why."""

    asked: Asked | None
    hidden: list[tuple[str, str]]
    trouble: str = ""

    @property
    def query(self) -> str:
        return urlencode(self.hidden)


def carried_pieces(request: ShopRequest) -> Carried | None:
    """None where nothing was carried: a new job as ever, its pieces to come."""
    data = request.POST if request.method == "POST" else request.GET
    if not date_forms.line_numbers(data):
        return None
    asking = date_forms.typed(data, request.shop, materials())
    hidden = list(date_forms.carried(data))
    if asking.is_valid():
        return Carried(asking.asked, hidden)
    faults = [
        f"{line[name].label}: {error}"
        for line in asking.lines
        for name, errors in line.errors.items()
        for error in errors
    ]
    trouble = _("The pieces asked for can't be taken over as they are. %(faults)s") % {
        "faults": " ".join(faults)
    }
    return Carried(None, hidden, trouble)
