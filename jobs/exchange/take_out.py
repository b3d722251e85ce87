"""Jobs and pieces taken out as one table."""

from __future__ import annotations

from django.http import HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from jobs.exchange.bring_in import KINDS, show
from jobs.exchange.forms import WantedForm
from jobs.services.exchange import out
from shop.access import may, needs
from shop.http import ShopRequest
from shop.services.errors import Refused

WRITE = {"csv": out.csv_out, "xlsx": out.xlsx_out}


@needs("jobs.take_out")
@require_safe
def take_out(request: ShopRequest) -> HttpResponse:
    return show(request, "out.html", {"form": WantedForm(shop=request.shop)})


@needs("jobs.take_out")
@require_safe
def table(request: ShopRequest) -> HttpResponse:
    """The file itself; what was asked for wrongly comes back as it was asked."""
    form = WantedForm(request.GET or None, shop=request.shop)
    if not form.is_valid():
        return show(request, "out.html", {"form": form}, 422)
    kind = form.cleaned_data["kind"]
    try:
        content = WRITE[kind](form.wanted, request.shop, prices=may(request.user, "prices.see"))
    except Refused as refusal:
        form.refuse(refusal)
        return show(request, "out.html", {"form": form}, 422)
    response = HttpResponse(content, content_type=KINDS[kind][0])
    day = timezone.localdate(timezone=request.shop.zone)
    response["Content-Disposition"] = f'attachment; filename="jobs-{day:%Y-%m-%d}.{kind}"'
    return response
