"""A batch's record on the shop's paper, its photos in it. Drawn without fetching."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.template.loader import render_to_string
from django.utils import timezone, translation

from jobs.mixing.record_words import RecordPage, dew_basis
from jobs.services.kept import PhotoRow
from jobs.services.photos import file_of
from shop.templatetags.measures import moment

MOST_PHOTOS = 24
SCHEME = "photo:"


def record_pdf(page: RecordPage) -> bytes:
    shop, kept = page.shop, {row.photo.name: row for row in page.photos if _there(row)}
    shown = list(kept.values())[:MOST_PHOTOS]
    with translation.override("en"), timezone.override(shop.zone):
        markup = render_to_string(
            "mixing/record_sheet.html",
            {
                "page": page,
                "record": page.record,
                "batch": page.record.batch,
                "shop": shop,
                "paper": "Letter" if shop.us else "A4",
                "photos": shown,
                "more_photos": len(page.photos) - len(shown),
                "dew_basis": dew_basis(shop),
                "as_of": moment(page.now),
            },
        )
    return drawn(markup, kept)


def drawn(markup: str, kept: Mapping[str, PhotoRow]) -> bytes:
    """Nothing is read but the small files of photos that are on this record."""
    # Workers and commands that print nothing start without it.
    from weasyprint import HTML
    from weasyprint.urls import URLFetcher, URLFetcherResponse

    class OnlyPhotos(URLFetcher):
        def fetch(self, url: str, headers: Any = None) -> URLFetcherResponse:
            row = kept.get(url.removeprefix(SCHEME)) if url.startswith(SCHEME) else None
            if row is None:
                raise ValueError(f"A record fetches nothing, and {url[:80]} was asked for.")
            content = file_of(row.photo, small=True).read_bytes()
            return URLFetcherResponse(url, content, {"Content-Type": "image/jpeg"})

    pdf: bytes = HTML(string=markup, url_fetcher=OnlyPhotos(fail_on_errors=True)).write_pdf()
    return pdf


def _there(row: PhotoRow) -> bool:
    return file_of(row.photo, small=True).exists()
