"""A run that was spilled is struck on the floor; which layer of which piece a run is for."""

from __future__ import annotations

import uuid

import pytest
from django.urls import reverse

from jobs.floor.run_sheets import serves
from jobs.models import Batch, MixerRun
from jobs.services.mixing import cast_runs, open_run
from jobs.services.ticks import tick
from shop.models import Role
from tests.factories import make_batch, make_job, make_person, make_piece, make_recipe
from tests.jobs.floor.conftest import KEPT
from tests.shop.setup.helpers import text, typed

pytestmark = pytest.mark.django_db

SWAPPED = {"HX-Request": "true", "HX-Target": "floor-list"}


@pytest.fixture
def batch() -> Batch:
    """Two pieces of 2.8 m² that must match, thin: more than the mixer takes at once."""
    job = make_job("217")
    make_recipe()
    pieces = [make_piece(job, letter, area_m2=2.8) for letter in "AB"]
    for piece in pieces:
        piece.matches_job = True
        piece.save()
    return make_batch(*pieces)


@pytest.fixture
def run(crew, batch) -> MixerRun:
    return open_run(batch_id=batch.pk, number=1, moisture={}, by=crew)


def striking(run: MixerRun) -> str:
    return reverse("floor-strike-run", args=[run.pk])


def sheet(run: MixerRun) -> str:
    return reverse("floor-run", args=[run.pk])


def test_it_is_struck_with_what_happened_and_weighed_anew(hand, crew, batch, run):
    client = hand(crew).client
    tick(run_id=run.pk, line="Water", kg=6.0, by=crew, client_key=uuid.uuid4(), sure=True)
    assert "Take back" in text(client.get(sheet(run)))
    sent = typed(client.get(sheet(run)), striking(run), because="Bucket tipped over")
    said = text(client.post(striking(run), sent, headers=SWAPPED))
    assert "Run 1 is struck." in said
    assert "Bucket tipped over. Weigh nothing by it." in said
    assert "As wanted" not in said
    assert "Water is in" not in said
    assert 'class="quiet big">Take back' not in client.get(sheet(run)).content.decode()
    run.refresh_from_db()
    assert (run.struck_by, run.struck_because) == (crew, "Bucket tipped over")
    assert run.number not in {one.number for one in cast_runs(batch).planned}
    assert striking(run) not in client.get(sheet(run)).content.decode()


def test_without_a_word_of_why_it_stands(hand, crew, run):
    answer = hand(crew).client.post(
        striking(run), {"client_key": str(uuid.uuid4()), "because": " "}, headers=SWAPPED
    )
    assert answer.status_code == 422
    assert "Fill this in" in text(answer)
    run.refresh_from_db()
    assert run.struck_at is None


def test_kept_and_sent_twice_it_is_struck_once(hand, crew, other, run):
    sent = {"client_key": str(uuid.uuid4()), "because": "Spilled"}
    for person in (crew, other):
        answer = hand(person).client.post(striking(run), sent, headers=KEPT)
        assert answer.json() == {"state": "recorded", "message": "Run 1 is struck."}
    run.refresh_from_db()
    assert (run.struck_by, run.version) == (crew, 2)


def test_the_office_strikes_nothing(hand, run):
    office = hand(make_person(Role.OFFICE)).client
    assert striking(run) not in office.get(sheet(run)).content.decode()
    assert office.post(striking(run)).status_code == 403


def test_layers_for_the_same_pieces_stand_together():
    parts = [("face", "217-A"), ("face", "217-B"), ("backer", "217-B"), ("rib", "217-B")]
    assert serves(parts) == [
        ("face coat", "217-A, 217-B"),
        ("backer, ribs and edges", "217-B"),
    ]


def test_what_is_split_is_said_once_with_its_basis_in_the_readers_language(hand, crew, batch):
    address = reverse("floor-runs", args=[batch.pk])
    said = text(hand(crew).client.get(address))
    assert said.count("common practice, no source: one run for what must match") == 1
    marisol = hand(make_person(Role.CREW, name="Marisol Quint", language="es")).client
    said = text(marisol.get(address))
    assert "práctica común, sin fuente: una sola mezcla" in said
    assert "common practice" not in said
