"""A piece's figure on one sheet of paper, for the wall by the form. Drawn without fetching."""

from __future__ import annotations

from django.template.loader import render_to_string
from django.utils import timezone, translation
from weasyprint import HTML

from jobs.piece.coat_part import coat_part
from jobs.piece.figure import SHEET, Figure
from jobs.piece.lifting_part import lifting_part
from jobs.piece.limits_part import limits_part
from jobs.piece.table import route_rows
from jobs.services.course import OpenPiece
from jobs.services.letter import fetch_nothing
from jobs.services.uses import uses_of

# Letters in points, and the figure's share of the page's width; from easy to small, the first at
# which everything stands on one page.
SIZES = (
    (9.0, 100),
    (8.5, 98),
    (8.0, 94),
    (7.5, 90),
    (7.0, 84),
    (6.8, 78),
    (6.5, 72),
    (6.2, 66),
    (6.0, 58),
)


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
    for size, share in SIZES:
        with translation.override("en"), timezone.override(shop.zone):
            sized = {"size": size, "share": share, "route": route_rows(opened.outlook)}
            markup = render_to_string("piece/sheet.html", context | sized)
        document = HTML(string=markup, url_fetcher=fetch_nothing).render()
        if len(document.pages) == 1:
            break
    pdf: bytes = document.write_pdf()
    return pdf
