from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from jobs.models import Job
from jobs.services.errors import Refused
from jobs.services.readiness import rebuild
from jobs.services.sheets.chosen import chosen
from jobs.services.sheets.tags import tag_of, tags_pdf
from shop.models import Role, Shop
from tests.factories import (
    DAY,
    HOUR,
    NOW,
    make_batch,
    make_job,
    make_mark,
    make_mix,
    make_person,
    make_piece,
    make_room,
    make_shop,
    make_working_week,
)
from tests.jobs.sheets.reading import addresses, read, size_mm, words, y_of

pytestmark = pytest.mark.django_db
SITE = "https://dates.example.com"
SHAPE = {"outline": "rectangle", "length": 2.4384, "width": 0.6477, "edges": [], "cutouts": []}


@pytest.fixture(autouse=True)
def _site(settings: Any) -> None:
    settings.SITE_URL = SITE


@pytest.fixture
def shop() -> Shop:
    make_working_week()
    return make_shop()


@pytest.fixture
def job(shop: Shop) -> Job:
    job = make_job("217")
    make_piece(job, "A", name="Island top", shape=SHAPE, area_m2=1.579)
    make_piece(job, "B", name="Waterfall end")
    make_mark(make_piece(job, "C", name="Sill"), "cast", NOW - 6 * HOUR)
    make_batch(job.pieces.get(letter="A"), planned_for=NOW + DAY)
    rebuild(NOW)
    return job


def pdf_of(shop: Shop, paper: str = "Letter", **which: str) -> bytes:
    return tags_pdf(chosen(**which), shop, paper)


@pytest.mark.parametrize(("paper", "size"), [("Letter", (215.9, 279.4)), ("A4", (210.0, 297.0))])
def test_two_to_a_sheet_and_each_opens_its_piece_on_the_floor(
    job: Job, shop: Shop, paper: str, size: tuple[float, float]
) -> None:
    pages = read(pdf_of(shop, paper, job="217")).pages

    assert [size_mm(page) for page in pages] == [size, size]
    assert [addresses(page) for page in pages] == [
        [f"{SITE}/floor/pieces/217-A/", f"{SITE}/floor/pieces/217-B/"],
        [f"{SITE}/floor/pieces/217-C/"],
    ]


def test_it_says_what_is_cast_and_when_it_may_come_out(job: Job, shop: Shop) -> None:
    text = words(pdf_of(shop, pieces="217-a"))
    for said in [
        "217-A", "Island top", "Job 217, Kitchen island", "White premix", "96 × 25 1/2 in",
        "3/4 in thick", "about 138 lb, 3 people to demold", "set for Thu 19 Mar 09:00",
        "Fri 10 Apr", "Do not demold before (likely)", "Fri 20 Mar", "early", "late",
        "2,500 psi by the mix's curve", "20 h at 68 °F", "16 h after water-in", "by its section",
        "If the water goes in as planned, Thu 19 Mar 09:00", "placeholder curve",
        "Waterproof gloves", "front edge this way", "Agree who calls the lift",
    ]:  # fmt: skip
        assert said in text, said
    assert "safe " not in text.lower().replace("safety", "")


def test_what_is_not_known_is_left_to_be_written(job: Job, shop: Shop) -> None:
    unset = words(pdf_of(shop, pieces="217-B"))
    assert "No cast is set that can still be kept, so no time is printed" in unset
    assert "____" in unset
    assert "16.1 ft²" in unset
    cast = words(pdf_of(shop, pieces="217-C"))
    assert "Water in Wed 18 Mar 03:00" in cast

    make_mark(job.pieces.get(letter="C"), "demold", NOW + 20 * HOUR)
    rebuild(NOW + 21 * HOUR)
    done = words(pdf_of(shop, pieces="217-C"))
    assert "Demolded Thu 19 Mar 05:00" in done
    assert "Do not demold" not in done


def test_one_without_a_promise_and_one_whose_shape_can_not_be_read(shop: Shop) -> None:
    job = make_job("300", None)
    make_piece(job, "A", shape={"outline": "rectangle"})
    rebuild(NOW)
    text = words(pdf_of(shop, job="300"))
    assert "Promised nothing yet" in text
    assert "16.1 ft²" in text


def test_the_longest_words_stay_on_their_tag(shop: Shop) -> None:
    """In letters that are about as wide as they come."""
    job = make_job("WWWWWWWWWW", title="MW" * 40)
    room, mix = make_room("Mw" * 20), make_mix(name="Wm" * 20)
    for letter in ("AA", "BB"):
        piece = make_piece(job, letter, name="Mw" * 30, shape=SHAPE, room=room, mix=mix)
        make_mark(piece, "cast", NOW - HOUR)
        make_mark(piece, "", NOW, kind="hold", reason="W" * 200)
    rebuild(NOW)
    for paper in ("Letter", "A4"):
        pages = read(pdf_of(shop, paper, job="WWWWWWWWWW")).pages
        assert len(pages) == 1
        ends, cautions = y_of(pages[0], "holds then"), y_of(pages[0], "Wet cement burns")
        assert len(ends) == len(cautions) == 2
        for end, caution in zip(ends, cautions, strict=True):
            assert end > caution + 3.0
        assert min(y_of(pages[0], "no more", "turning")) > 5.0


def test_a_name_from_right_to_left_is_drawn(shop: Shop) -> None:
    job = make_job("301", title="مطبخ الحديقة")
    make_piece(job, "A", name="שולחן ארוך")
    rebuild(NOW)
    pdf = pdf_of(shop, job="301")
    text = words(pdf)
    assert "ארוך" in text or "ךורא" in text
    font = [font.get_object() for font in read(pdf).pages[0]["/Resources"]["/Font"].values()]
    assert all("DejaVu" in one["/BaseFont"] for one in font)


def test_what_is_not_there_is_named(job: Job, shop: Shop) -> None:
    for which, said in [
        ({}, "Say which pieces"),
        ({"pieces": "217-Z"}, "no piece 217-Z"),
        ({"pieces": "217"}, "'217' is no piece's code"),
        ({"cast": "99999"}, "no such cast"),
        ({"cast": "x"}, "no such cast"),
        ({"job": "999"}, "no job 999"),
        ({"job": "../etc"}, "no job's number"),
    ]:
        with pytest.raises(Refused, match=said):
            chosen(**which)
    empty = make_job("302")
    with pytest.raises(Refused, match="has no pieces yet"):
        chosen(job=empty.number)


def test_a_cast_has_its_own_pieces(job: Job, shop: Shop) -> None:
    batch = job.pieces.get(letter="A").batch
    assert batch
    assert [one.piece.code for one in chosen(cast=str(batch.pk))] == ["217-A"]


def test_thirty_take_as_many_queries_as_three(job: Job, shop: Shop) -> None:
    def queries(number: str) -> int:
        with CaptureQueriesContext(
            connection,
        ) as seen:
            assert [tag_of(one, shop) for one in chosen(job=number)]
        return len(seen)

    many = make_job("400")
    for number in range(30):
        make_piece(many, f"{chr(65 + number // 26)}{chr(65 + number % 26)}", shape=SHAPE)
    rebuild(NOW)
    assert queries("400") == queries("217") <= 3


def test_the_page_answers_with_a_pdf_or_says_why_not(job: Job, client: Client) -> None:
    client.force_login(make_person(Role.CREW))
    found = client.get("/sheets/tags.pdf?job=217&paper=a4")
    assert found["Content-Type"] == "application/pdf"
    assert size_mm(read(found.content).pages[0]) == (210.0, 297.0)
    assert "no-store" in found["Cache-Control"]

    missing = client.get("/sheets/tags.pdf?pieces=217-Z")
    assert missing.status_code == 422
    assert "There is no piece 217-Z" in missing.content.decode()
