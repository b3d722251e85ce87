from __future__ import annotations

import datetime as dt
import io
import re

import pytest
from django.utils import translation
from pypdf import PdfReader

from jobs.models import Job
from jobs.services.letter import Letter, fetch_nothing, letter_pdf
from jobs.services.readiness import outlook_of
from shop.models import Shop
from tests.factories import (
    HOUR,
    NOW,
    make_customer,
    make_job,
    make_mark,
    make_piece,
    make_shop,
    make_working_week,
)

pytestmark = pytest.mark.django_db
DAY = dt.date(2026, 4, 10)


@pytest.fixture
def shop() -> Shop:
    make_working_week()
    return make_shop(
        name="Ferrow Bend Thin Concrete", address="14 Millrace Lane", phone="(555) 555-0100"
    )


@pytest.fixture
def job(shop: Shop) -> Job:
    customer = make_customer("Ada Fenwick-Lowe", address="4 Quay Lane\nFerrow Bend")
    job = make_job("217", DAY, customer=customer)
    make_mark(make_piece(job, "A", name="Island top"), "cast", NOW - 20 * HOUR)
    return job


def read(job: Job, shop: Shop, body: str = "It will be ready.", address: str = "") -> PdfReader:
    outlook = outlook_of(job.number, NOW)
    assert outlook
    letter = Letter(job, outlook, shop, DAY, body, NOW.date(), address)
    return PdfReader(io.BytesIO(letter_pdf(letter)))


def words(reader: PdfReader) -> str:
    return " ".join(" ".join(page.extract_text() for page in reader.pages).split())


def test_it_says_who_to_whom_what_when_and_how_sure(job: Job, shop: Shop) -> None:
    reader = read(job, shop, address="https://example.com/p/abc/")
    text = words(reader)
    for said in [
        "Ferrow Bend Thin Concrete", "14 Millrace Lane", "Ada Fenwick-Lowe", "4 Quay Lane",
        "Friday 10 April", "such a day is kept", "times in 20", "217-A", "Island top", "16.1 ft²", "131 lb", "cast",
        "Next: taking it out of its form", "Full use from", "https://example.com/p/abc/",
        "18 March 2026",
    ]:  # fmt: skip
        assert said in text
    assert len(reader.pages) == 1
    fonts = reader.pages[0]["/Resources"]["/Font"].values()
    assert all("DejaVu" in font.get_object()["/BaseFont"] for font in fonts)


def test_it_is_in_english_whoever_prints_it(job: Job, shop: Shop) -> None:
    with translation.override("es"):
        assert re.search(r"Full use from \w{3} \d+ (Mar|Apr)\.", words(read(job, shop)))


@pytest.mark.parametrize(("units", "width"), [("us", 612), ("si", 595)])
def test_it_is_on_the_paper_of_the_shops_units(job: Job, units: str, width: int) -> None:
    reader = read(job, make_shop(units=units))
    assert round(float(reader.pages[0].mediabox.width)) == width
    assert ("ft²" in words(reader)) == (units == "us")


def test_a_long_order_with_a_long_text_stays_on_one_page(job: Job, shop: Shop) -> None:
    for letter in "BCDEFGHIJKLMNOPQRSTUVWXYZ":
        make_piece(job, letter, name=f"A piece with quite a long name {letter}")
    reader = read(job, shop, body="We thank you for your patience with us. " * 30)
    assert len(reader.pages) == 1
    assert "and 12 more" in words(reader)


def test_names_are_words_not_markup_and_nothing_is_fetched(job: Job, shop: Shop) -> None:
    job.title = "<img src='http://127.0.0.1:9/x.png'>Island"
    job.customer.name = "<b>عائشة & Co</b>"
    text = words(read(job, shop, body="<link rel=stylesheet href='file:///etc/passwd'>"))
    assert "<img src='http://127.0.0.1:9/x.png'>Island" in text
    assert "<link rel=stylesheet" in text
    with pytest.raises(ValueError, match="fetches nothing"):
        fetch_nothing("file:///etc/passwd")
