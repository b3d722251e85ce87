"""Weighing on the floor: cards, swaps, a phone without signal, the piece's page."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from jobs.models import Piece, Weighing
from shop.models import Person, Role
from tests.factories import (
    DAY,
    HOUR,
    NOW,
    make_job,
    make_mark,
    make_person,
    make_piece,
    make_shop,
    make_weighing,
    make_weighing_route,
)
from tests.jobs.floor.conftest import KEPT, SWAP


@pytest.fixture
def washed(crew: Person) -> Piece:
    return washed_piece(make_job(), crew)


def washed_piece(job: Any, crew: Person) -> Piece:
    piece = make_piece(job, "B", route=make_weighing_route())
    days = {"cast": 8, "demold": 6, "grind": 5, "fill": 4, "hone": 2}
    for step, ago in days.items():
        make_mark(piece, step, NOW - ago * DAY, by=crew)
    return piece


def send(hand: Any, piece: Piece, headers: dict[str, str] | None = None, **sent: str) -> Any:
    sent.setdefault("client_key", str(uuid.uuid4()))
    return hand.client.post(reverse("floor-weigh", args=[piece.code]), sent, headers=headers or {})


def test_a_piece_to_weigh_stands_in_its_own_list(hand, crew, washed):
    text = hand(crew).floor().content.decode()
    assert "To weigh" in text
    assert "Not weighed since its last wetting." in text
    assert "Dry when it loses less than 0.15 % of its weight in a day." in text


def test_one_weighed_an_hour_ago_is_not_asked_for_again_today(hand, crew, washed):
    make_weighing(washed, 58.2, NOW - HOUR, by=crew)
    text = hand(crew).floor().content.decode()
    assert "To weigh" not in text
    assert "Weigh it again tomorrow 08:00." in text


def test_one_weighed_dry_in_working_hours_says_so_where_its_coat_is_marked(hand, crew, washed):
    make_weighing(washed, 58.28, NOW - 25 * HOUR, by=crew)
    text = send(hand(crew), washed, SWAP, weight="128.4").content.decode()
    assert 'class="entry open' in text
    assert "under the limit of 0.15 %: dry." in text
    assert "Take 128.4 lb back" in text


def test_a_weight_in_pounds_is_recorded(hand, crew, washed):
    assert send(hand(crew), washed, weight="128.4").status_code == 302
    made = Weighing.objects.get()
    assert made.kg == pytest.approx(58.24, abs=0.01)
    assert (made.at, made.by) == (NOW, crew)


def test_a_metric_shop_types_kilograms(hand, crew, washed):
    make_shop(units="si")
    send(hand(crew), washed, weight="58,24")
    assert Weighing.objects.get().kg == pytest.approx(58.24)


def test_a_swap_answers_with_the_card_and_what_it_weighed(hand, crew, washed):
    text = send(hand(crew), washed, SWAP, weight="128.4").content.decode()
    assert text.lstrip().startswith('<article id="piece-217-B"')
    assert "Recorded: 217-B weighs 128.4 lb" in text
    assert "Take 128.4 lb back" in text
    assert "Of this piece that is 0.19 lb" in text


def test_a_weight_kept_by_the_phone_counts_from_when_it_was_read(hand, crew, washed):
    answer = send(hand(crew), washed, KEPT, weight="128.4", kept_seconds="7200")
    assert answer.json()["state"] == "recorded"
    assert Weighing.objects.get().at == NOW - 2 * HOUR


def test_a_kept_weight_sent_twice_counts_once(hand, crew, washed):
    ben, key = hand(crew), str(uuid.uuid4())
    for _ in range(2):
        answer = send(ben, washed, KEPT, weight="128.4", client_key=key)
        assert answer.json()["state"] == "recorded"
    assert Weighing.objects.count() == 1


def test_an_unlikely_weight_that_was_kept_may_be_sent_again_as_it_is(hand, crew, washed):
    said = send(hand(crew), washed, KEPT, weight="58.2").json()
    assert (said["asks"], said["confirm"]) == (False, {"sure": "on"})
    answer = send(hand(crew), washed, KEPT, weight="58.2", **said["confirm"])
    assert answer.json()["state"] == "recorded"


def test_an_unlikely_weight_comes_back_with_a_box_to_tick(hand, crew, washed):
    ben = hand(crew)
    text = send(ben, washed, SWAP, weight="58.2").content.decode()
    assert "reckoned at 130.7 lb" in text
    assert 'value="58.2"' in text
    assert "I looked again" in text
    assert not Weighing.objects.exists()
    assert send(ben, washed, weight="58.2", sure="on").status_code == 302
    assert Weighing.objects.count() == 1


def test_no_weight_and_no_number_are_refused(hand, crew, washed):
    for typed in ("", "heavy", "-3", "0"):
        answer = send(hand(crew), washed, SWAP, weight=typed)
        assert answer.status_code == 422
        assert "I looked again" not in answer.content.decode()
    assert not Weighing.objects.exists()


def test_a_weight_read_yesterday_is_entered_with_its_time(hand, crew, washed):
    send(hand(crew), washed, weight="128.4", happened_at_0="2026-03-17", happened_at_1="09:00")
    assert Weighing.objects.get().at == NOW - DAY


def test_the_page_shows_every_weight_with_its_loss(hand, crew, washed):
    make_weighing(washed, 58.6, NOW - 48 * HOUR, by=crew)
    make_weighing(washed, 58.3, NOW - 24 * HOUR, by=crew)
    make_weighing(washed, 58.25, NOW, by=crew)
    text = hand(crew).page(washed).content.decode()
    for words in ("0.51 % a day", "not dry yet", "0.09 % a day", "under the limit", "128.4 lb"):
        assert words in text
    assert "Limit: less than 0.15 %" in text


def test_one_takes_back_ones_own_and_the_owner_any(hand, crew, other, owner, washed):
    old = make_weighing(washed, 58.6, NOW - 3 * HOUR, by=crew)
    path = reverse("floor-strike-weighing", args=[old.pk])

    def strike(person: Person) -> Any:
        return hand(person).client.post(path, {"client_key": str(uuid.uuid4())})

    assert strike(other).status_code == 422
    assert "Strike it" not in hand(crew).page(washed).content.decode()
    assert "Strike it" in hand(owner).page(washed).content.decode()
    assert strike(owner).status_code == 302
    old.refresh_from_db()
    assert old.struck_by == owner
    assert "struck by Olive Trent" in hand(crew).page(washed).content.decode()


def test_the_office_reads_weights_but_enters_none(hand, washed):
    office = hand(make_person(Role.OFFICE))
    assert "Record the weight" not in office.page(washed).content.decode()
    assert send(office, washed, weight="128.4").status_code == 403


def test_a_route_by_hours_shows_no_weights(hand, crew, cured):
    text = hand(crew).page(cured).content.decode()
    assert "Record the weight" not in text
    assert "weights-title" not in text


def test_ten_pieces_to_weigh_take_as_many_queries_as_two(hand, crew):
    ben, counts = hand(crew), []
    for numbers in (range(300, 302), range(302, 310)):
        for number in numbers:
            piece = washed_piece(make_job(str(number)), crew)
            make_weighing(piece, 58.6, NOW - 26 * HOUR, by=crew)
        ben.floor()
        with CaptureQueriesContext(connection) as queries:
            ben.client.get(reverse("floor"))
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_a_spanish_speaker_weighs_in_spanish(hand, washed):
    marisol = hand(make_person(Role.CREW, language="es"))
    text = marisol.floor().content.decode()
    assert "Por pesar" in text
    assert "Anotar el peso" in text
    assert (
        "pesa según el cálculo 130.7 lb"
        in send(marisol, washed, SWAP, weight="58.2").content.decode()
    )
