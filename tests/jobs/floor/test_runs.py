"""From a cast to its runs, and a run opened with the sand's moisture of today."""

from __future__ import annotations

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from jobs.models import Batch, MixerRun
from jobs.services.mixing import cast_runs, open_run, strike_run
from shop.models import Role
from tests import factories
from tests.factories import make_batch, make_job, make_mark, make_person, make_piece, make_recipe
from tests.shop.setup.helpers import text, typed

pytestmark = pytest.mark.django_db


@pytest.fixture
def batch() -> Batch:
    """Two pieces of 2.8 m², thin: more than the mixer takes at once."""
    job = make_job("217")
    make_recipe()
    return make_batch(*(make_piece(job, letter, area_m2=2.8) for letter in "AB"))


def page_of(batch: Batch) -> str:
    return reverse("floor-runs", args=[batch.pk])


def opening(batch: Batch, number: int = 1) -> str:
    return reverse("floor-open-run", args=[batch.pk, number])


def test_the_casts_card_leads_to_its_runs(hand, crew, batch):
    assert f'href="{page_of(batch)}"' in hand(crew).floor().content.decode()


def test_the_runs_are_listed_with_what_they_are_for(hand, crew, batch):
    said = text(hand(crew).client.get(page_of(batch)))
    planned = cast_runs(batch).planned
    assert len(planned) > 1  # the mixer takes 68 kg
    for one in planned:
        assert f"Open run {one.number}" in said
    assert "Face coat" in said
    assert "217-A" in said
    for caution in ("Wet cement burns", "silica and fibre dust", "Chopped glass fibre", "94 lb",
                    "A turning mixer"):  # fmt: skip
        assert caution in said


def test_a_mix_without_a_recipe_says_what_is_missing(hand, crew):
    batch = make_batch(make_piece(make_job("217"), "A"))
    said = text(hand(crew).client.get(page_of(batch)))
    assert "has no recipe yet" in said
    assert "Open run" not in said


def test_opening_takes_the_moisture_and_leads_to_the_sheet(hand, crew, batch):
    client = hand(crew).client
    sent = typed(client.get(page_of(batch)), opening(batch), moisture_0="3,5")
    answer = client.post(opening(batch), sent)
    run = MixerRun.objects.get()
    assert answer["Location"] == reverse("floor-run", args=[run.pk])
    assert run.sheet["moisture"] == {"Silica sand": pytest.approx(0.035)}
    assert run.opened_by == crew
    # The next run of the day is offered the same sand.
    again = typed(client.get(page_of(batch)), opening(batch, 2))
    assert again["moisture_0"] == "3.5"
    assert "Weigh it" in text(client.get(page_of(batch)))


def test_left_empty_the_sand_is_as_the_recipe_has_it(hand, crew, batch):
    client = hand(crew).client
    page = client.get(page_of(batch))
    assert "as the recipe has it, surface-dry" in text(page)
    client.post(opening(batch), typed(page, opening(batch)))
    assert MixerRun.objects.get().sheet["moisture"] == {}


@pytest.mark.parametrize(
    ("moisture", "said"),
    [("60", "At most 49"), ("wet", "Write a number"), ("48", "brings")],
)
def test_sand_that_cannot_be_is_refused_and_stays(hand, crew, batch, moisture, said):
    client = hand(crew).client
    sent = typed(client.get(page_of(batch)), opening(batch), moisture_0=moisture)
    answer = client.post(opening(batch), sent)
    assert answer.status_code == 422
    assert said in text(answer)
    assert typed(answer, opening(batch))["moisture_0"] == moisture
    assert not MixerRun.objects.exists()


def test_sand_too_wet_is_said_in_the_shops_unit(hand, crew, batch):
    client = hand(crew).client
    sent = typed(client.get(page_of(batch)), opening(batch), moisture_0="48")
    said = text(client.post(opening(batch), sent))
    assert re.search(
        r"the sand brings [\d.]+ lb of water, and the recipe adds only [\d.]+ lb", said
    )
    marisol = hand(make_person(Role.CREW, name="Marisol Quint", language="es")).client
    said = text(marisol.post(opening(batch), sent))
    assert "la arena trae" in said
    assert "Arena sílica: humedad" in said


def test_sent_twice_it_is_one_run(hand, crew, batch):
    client = hand(crew).client
    sent = typed(client.get(page_of(batch)), opening(batch))
    first, second = (client.post(opening(batch), sent) for _ in range(2))
    assert first["Location"] == second["Location"]
    assert MixerRun.objects.count() == 1


def test_a_run_that_another_opened_meanwhile_is_shown(hand, crew, other, batch):
    mine = typed(hand(crew).client.get(page_of(batch)), opening(batch))
    run = open_run(batch_id=batch.pk, number=1, moisture={}, by=other)
    answer = hand(crew).client.post(opening(batch), mine)
    assert answer["Location"] == reverse("floor-run", args=[run.pk])


def test_a_plan_that_changed_meanwhile_is_shown_before_it_is_opened(hand, crew, batch):
    client = hand(crew).client
    mine = typed(client.get(page_of(batch)), opening(batch), moisture_0="2")
    batch.pieces.filter(letter="B").update(batch=None)
    answer = client.post(opening(batch), mine)
    assert answer.status_code == 422
    assert "another one now" in text(answer)
    assert not MixerRun.objects.exists()
    again = typed(answer, opening(batch))
    assert again["moisture_0"] == "2"
    assert client.post(opening(batch), again).status_code == 302


def test_a_run_that_is_not_there_is_said(hand, crew, batch):
    answer = hand(crew).client.post(opening(batch, 40))
    assert answer.status_code == 422
    assert "no such run" in text(answer)
    assert hand(crew).client.get(reverse("floor-runs", args=[999])).status_code == 404


def test_the_office_looks_on(hand, batch):
    office = hand(make_person(Role.OFFICE)).client
    said = text(office.get(page_of(batch)))
    assert "Not opened yet." in said
    assert "Open run" not in said
    assert office.post(opening(batch)).status_code == 403


def test_a_struck_run_gives_way_to_a_new_one(hand, crew, batch):
    run = open_run(batch_id=batch.pk, number=1, moisture={}, by=crew)
    strike_run(run_id=run.pk, because="Spilled", by=crew)
    said = text(hand(crew).client.get(page_of(batch)))
    assert "Weigh it" not in said
    sheet = text(hand(crew).client.get(reverse("floor-run", args=[run.pk])))
    assert "Spilled. Weigh nothing by it." in sheet
    assert "As wanted" not in sheet


def test_when_its_pieces_are_cast_the_page_says_so(hand, crew, batch):
    client = hand(crew).client
    assert f"#batch-{batch.pk}" in client.get(page_of(batch)).content.decode()
    assert "to the cast's mark" in text(client.get(page_of(batch)))
    for piece in batch.pieces.all():
        make_mark(piece, "cast", factories.NOW, by=crew, batch=batch)
    assert "Its pieces are marked cast." in text(client.get(page_of(batch)))


def test_more_pieces_take_no_more_queries(hand, crew):
    make_recipe()

    def queries(number: str, letters: str) -> int:
        job = make_job(number)
        batch = make_batch(*(make_piece(job, letter, area_m2=2.5) for letter in letters))
        client = hand(crew).client
        client.get(page_of(batch))
        with CaptureQueriesContext(connection) as seen:
            client.get(page_of(batch))
        return len(seen)

    assert queries("301", "AB") == queries("302", "ABCDEFGH")
