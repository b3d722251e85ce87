"""How a demold came out: asked with the mark, shown wherever the mark is."""

from __future__ import annotations

import pytest

from jobs.models import Demold, Mark
from tests.jobs.floor.conftest import SWAP


def test_one_tap_marks_the_demold_with_how_it_came_out(hand, crew, cured):
    answer = hand(crew).mark(cured, "demold", outcome="chipped", headers=SWAP)
    assert answer.status_code == 200
    mark = Mark.objects.get(step_key="demold")
    assert mark.outcome == "chipped"
    assert Demold.objects.get().mark == mark
    assert "came out chipped" in answer.content.decode()
    page = hand(crew).page(cured).content.decode()
    assert page.count("came out chipped") >= 2  # in the route and in the record


def test_it_may_be_left_open(hand, crew, cured):
    hand(crew).mark(cured, "demold", headers=SWAP)
    assert Mark.objects.get(step_key="demold").outcome == ""
    assert "came out" not in hand(crew).page(cured).content.decode()


def test_only_a_demold_is_asked(hand, crew, cured):
    page = hand(crew).page(cured).content.decode()
    assert "How did it come out?" in page
    hand(crew).mark(cured, "demold", outcome="clean", headers=SWAP)
    assert "How did it come out?" not in hand(crew).page(cured).content.decode()


def test_an_outcome_that_there_is_not_is_refused(hand, crew, cured):
    answer = hand(crew).mark(cured, "demold", outcome="fine", headers=SWAP)
    assert answer.status_code == 422
    assert "clean, soft, chipped or broken" in answer.content.decode()
    assert not Mark.objects.filter(step_key="demold").exists()


def test_an_early_one_keeps_what_was_tapped(hand, crew, green):
    answer = hand(crew).mark(green, "demold", outcome="soft", headers=SWAP)
    assert answer.status_code == 422
    assert "Mark it all the same: came out soft" in answer.content.decode()
    hand(crew).mark(green, "demold", outcome="soft", reason="Form was leaking", headers=SWAP)
    assert Mark.objects.get(step_key="demold").outcome == "soft"


def test_a_broken_one_is_offered_to_be_cast_again_until_it_is(hand, crew, cured):
    answer = hand(crew).mark(cured, "demold", outcome="broken", headers=SWAP).content.decode()
    assert "It broke when it was demolded." in answer
    assert "To be cast again" in answer
    page = hand(crew).page(cured).content.decode()
    assert page.count("To be cast again") == 1
    assert page.count(f'id="{cured.code}-hold-reason"') == 1


@pytest.mark.parametrize("word", ["salió rota", "¿Cómo salió?"])
def test_it_is_asked_and_said_in_spanish(hand, crew, cured, word):
    crew.language = "es"
    crew.save()
    text = hand(crew).page(cured).content.decode()
    text += hand(crew).mark(cured, "demold", outcome="broken", headers=SWAP).content.decode()
    assert word in text
