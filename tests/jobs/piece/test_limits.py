"""Beyond a law's range the page says so, with what to do; nothing falls over."""

from __future__ import annotations

import io
import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from jobs.models import Piece
from jobs.services.course import open_piece
from jobs.services.limits import notes_of
from jobs.services.readiness import rebuild
from shop.models import Mix, Reading, Role, Route, RouteStep, Sealer
from tests import factories
from tests.factories import DAY, HOUR, NOW

SHAPE = {"length": 2.0, "width": 0.6, "edges": [], "ribs": [], "cutouts": [], "strongbacks": []}


def keys(code: str = "217-A") -> set[str]:
    found = open_piece(code, NOW)
    assert found is not None
    return {note.key for note in notes_of(found.facts, found.piece, found.outlook)}


def page(client, path: str = "/pieces/217-A/") -> str:
    answer = client.get(path)
    assert answer.status_code == 200
    return " ".join(re.sub(r"<[^>]*>", " ", answer.content.decode()).split())


def paper(client) -> str:
    answer = client.get("/pieces/217-A/sheet.pdf")
    assert answer.status_code == 200
    pages = PdfReader(io.BytesIO(answer.content)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


@pytest.fixture
def tested(cast: Piece) -> Piece:
    """Its mix's tests reach from 12 h to 60 d and over every gate."""
    by = factories.make_person(Role.OWNER)
    for hours in (12.0, 24.0, 72.0, 336.0, 1440.0):
        factories.make_strength_test(cast.mix, by, hours)
    return cast


def test_within_all_ranges_nothing_is_said(as_owner, tested):
    Sealer.objects.update(celsius_least=10)
    assert keys() == set()
    assert "Beyond what is known" not in page(as_owner)


def test_a_piece_too_thick_for_the_drying_model(as_owner, tested):
    Route.objects.update(drying_rule="model")
    tested.thickness_m = 0.4
    tested.save()

    assert "drying-thickness" in keys()
    text = page(as_owner)
    assert "At 15.75 in the piece is outside the" in text.replace("15 3/4", "15.75")
    assert "The route&#x27;s hours of drying count instead." in text
    assert "Weigh it dry" in text
    assert "outside the" in paper(as_owner)
    assert rebuild()[0].pieces[0].ready_at is not None


def test_a_mix_that_never_reaches_a_gate(as_owner, tested):
    Mix.objects.update(su_mpa=20.0)  # 2,901 psi, where 3,000 and 5,000 are asked

    assert "never-reached" in keys()
    text = page(as_owner)
    assert "by its curve this mix never has it, however long it waits: it ends at 2,901 psi" in text
    assert "Ask less in the route, take a stronger mix" in text
    assert "later than can be told" in text
    assert rebuild()[0].pieces[0].ready_at is None
    assert "never has it" in paper(as_owner)


@pytest.mark.parametrize(
    ("celsius", "key", "said"),
    [(55.0, "hot", "Air at 131 °F is over the 104 °F"), (-6.0, "cold", "Air at 21 °F is below")],
)
def test_air_the_maturity_law_was_not_fitted_to(as_owner, tested, celsius, key, said):
    Reading.objects.filter(at__gt=NOW - 4 * HOUR).update(celsius=celsius)

    assert key in keys()
    assert said in page(as_owner)
    assert said.split(" is ")[0] in paper(as_owner)
    assert rebuild()


def test_air_that_hot_and_damp_breaks_no_drying_model(as_owner, tested):
    Route.objects.update(drying_rule="model")
    Reading.objects.update(celsius=55.0, humidity=1.0)
    factories.make_mark(tested, "demold", NOW - 6 * HOUR)
    assert page(as_owner)
    assert rebuild()


def test_humidity_that_is_missing(as_owner, tested):
    Reading.objects.update(humidity=None)

    assert "humidity-unknown" in keys()
    assert "The humidity where coats go on is not measured" in page(as_owner)
    assert rebuild()


def test_a_mix_without_tests_says_so_on_piece_and_mix(as_owner, cast):
    assert "untested" in keys()
    assert "No strength test of this mix" in page(as_owner)
    assert "No strength test of this mix" in page(as_owner, f"/shop/mixes/{cast.mix_id}/")


def test_a_gate_before_the_youngest_test(as_owner, cast):
    factories.make_strength_test(cast.mix, factories.make_person(Role.OWNER), 400.0)
    assert "younger-than-tests" in keys()
    assert "before the mix" in page(as_owner, f"/shop/mixes/{cast.mix_id}/")


def test_a_section_that_cannot_be_cast_any_more(as_owner, tested):
    """Its cutout lies outside the slab: an older form may have let that be stored."""
    tested.shape = SHAPE | {"cutouts": [{"x": 3.0, "y": 0.1, "length": 0.4, "width": 0.3}]}
    tested.save()
    RouteStep.objects.filter(kind="demold").update(by_section=True)

    assert "section" in keys()
    text = page(as_owner)
    assert "cannot be cast any more" in text
    assert "Enter its section anew." in text
    (job,) = rebuild()
    # Nothing is lifted by a guess: its demold waits for a section that is right.
    assert job.pieces[0].steps[1].earliest is None
    assert job.pieces[0].ready_at is None
    for name, given in (
        ("board", ()),
        ("board-job", ("217",)),
        ("floor", ()),
        ("piece", ("217-A",)),
        ("office", ()),
        ("job", ("217",)),
    ):
        assert as_owner.get(reverse(name, args=given)).status_code == 200, name


@pytest.mark.parametrize(
    "shape", [{"length": 2.0}, {"length": "x", "width": 1}, SHAPE | {"ribs": [{}]}]
)
def test_a_section_that_cannot_be_read(as_owner, tested, shape):
    tested.shape = shape
    tested.save()
    assert "section" in keys()
    assert page(as_owner)


def test_notes_take_as_many_queries_for_many_tests(as_owner, cast):
    by = factories.make_person(Role.OWNER)
    room = factories.make_room()

    def queries() -> int:
        found = open_piece("217-A", NOW)
        assert found is not None
        with CaptureQueriesContext(connection) as seen:
            notes_of(found.facts, found.piece, found.outlook)
        return len(seen)

    factories.make_strength_test(cast.mix, by, 24.0, room=room)
    few = queries()
    for hours in range(24, 60):
        factories.make_strength_test(cast.mix, by, float(hours), room=room)
    assert queries() == few


def test_air_is_looked_at_from_casting_on(tested):
    """Cold hours of a day before it was cast are not its own."""
    Reading.objects.filter(at__lt=NOW - 2 * DAY).update(celsius=-10.0)
    assert "cold" not in keys()
