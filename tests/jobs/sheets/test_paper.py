from __future__ import annotations

from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client
from weasyprint import HTML, Document

from jobs.models import Job
from jobs.services.readiness import rebuild
from jobs.services.sheets.chosen import chosen
from jobs.services.sheets.paper import END, largest, reached
from jobs.services.sheets.route_sheet import route_pdf
from shop.boxes import boxes_heard
from tests.factories import NOW, make_job, make_person, make_piece, make_shop, make_working_week
from tests.jobs.sheets.reading import read, words

LINE = "Sand, cement, water, polymer and glass, weighed out to the gram by two of us. "
# A letter of the last private plane, where nobody may publish one: no font can have it.
NO_FONT = "\U0010fffd"


class Drawn:
    """So many lines of text, on paper as small as a card; it counts how often it is drawn."""

    def __init__(self, lines: int) -> None:
        self.lines = lines
        self.sizes: list[float] = []

    def __call__(self, size: float) -> Document:
        self.sizes.append(size)
        return HTML(
            string=f"<style>@page {{ size: 100mm 100mm; margin: 5mm }} "
            f"body {{ font: {size}pt 'DejaVu Sans'; margin: 0 }}</style>"
            f"<div>{LINE * self.lines}</div><div id='{END}'></div>"
        ).render()


def test_what_fits_is_drawn_once() -> None:
    drawn = Drawn(5)
    assert len(largest(drawn, (10, 9, 8, 7)).pages) == 1
    assert drawn.sizes == [10]


@pytest.mark.parametrize("lines", range(18, 34, 3))
def test_the_largest_type_that_fits_is_found_in_few_drawings(lines: int) -> None:
    sizes = (10.0, 9.0, 8.0, 7.0)
    drawn = Drawn(lines)
    found = largest(drawn, sizes)
    fitting = [size for size in sizes if len(Drawn(lines)(size).pages) == 1]
    assert len(drawn.sizes) <= 3
    if fitting:
        assert len(found.pages) == 1
        assert drawn.sizes[-1] <= fitting[0]
        assert sizes.index(drawn.sizes[-1]) - sizes.index(fitting[0]) <= 1


def test_what_fits_at_no_size_stands_in_easy_letters_on_more_pages() -> None:
    drawn = Drawn(90)
    found = largest(drawn, (10, 9, 8, 7))
    assert drawn.sizes == [10]
    assert len(found.pages) > 1
    assert 0 < reached(found) <= 1


@pytest.fixture
def job(db: None) -> Job:
    make_working_week()
    make_shop(name='Ann\'s North-End \\ "Thin" Concrete')
    job = make_job("217", title="Kitchen")
    make_piece(job, "A", name=f"Shelf {NO_FONT}")
    make_piece(job, "B", name="Sill")
    rebuild(NOW)
    return job


def test_a_shops_name_stands_at_the_foot_as_it_is_written(job: Job) -> None:
    shop = make_shop()
    shop.name = 'Ann\'s North-End \\ "Thin" Concrete'
    pages = read(route_pdf(chosen(pieces="217-B,217-B,217-A"), shop, "A4")).pages
    assert len(pages) == 2
    for page, code in zip(pages, ("217-B", "217-A"), strict=True):
        text = words(page)
        assert f"{shop.name} · Route of {code}" in text
        assert "page 1 of 1" in text


@pytest.mark.parametrize(
    "address",
    [
        "/sheets/tags.pdf?pieces=217-A",
        "/sheets/route.pdf?pieces=217-A",
        "/sheets/jobs/217/customer.pdf",
        "/pieces/217-A/sheet.pdf",
    ],
)
def test_a_letter_that_would_be_a_box_is_told_before_it_is_printed(
    job: Job, client: Client, address: str
) -> None:
    cache.clear()
    client.force_login(make_person("office"))
    for _ in range(2):  # from what is kept, too
        told = client.get(address)
        assert told.status_code == 422
        assert NO_FONT in told.content.decode()
    anyway = client.get(address, {**dict(told.wsgi_request.GET.items()), "boxes": "yes"})
    assert anyway["Content-Type"] == "application/pdf"
    assert f"{address.partition('?')[0]}?" in told.content.decode()
    assert "boxes=yes" in told.content.decode()
    fine = client.get("/sheets/tags.pdf?pieces=217-B")
    assert fine["Content-Type"] == "application/pdf"


def test_only_who_listens_hears_of_boxes(caplog: Any) -> None:
    page = HTML(string=f"<p style=\"font-family: 'DejaVu Sans'\">{NO_FONT}x</p>")
    with boxes_heard() as outer:
        with boxes_heard() as inner:
            page.write_pdf()
        assert list(inner) == [NO_FONT]
    assert list(outer) == [NO_FONT]
    with boxes_heard() as after:
        HTML(string="<p>x</p>").write_pdf()
    assert not after
