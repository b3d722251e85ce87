"""The page of one piece over time, and its sheet."""

from __future__ import annotations

import io
import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from pypdf import PdfReader

from jobs.models import Batch, Job, Mark, Piece
from jobs.piece.sheet import SHARES
from jobs.services.sheets.paper import LEAST
from shop.models import Role
from tests import factories
from tests.factories import DAY, NOW
from tests.jobs.piece.conftest import signed_in

PAGE = "/pieces/217-A/"
THOUGHT = {"cast_at_0": "", "cast_at_1": "", "celsius": "", "mix": "", "sealer": ""}


def shown(client, code: str = "217-A", **thought: str) -> str:
    answer = client.get(f"/pieces/{code}/", THOUGHT | thought if thought else {})
    assert answer.status_code == 200, answer.content.decode()
    return answer.content.decode()


def words(html: str) -> str:
    return " ".join(re.sub(r"<[^>]*>", " ", html).split())


def test_it_draws_the_piece_and_has_the_same_in_tables(as_owner, cast):
    page = shown(as_owner)

    assert page.count('<svg class="course') == 2
    assert page.count("<caption>") == 8
    text = words(page)
    assert "Cast Tue 17 Mar 09:00" in text
    assert "demold and flip 2,500" in text
    assert "placeholder, not this shop&#x27;s concrete" in text.replace("'", "&#x27;")
    assert "safe" not in text.lower()


def test_no_style_is_written_into_the_page(as_owner, cast):
    page = shown(as_owner, celsius="80")

    assert "style=" not in page
    assert "<style" not in page


def test_a_thought_is_answered_beside_todays(as_owner, cast):
    text = words(shown(as_owner, celsius="84"))

    assert "As it is What if" in text
    assert "sooner" in text
    assert "Promise of 217" in text
    assert "holds," in text


def test_htmx_gets_the_answer_alone(as_owner, cast):
    got = as_owner.get(PAGE, THOUGHT | {"celsius": "84"}, headers={"HX-Request": "true"})
    body = got.content.decode().strip()

    assert "<html" not in body
    assert '<div id="answer"' in body
    assert 'id="cast-which" hx-swap-oob="true"' in body
    assert "HX-Request" in got["Vary"]


def test_the_pages_own_first_answer_is_an_invitation(as_owner, cast):
    assert "Type a casting time or a temperature" in shown(as_owner)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"celsius": "hot"}, "not a number"),
        ({"celsius": "300"}, "At most 113 °F."),
        ({"celsius": "\x00"}, "Null characters"),
        ({"mix": "9999"}, "Choose another"),
        ({"sealer": "-1; --"}, "Choose another"),
        ({"cast_at_0": "2026-03-20"}, "Give a date and a time."),
        ({"cast_at_0": "soon", "cast_at_1": "09:00"}, "Write a date."),
        ({"cast_at_0": "2026-03-08", "cast_at_1": "02:30"}, "does not exist"),
        ({"cast_at_0": "2026-11-01", "cast_at_1": "01:30"}, "happens twice"),
        ({"cast_at_0": "2020-01-01", "cast_at_1": "09:00"}, "air is read here from"),
        ({"cast_at_0": "0001-01-01", "cast_at_1": "00:00"}, "air is read here from"),
        ({"cast_at_0": "9999-12-31", "cast_at_1": "23:59"}, "lies beyond the calendar"),
        ({"cast_at_0": "2031-12-31", "cast_at_1": "23:59"}, "days ahead"),
    ],
)
def test_what_is_wrong_is_said_and_what_was_typed_stays(as_owner, cast, typed, said):
    got = as_owner.get(PAGE, THOUGHT | {"celsius": "72"} | typed)
    page = got.content.decode()

    assert got.status_code == 422
    assert said in page
    for value in typed.values():
        assert f'value="{value}"' in page or value in {"\x00", "9999", "-1; --", "soon"}
    if "celsius" not in typed:
        assert 'value="72"' in page


def test_of_a_time_that_happens_twice_either_may_be_meant(as_owner, cast):
    twice = {"cast_at_0": "2026-11-01", "cast_at_1": "01:30"}
    page = as_owner.get(PAGE, THOUGHT | twice).content.decode()

    assert "the first, CDT" in page
    meant = as_owner.get(PAGE, THOUGHT | twice | {"cast_at_2": "1"})
    assert "happens twice" not in meant.content.decode()


def test_looking_and_thinking_write_nothing(as_owner, cast):
    before = [model.objects.count() for model in (Job, Piece, Mark, Batch)]
    with CaptureQueriesContext(
        connection,
    ) as queries:
        shown(as_owner, celsius="84", cast_at_0="2026-03-19", cast_at_1="09:00")

    written = [q["sql"] for q in queries if re.match(r"(INSERT|UPDATE|DELETE)", q["sql"])]
    assert written == []
    assert [model.objects.count() for model in (Job, Piece, Mark, Batch)] == before


@pytest.mark.parametrize("thought", [{}, {"celsius": "75"}])
def test_as_many_queries_for_much_as_for_little(as_owner, cast, thought):
    def count() -> int:
        with CaptureQueriesContext(connection) as queries:
            shown(as_owner, **thought)
        return len(queries)

    shown(as_owner, **thought)
    few = count()
    for letter in "BCDEF":
        piece = factories.make_piece(cast.job, letter)
        factories.make_mark(piece, "cast", NOW - DAY)
        factories.make_mark(piece, "demold", NOW)
    factories.make_mark(cast, "demold", NOW)
    factories.make_readings(cast.room, NOW - 3 * DAY - DAY / 7, 40, every_minutes=3)
    for name in ("Grey", "Black", "Sand"):
        factories.make_mix(name=name)
        factories.make_sealer(name=name)

    assert count() == few
    assert few < 36


def test_a_piece_typed_in_small_letters_is_found(as_owner, cast):
    assert as_owner.get("/pieces/217-a/")["Location"] == PAGE


@pytest.mark.parametrize("code", ["217-Z", "999-A", "217", "21 7-A", "%00-A", "A" * 300 + "-A"])
def test_a_piece_that_there_is_not_is_not_found(as_owner, cast, code):
    assert as_owner.get(f"/pieces/{code}/").status_code == 404
    assert as_owner.get(f"/pieces/{code}/sheet.pdf").status_code == 404


def test_a_piece_without_a_course_still_has_its_page_and_sheet(as_owner, waiting):
    waiting.route.steps.all().delete()

    assert "Nothing can be drawn" in shown(as_owner)
    assert "Nothing can be drawn" in sheet(as_owner)[1]


def test_nothing_of_the_customer_is_on_it(cast):
    job = cast.job
    job.site, job.price = "12 Quarry Lane", 4321
    job.save()
    crew = signed_in(factories.make_person(Role.CREW))

    for text in (shown(crew), sheet(crew)[1]):
        assert job.title in text
        for secret in (job.customer.name, job.customer.email, "Quarry", "4321"):
            assert secret not in text


def test_the_board_and_the_floor_lead_to_it(as_owner, cast):
    assert f'href="{PAGE}"' in as_owner.get("/board/jobs/217/").content.decode()
    assert f'href="{PAGE}"' in as_owner.get("/floor/pieces/217-A/").content.decode()


def sheet(client, code: str = "217-A") -> tuple[PdfReader, str]:
    got = client.get(f"/pieces/{code}/sheet.pdf")
    assert got.status_code == 200
    assert got["Content-Type"] == "application/pdf"
    reader = PdfReader(io.BytesIO(got.content))
    return reader, " ".join(" ".join(page.extract_text() for page in reader.pages).split())


def test_the_sheet_has_the_figure_and_the_route_on_two_pages_at_the_most(as_owner, cast):
    factories.make_mark(cast, "demold", NOW, by=factories.make_person(name="Ben Carrow"))
    reader, text = sheet(as_owner)

    count = len(reader.pages)
    assert count <= 2
    assert f"page {count} of {count}" in text
    for said in (
        "217-A",
        "Slab A",
        "Water in Tue 17 Mar 09:00",
        "Ready",
        "Promised Fri 10 Apr 15:00",
        "Strength, psi",
        "deliver 5,000",
        "grind 3,000",
        "Ben Carrow",
        "placeholder, not this shop's concrete: ±30 % band",
        "seal coat 2",
        "now",
    ):
        assert said in text, said


@pytest.mark.parametrize(("units", "height"), [("us", 792), ("si", 842)])
def test_the_sheet_fits_the_shops_paper(as_owner, cast, units, height):
    factories.make_shop(units=units)
    cast.sealer.coats = 6
    cast.sealer.save()
    cast.name = "Long leg of the island with a sink cutout and a waterfall"
    cast.save()
    reader, _ = sheet(as_owner)

    # In letters that are read on a wall, 7 pt at the least: many coats take a second page.
    assert len(reader.pages) <= 2
    assert min(SHARES) >= LEAST
    assert float(reader.pages[0].mediabox.height) == pytest.approx(height, abs=1)


def test_what_is_typed_as_a_name_is_text_on_the_page_and_the_sheet(as_owner, cast):
    cast.room.name = "<b>Hall</b> & Co"
    cast.room.save()

    assert "<b>Hall" not in shown(as_owner)
    assert "<b>Hall</b> & Co" in sheet(as_owner)[1]
