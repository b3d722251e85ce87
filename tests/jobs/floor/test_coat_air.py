"""The coat's card: the air where it goes on, its window, and whether it may go on."""

from __future__ import annotations

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from jobs.models import Piece
from shop.models import Reading, Role, Sealer
from tests import factories
from tests.factories import DAY, HOUR, NOW


def words(answer) -> str:
    page = re.sub(r"<[^>]*>", " ", answer.content.decode()).replace("&#x27;", "'")
    return " ".join(page.split())


def honed(piece: Piece) -> Piece:
    """Dry for days: its first coat may go on."""
    for number, step in enumerate(("cast", "demold", "grind", "fill", "hone")):
        factories.make_mark(piece, step, NOW - 8 * DAY + number * DAY)
    return piece


@pytest.fixture
def dry(piece: Piece) -> Piece:
    factories.make_readings(piece.room, NOW - 9 * DAY, 216)
    return honed(piece)


def test_air_that_fits_lets_the_coat_go_on(hand, crew, dry):
    text = words(hand(crew).floor())
    assert (
        "Now in Casting room: 68 °F, 50 % humidity, dew point 49 °F, 19 °F above it (least 5 °F). "
        "Read 09:00. This air lets the coat go on."
    ) in text
    assert "The surface is taken at the air's temperature" in text
    assert "the sealer's data sheet as the shop entered it" in text


@pytest.mark.parametrize(
    ("air", "why"),
    [
        ({"celsius": 13.0}, "Not yet: too cold, 55 °F; at least 60 °F."),
        ({"celsius": 31.0}, "Not yet: too warm, 88 °F; at most 85 °F."),
        ({"humidity": 0.82}, "Not yet: too humid, 82 %; at most 80 %."),
        ({"humidity": 0.9}, "only 3 °F above the dew point; at least 5 °F"),
        ({"humidity": None}, "Measure the humidity before the coat."),
    ],
)
def test_air_that_does_not_fit_says_why(hand, crew, dry, air, why):
    Reading.objects.filter(at=NOW).update(**air)
    text = words(hand(crew).floor())
    assert why in text
    assert "lets the coat go on" not in text


def test_a_reading_that_is_too_old_is_named_so(hand, crew, dry):
    Reading.objects.filter(at__gt=NOW - 4 * HOUR).delete()
    text = words(hand(crew).floor())
    assert "Last read in Casting room" in text
    assert "Read 05:00. Too old to go by. Read the thermometer before the coat." in text


def test_nothing_read_at_all(hand, crew, piece):
    honed(piece)
    assert "Nothing was read in Casting room. Too old to go by." in words(hand(crew).floor())


def test_the_booths_air_counts_where_there_is_a_booth(hand, crew, dry):
    booth = factories.make_room("Spray booth", is_booth=True)
    factories.make_readings(booth, NOW - DAY, 24, 12.0)
    text = words(hand(crew).floor())
    assert "Now in Spray booth: 54 °F" in text
    assert "Not yet: too cold" in text


def test_the_next_coats_window_stands_on_its_card(hand, crew, dry):
    factories.make_mark(dry, "seal-1", NOW - HOUR)
    for text in (words(hand(crew).floor()), words(hand(crew).page(dry))):
        assert "Too early until 12:00. In its window to tomorrow 08:00, then abrade first." in text
        assert "The air fits, but it is too early after the last coat." in text


def test_a_window_that_is_open_says_to_when(hand, crew, dry):
    factories.make_mark(dry, "seal-1", NOW - 5 * HOUR)
    text = words(hand(crew).floor())
    assert "In its window to tomorrow 04:00, then abrade first." in text
    assert "This air lets the coat go on." in text
    assert "Too early" not in text


def test_a_coat_that_is_abraded_for_says_so(hand, crew, dry):
    factories.make_mark(dry, "seal-1", NOW - 30 * HOUR)
    text = words(hand(crew).floor())
    assert "Abrade first (30 min): its window is closed by then." in text
    assert "Its window closed: 03:00." in text
    assert "This air lets the coat go on once it is abraded." in text
    assert "Too early" not in text


def test_a_coat_held_back_says_so(hand, crew, piece):
    Sealer.objects.update(recoat_least_hours=4, recoat_greatest_hours=8, abrade_hours=4.5)
    factories.make_readings(piece.room, NOW - 9 * DAY, 216)
    for number, step in enumerate(("cast", "demold", "grind", "fill")):
        factories.make_mark(piece, step, NOW - 8 * DAY + number * DAY)
    factories.make_mark(piece, "hone", NOW + 5 * HOUR - 48 * HOUR)
    assert "Held back so that the next coat falls in its window." in words(hand(crew).floor())


def test_it_is_said_in_spanish(hand, dry):
    marisol = factories.make_person(Role.CREW, language="es")
    Reading.objects.filter(at=NOW).update(humidity=0.82)
    text = words(hand(marisol).floor())
    assert "Ahora en Casting room: 68 °F, humedad 82 %, punto de rocío" in text
    assert "Todavía no: demasiado húmedo, 82 %; como máximo 80 %" in text


def test_five_cards_take_as_many_queries_as_one(hand, crew, dry):
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            hand(crew).client.get("/floor/")
        return len(seen)

    hand(crew).floor()
    one = queries()
    for letter in "CDEF":
        honed(factories.make_piece(dry.job, letter))
    hand(crew).floor()
    assert queries() == one
