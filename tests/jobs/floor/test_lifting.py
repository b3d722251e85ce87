"""The floor's card says which way a piece with a section may be lifted, and when."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from jobs.models import Piece
from jobs.services.sections import save_section
from shop.models import Role, RouteStep
from tests import factories
from tests.jobs.piece.section_helpers import INCH, words

SHAPE = {
    "outline": "rectangle",
    "length": 96 * INCH,
    "width": 25.5 * INCH,
    "edges": [],
    "ribs": [],
    "cutouts": [],
    "strongbacks": [],
}
BAR = {
    "x": 0.5, "y": 0.4, "length": 1.4, "width": 0.09, "depth": 0.04,
    "modulus": 9000.0, "density": 500.0, "bonded": False, "material": "wood",
}  # fmt: skip


def give_section(piece: Piece, **parts: object) -> None:
    save_section(piece_id=piece.pk, version=piece.version, shape=SHAPE | parts)


def card(answer) -> str:
    page = answer.content.decode()
    start = page.index('<p class="lifting">') if '<p class="lifting">' in page else len(page)
    return words(page[start : page.find("</p>", start)]).replace("&#x27;", "'")


def test_the_demold_card_says_ways_people_and_times(hand, crew, green):
    give_section(green)

    line = card(hand(crew).floor())

    assert line.startswith("Strip by tilting not before ")
    assert "flip over one long edge not before 13:" in line  # set 6 h after the cast at 07:00
    assert "; 3 people; " in line
    assert "carry flat by its ends never by this mix's curve." in line
    assert "By its section, this mix's curve and the room's air; the shop set the factors." in line
    assert "safe" not in line.lower()


def test_what_is_had_already_has_no_time(hand, crew, cured):
    give_section(cured)

    assert card(hand(crew).page(cured)).startswith(
        "Strip by tilting; flip over one long edge; 3 people; carry on edge; "
    )


def test_strongbacks_are_named_where_it_counts_on_them(hand, crew, cured):
    give_section(cured, strongbacks=[BAR])

    assert card(hand(crew).floor()).startswith("With its strongbacks on: strip by tilting;")


def test_in_spanish(hand, cured):
    give_section(cured)
    marisol = factories.make_person(Role.CREW, name="Marisol Quint", language="es")

    line = card(hand(marisol).floor())

    assert "Desmoldar volcándola sobre un lado; voltear sobre un lado largo; 3 personas" in line
    assert "nunca, según la curva de esta mezcla" in line


@pytest.mark.parametrize("step", ["grind", "fill"])
def test_a_step_that_lifts_nothing_says_nothing(hand, crew, cured, step):
    give_section(cured)
    factories.make_mark(cured, "demold", factories.NOW - factories.HOUR, by=crew)
    if step == "fill":
        factories.make_mark(cured, "grind", factories.NOW - factories.HOUR, by=crew)

    assert card(hand(crew).page(cured)) == ""


def test_without_a_section_nothing_is_said(hand, crew, cured):
    assert card(hand(crew).floor()) == ""


def test_the_wait_has_its_basis(hand, crew, green):
    give_section(green)
    waits = {"equivalent_hours": None, "strength_mpa": None, "hours_after_cast": 0}
    RouteStep.objects.filter(key="demold").update(**waits, by_section=True)

    text = words(hand(crew).floor().content.decode()).replace("&#x27;", "'")

    assert "Strength to be lifted" in text
    assert "Its section asks for 1,2" in text
    assert "the curve is a placeholder, not this shop's tests." in text


def test_it_takes_no_query_of_its_own(hand, crew, cured):
    def queries() -> int:
        page = hand(crew).floor
        page()
        with CaptureQueriesContext(connection) as found:
            page()
        return len(found)

    before = queries()
    give_section(cured)
    assert queries() == before
