from __future__ import annotations

import datetime as dt
import uuid

from jobs.models import Mark
from tests.factories import NOW
from tests.jobs.floor.conftest import SWAP

STRIKES = 'action="/floor/marks/'


def _marked(hand, person, piece):
    hand(person).mark(piece, "demold")
    return Mark.objects.get(step_key="demold")


def test_the_second_tap_takes_it_back(hand, crew, cured):
    mark = _marked(hand, crew, cured)
    answer = hand(crew).strike(mark, headers=SWAP)
    assert answer.status_code == 200
    text = answer.content.decode()
    assert "Taken back: 217-B demold and flip." in text
    assert "Mark demolded" in text
    assert Mark.objects.get(kind=Mark.Kind.STRUCK).strikes == mark


def test_the_floor_offers_it_for_ten_minutes(hand, crew, cured, clock):
    _marked(hand, crew, cured)
    clock(NOW + dt.timedelta(minutes=9))
    assert STRIKES in hand(crew).floor().content.decode()
    clock(NOW + dt.timedelta(minutes=11))
    assert STRIKES not in hand(crew).floor().content.decode()


def test_a_mark_just_made_stays_where_it_was(hand, crew, cured):
    _marked(hand, crew, cured)
    lists = hand(crew).floor().context["lists"]
    assert [entry.piece.code for entry in lists.now] == ["217-B"]


def test_only_its_maker_is_offered_it(hand, crew, other, cured):
    _marked(hand, crew, cured)
    assert STRIKES not in hand(other).floor().content.decode()


def test_after_ten_minutes_the_crew_is_sent_to_the_owner(hand, crew, cured, clock):
    mark = _marked(hand, crew, cured)
    clock(NOW + dt.timedelta(minutes=11))
    answer = hand(crew).strike(mark, headers=SWAP)
    assert answer.status_code == 422
    assert "Ask the owner" in answer.content.decode()


def test_the_owner_strikes_an_old_mark_only_with_a_reason(hand, crew, owner, cured, clock):
    mark = _marked(hand, crew, cured)
    clock(NOW + dt.timedelta(hours=3))
    olive = hand(owner)
    assert "Strike the last mark" in olive.page(cured).content.decode()
    assert olive.strike(mark).status_code == 422
    assert olive.strike(mark, reason="It was 218-B").status_code == 302
    assert Mark.objects.get(kind=Mark.Kind.STRUCK).reason == "It was 218-B"


def test_a_struck_mark_is_shown_struck_on_the_piece(hand, crew, cured):
    mark = _marked(hand, crew, cured)
    hand(crew).strike(mark)
    text = hand(crew).page(cured).content.decode()
    assert "<s>Wed 18 Mar 09:00: demold and flip, Ben Carrow</s>" in text
    assert "struck by Ben Carrow" in text


def test_a_mark_under_a_later_one_is_not_struck(hand, crew, cured):
    mark = _marked(hand, crew, cured)
    hand(crew).mark(cured, "grind")
    answer = hand(crew).strike(mark, headers=SWAP)
    assert answer.status_code == 422
    assert "Take that back first" in answer.content.decode()


def test_taking_back_twice_with_one_key_is_once(hand, crew, cured):
    mark, key = _marked(hand, crew, cured), str(uuid.uuid4())
    for _ in range(2):
        assert hand(crew).strike(mark, client_key=key).status_code == 302
    assert Mark.objects.filter(kind=Mark.Kind.STRUCK).count() == 1


def test_a_key_whose_mark_was_taken_back_says_so(hand, crew, cured):
    key = str(uuid.uuid4())
    hand(crew).mark(cured, "demold", client_key=key)
    hand(crew).strike(Mark.objects.get(step_key="demold"))
    answer = hand(crew).mark(cured, "demold", client_key=key, headers=SWAP)
    assert "was taken back already" in answer.content.decode()
