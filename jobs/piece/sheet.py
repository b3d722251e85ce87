"""A piece's figure on one sheet of paper, for the wall by the form. Drawn without fetching."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.template.loader import render_to_string
from django.utils import timezone, translation

from jobs.piece.coat_part import coat_part
from jobs.piece.figure import SHEET, Figure
from jobs.piece.lifting_part import lifting_part
from jobs.piece.limits_part import limits_part
from jobs.piece.table import route_rows
from jobs.services.course import OpenPiece
from jobs.services.sheets.paper import largest, rendered
from jobs.services.uses import uses_of

if TYPE_CHECKING:
    from weasyprint import Document

# Letters in points, and the figure's share of the page's width; from easy to small, the first at
# which everything stands on one page. Smaller nobody reads it, in the figure least of all: then it
# takes two pages.
SHARES = {9.0: 100, 8.5: 98, 8.0: 95, 7.5: 92, 7.0: 88}
PAGES = 2  # at the most, if it can be


def sheet_pdf(opened: OpenPiece) -> bytes:
    shop = opened.facts.shop
    course = opened.course
    context = {
        "shop": shop,
        "paper": "Letter" if shop.us else "A4",
        "piece": opened.outlook,
        "job": opened.job_outlook,
        "now": opened.facts.now,
        "course": course,
        "seal": coat_part(opened),
        "uses": uses_of(opened.outlook),
        "limits": limits_part(opened),
        "lifting": lifting_part(opened),
        "figure": Figure(course, opened.outlook, shop, SHEET) if course else None,
    }

    def drawn(size: float) -> Document:
        with translation.override("en"), timezone.override(shop.zone):
            sized = {"size": size, "share": SHARES[size], "route": route_rows(opened.outlook)}
            return rendered(render_to_string("piece/sheet.html", context | sized))

    document = largest(drawn, tuple(SHARES))
    if len(document.pages) > PAGES:
        document = largest(drawn, tuple(SHARES)[1:], PAGES)
    pdf: bytes = document.write_pdf()
    return pdf
