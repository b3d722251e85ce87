"""Sheets of paper: each view asks a service for a PDF and hands it on."""

from __future__ import annotations

from django.http import HttpResponse
from django.views.decorators.http import require_safe

from jobs.services.sheets.tags import tags_pdf
from jobs.sheets.answer import asked_for, sheet
from shop.access import needs
from shop.http import ShopRequest
from shop.models import Shop


@needs("sheets.see")
@require_safe
def tags(request: ShopRequest) -> HttpResponse:
    def write(shop: Shop, paper: str) -> bytes:
        return tags_pdf(asked_for(request), shop, paper)

    return sheet(request, "form-tags", write)
