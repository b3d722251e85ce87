"""What every sheet is made of: the pieces that are asked for, the paper, the shop."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpResponse

from jobs.services.sheets.chosen import Chosen, chosen
from jobs.services.sheets.paper import paper_of
from shop.http import ShopRequest
from shop.models import Shop
from shop.printed import printed

Write = Callable[[Shop, str], bytes]  # the shop and the paper


def sheet(request: ShopRequest, name: str, write: Write) -> HttpResponse:
    """What `write` makes on the paper that is asked for."""
    paper = paper_of(request.GET.get("paper", ""), request.shop)
    return printed(request, name, lambda: write(request.shop, paper))


def asked_for(request: ShopRequest) -> list[Chosen]:
    """Raises Refused as `chosen` does."""
    asked = {name: request.GET.get(name, "")[:2000] for name in ("pieces", "cast", "job")}
    return chosen(**asked)
