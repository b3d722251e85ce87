"""The readiness letter: one page, drawn by WeasyPrint, which may fetch nothing."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any, NoReturn

from django.template.loader import render_to_string
from django.utils import translation

from jobs.models import Job
from jobs.services.notice_text import lowered
from jobs.services.outlook import JobOutlook
from jobs.services.plain_words import day_words, listed, piece_words
from jobs.services.sure_words import sureness
from shop.models import Shop

# From easy to small: the first at which everything stands on one page.
SIZES = (10.5, 9.5, 8.5, 7.5)
ROWS = 14  # pieces shown one by one; an order beyond that is summed up


@dataclass(frozen=True)
class Letter:
    job: Job
    outlook: JobOutlook
    shop: Shop
    told_on: dt.date
    body: str
    written_on: dt.date
    address: str = ""


def letter_pdf(letter: Letter) -> bytes:
    from weasyprint import HTML  # workers and commands that print nothing start without it

    context = _context(letter)
    for size in SIZES:
        with translation.override("en"):  # the customer's language, whoever prints it
            markup = render_to_string("customer/letter.html", context | {"size": size})
        document = HTML(string=markup, url_fetcher=fetch_nothing).render()
        if len(document.pages) == 1:
            break
    pdf: bytes = document.write_pdf()
    return pdf


def fetch_nothing(url: str, *args: Any, **kwargs: Any) -> NoReturn:
    raise ValueError(f"A letter fetches nothing, and {url[:80]} was asked for.")


def _context(letter: Letter) -> dict[str, Any]:
    outlook = letter.outlook
    pieces = [piece_words(piece) for piece in outlook.pieces]
    sure = sureness(outlook, letter.told_on)
    nexts = list(dict.fromkeys(piece.next for piece in pieces if piece.next))
    return {
        "letter": letter,
        "job": letter.job,
        "shop": letter.shop,
        "paper": "Letter" if letter.shop.us else "A4",
        "title": lowered(letter.job.title),
        "day": day_words(letter.told_on, letter.written_on),
        "written": f"{letter.written_on.day} {letter.written_on:%B %Y}",
        "sure": sure.words,
        "firm": sure.firm,
        "pieces": pieces[:ROWS],
        "more": len(pieces) - ROWS if len(pieces) > ROWS else 0,
        "area_m2": outlook.area_m2,
        "weight_kg": outlook.weight_kg,
        "next": listed(nexts),
        "light_use": _latest(outlook, "light_use_late", letter.shop),
        "full_use": _latest(outlook, "full_use_late", letter.shop),
    }


def _latest(outlook: JobOutlook, name: str, shop: Shop) -> dt.date | None:
    moments = [getattr(piece, name) for piece in outlook.pieces]
    if not moments or None in moments:
        return None
    local: dt.datetime = max(moments).astimezone(shop.zone)
    return local.date()
