"""A mix's page of demolds: its numbers, who decides, what it says while little is known."""

from __future__ import annotations

import re

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from curing.outcomes import learn
from jobs.models import Demold, TrustedAge
from jobs.services.trust import alike_of, round_up
from shop.models import Mix
from tests.factories import (
    NOW,
    make_job,
    make_mark,
    make_mix,
    make_person,
    make_piece,
    make_shop,
)

pytestmark = pytest.mark.django_db

GATE = 20.0  # of the usual route: 2500 psi is reached before that
CLEAN = [(18.0 + place / 20, "clean") for place in range(30)]


@pytest.fixture
def mix() -> Mix:
    make_shop()
    return make_mix()


@pytest.fixture
def hands(mix: Mix):
    made: dict[str, Client] = {}

    def sign_in(role: str) -> Client:
        if role not in made:
            made[role] = Client()
            made[role].force_login(make_person(role))
        return made[role]

    return sign_in


def came_out(rows, number: str = "300") -> None:
    job = make_job(number)
    for place, (age, outcome) in enumerate(rows):
        piece = make_piece(job, chr(65 + place // 26) + chr(65 + place % 26), area_m2=0.5)
        mark = make_mark(piece, "demold", NOW, outcome=outcome)
        Demold.objects.create(mark=mark, age_hours=age, **alike_of(piece)._asdict())


def address(mix: Mix, tail: str = "") -> str:
    return f"/mixes/{mix.pk}/demolds/{tail}"


def words(answer) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", answer.content.decode()))


def typed(answer) -> dict[str, str]:
    """What the first form of the page would send."""
    form = re.search(r'<form method="post" action="/mixes.*?</form>', answer.content.decode(), re.S)
    assert form is not None
    return dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form[0]))


def test_without_a_demold_it_says_how_ages_come_here(hands, mix):
    assert "No piece of this mix is marked as demolded yet" in words(
        hands("crew").get(address(mix))
    )


def test_few_demolds_say_that_the_rest_is_belief(hands, mix):
    came_out([(22.0, "clean"), (23.0, "")])
    text = words(hands("office").get(address(mix)))
    assert "1 demold with an outcome: 1 clean." in text
    assert "1 more without one: it does not count." in text
    assert "Few demolds yet" in text
    assert "only after 10 came out clean: 1 has so far" in text


def test_the_numbers_are_the_engines(hands, mix):
    came_out([*CLEAN, (19.2, "soft"), (18.8, "chipped")])
    rows = [*((round(age, 1), said) for age, said in CLEAN), (19.2, "soft"), (18.8, "chipped")]
    evidence = learn(rows, gate_hours=GATE)
    answer = hands("crew").get(address(mix))
    text = words(answer)
    assert "32 demolds with an outcome: 30 clean, 1 soft, 1 chipped." in text
    curve = evidence.curve([GATE])
    mean, low, high = (round(100 * float(row[0])) for row in (curve.mean, curve.low, curve.high))
    assert f"20.0 h{mean} %{low} to {high} %" in text.replace(" </", "</")
    in_force = evidence.suggested(12.0).hours
    assert f"In force{round_up(in_force):.1f} h at 68 °F" in text.replace("In force ", "In force")
    # Each hour's demolds, in the table as in the drawing.
    assert "from 18 h" in text
    assert "18 to 19 h: 1 not clean" in text
    assert "safe" not in text.lower()


def test_the_owner_says_yes_and_takes_it_back(hands, mix):
    came_out(CLEAN)
    owner, page = hands("owner"), hands("owner").get(address(mix))
    suggested = round_up(learn([(round(a, 1), s) for a, s in CLEAN], gate_hours=GATE)
                         .suggested(12.0).suggested)  # fmt: skip
    assert f"Yes, use {suggested:.1f} h" in words(page)
    answer = owner.post(address(mix, "yes/"), typed(page), follow=True)
    assert "is in force. Dates that rest on it are reckoned anew" in words(answer)
    assert TrustedAge.objects.get().hours == suggested
    assert "yes, from 30 demolds" in words(answer)
    answer = owner.post(address(mix, "back/"), typed(answer), follow=True)
    assert "route's own gate is in force again" in words(answer).replace("&#x27;", "'")
    assert TrustedAge.objects.first().hours is None


def test_what_was_looked_at_before_another_demold_is_refused(hands, mix):
    came_out(CLEAN)
    page = hands("owner").get(address(mix))
    came_out([(19.9, "soft")], "301")
    answer = hands("owner").post(address(mix, "yes/"), typed(page), follow=True)
    assert "look again" in words(answer)
    assert not TrustedAge.objects.exists()


@pytest.mark.parametrize("role", ["crew", "office"])
def test_others_look_and_have_no_button(hands, mix, role):
    came_out(CLEAN)
    page = hands(role).get(address(mix))
    assert "The owner decides" in words(page)
    assert "Yes, use" not in words(page)


def test_nonsense_in_the_form_decides_nothing(hands, mix):
    came_out(CLEAN)
    sent = {"route": "²", "kind": "flat", "version": "x", "basis": ""}
    answer = hands("owner").post(address(mix, "yes/"), sent, follow=True)
    assert answer.status_code == 200
    assert not TrustedAge.objects.exists()


def test_more_demolds_take_as_many_queries(hands, mix):
    crew, counts = hands("crew"), []
    for number in ("300", "301"):
        came_out(CLEAN, number)
        with CaptureQueriesContext(connection) as queries:
            crew.get(address(mix))
        counts.append(len(queries))
    assert counts[0] == counts[1]
