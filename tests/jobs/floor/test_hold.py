from __future__ import annotations

import uuid

import pytest

from jobs.models import Mark
from tests.factories import NOW, make_mark
from tests.jobs.floor.conftest import SWAP


def test_a_hold_needs_a_reason(hand, crew, cured):
    answer = hand(crew).on_piece("hold", cured, reason="  ", headers=SWAP)
    assert answer.status_code == 422
    assert "Write why" in answer.content.decode()
    assert not Mark.objects.filter(kind=Mark.Kind.HOLD).exists()


def test_a_held_piece_is_not_marked(hand, crew, cured):
    hand(crew).on_piece("hold", cured, reason="Crack at the sink")
    answer = hand(crew).mark(cured, "demold", headers=SWAP)
    assert answer.status_code == 422
    assert "on hold (Crack at the sink)" in answer.content.decode()


def test_released_it_goes_on(hand, crew, cured):
    hand(crew).on_piece("hold", cured, reason="Crack at the sink")
    assert hand(crew).on_piece("release", cured).status_code == 302
    assert hand(crew).mark(cured, "demold").status_code == 302


def test_a_second_hold_says_what_the_first_is_for(hand, crew, other, cured):
    hand(other).on_piece("hold", cured, reason="Crack at the sink")
    answer = hand(crew).on_piece("hold", cured, reason="Chipped", headers=SWAP)
    assert answer.status_code == 422
    assert "on hold already: Crack at the sink" in answer.content.decode()


@pytest.mark.parametrize("action", ["hold", "recast"])
def test_the_same_key_twice_is_once(hand, crew, cured, action):
    key = str(uuid.uuid4())
    for _ in range(2):
        answer = hand(crew).on_piece(action, cured, reason="Dropped", client_key=key)
        assert answer.status_code == 302
    assert Mark.objects.filter(kind=action).count() == 1


def test_cast_again_keeps_the_old_marks_as_those_of_the_lost_casting(hand, crew, cured):
    make_mark(cured, "demold", NOW, by=crew)
    hand(crew).on_piece("recast", cured, reason="Broke at the cutout")
    text = hand(crew).page(cured).content.decode()
    assert "belongs to the lost casting" in text
    assert "Broke at the cutout" in text
    assert "Next: cast" in text


def test_what_is_not_cast_cannot_be_lost(hand, crew, piece):
    answer = hand(crew).on_piece("recast", piece, reason="Broke", headers=SWAP)
    assert answer.status_code == 422
    assert "not cast" in answer.content.decode()


def test_a_refused_reason_comes_back_typed(hand, crew, piece):
    answer = hand(crew).on_piece("recast", piece, reason="<b>Broke</b>")
    assert answer.status_code == 422
    assert "&lt;b&gt;Broke&lt;/b&gt;" in answer.content.decode()
