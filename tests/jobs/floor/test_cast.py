from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.urls import reverse

from jobs.models import Mark
from tests.factories import HOUR, NOW, make_batch, make_job, make_mark, make_piece
from tests.jobs.floor.conftest import KEPT


@pytest.fixture
def batch():
    job = make_job()
    return make_batch(make_piece(job, "A"), make_piece(job, "B"), planned_for=NOW + HOUR)


def _swap(batch):
    return {"HX-Request": "true", "HX-Target": f"batch-{batch.pk}"}


def test_a_batch_is_cast_whole(hand, crew, batch):
    answer = hand(crew).cast(batch.pk, headers=_swap(batch))
    assert answer.status_code == 200
    assert "2 pieces cast, water in Wed 18 Mar 09:00, Ben Carrow" in answer.content.decode()
    assert {m.piece.code for m in Mark.objects.filter(batch=batch)} == {"217-A", "217-B"}


def test_the_water_in_time_is_adjustable(hand, crew, batch):
    hand(crew).cast(batch.pk, water_in_0="2026-03-18", water_in_1="07:45")
    times = set(Mark.objects.values_list("happened_at", flat=True))
    assert times == {dt.datetime(2026, 3, 18, 12, 45, tzinfo=dt.UTC)}


def test_the_same_key_twice_casts_once(hand, crew, batch):
    key = str(uuid.uuid4())
    for _ in range(2):
        assert hand(crew).cast(batch.pk, client_key=key).status_code == 302
    assert Mark.objects.count() == 2


def test_a_held_piece_keeps_the_whole_batch_unmarked(hand, crew, batch):
    piece = batch.pieces.get(letter="A")
    make_mark(piece, "", kind=Mark.Kind.HOLD, reason="Knockout is loose", by=crew)
    answer = hand(crew).cast(batch.pk, headers=_swap(batch))
    assert answer.status_code == 422
    assert "217-A is on hold (Knockout is loose)" in answer.content.decode()
    assert not Mark.objects.filter(kind=Mark.Kind.DONE).exists()


def test_a_cast_in_the_future_is_refused_and_its_time_stays(hand, crew, batch):
    answer = hand(crew).cast(batch.pk, water_in_0="2026-03-18", water_in_1="11:00")
    assert answer.status_code == 422
    assert "has not come yet" in answer.content.decode()
    assert 'value="11:00"' in answer.content.decode()


def test_taking_a_cast_back_strikes_all_its_marks(hand, crew, batch):
    hand(crew).cast(batch.pk)
    key = str(uuid.uuid4())
    for _ in range(2):
        answer = hand(crew).take_back_cast(batch.pk, client_key=key, headers=_swap(batch))
        assert answer.status_code == 200
    assert Mark.objects.filter(kind=Mark.Kind.STRUCK).count() == 2
    assert "Mark all 2 cast" in answer.content.decode()


def test_a_cast_with_one_piece_demolded_is_not_taken_back_in_part(hand, crew, batch):
    hand(crew).cast(batch.pk)
    piece = batch.pieces.get(letter="B")
    hand(crew).mark(piece, "demold", reason="Form burst")
    assert hand(crew).take_back_cast(batch.pk, headers=_swap(batch)).status_code == 422
    assert not Mark.objects.filter(kind=Mark.Kind.STRUCK).exists()


def test_a_cast_called_off_meanwhile_says_so(hand, crew, batch):
    number = batch.pk
    batch.pieces.update(batch=None)
    batch.delete()
    answer = hand(crew).cast(number, headers={"HX-Request": "true"})
    assert answer.status_code == 422
    assert "called off meanwhile" in answer.content.decode()
    kept = hand(crew).cast(number, headers=KEPT)
    assert kept.json()["state"] == "refused"


def test_another_persons_cast_is_not_taken_back(hand, crew, other, batch):
    hand(crew).cast(batch.pk)
    answer = hand(other).take_back_cast(batch.pk, headers=_swap(batch))
    assert answer.status_code == 422
    assert "Ask the owner" in answer.content.decode()


def test_casts_of_today_and_tomorrow_stand_apart_from_later_ones(hand, crew, batch):
    later = make_batch(make_piece(make_job("218"), "A"), planned_for=NOW + 72 * HOUR)
    lists = hand(crew).floor().context["lists"]
    assert [cast.batch_id for cast in lists.casts] == [batch.pk]
    assert [cast.batch_id for day in lists.days for cast in day.casts] == [later.pk]


def test_a_broken_key_does_not_take_back(hand, crew, batch):
    hand(crew).cast(batch.pk)
    url = reverse("floor-take-back-cast", args=[batch.pk])
    assert hand(crew).client.post(url, {"client_key": "?"}).status_code == 422
    assert not Mark.objects.filter(kind=Mark.Kind.STRUCK).exists()
