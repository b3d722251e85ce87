"""What a mix's tests show."""

from __future__ import annotations

import re

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from curing.strength import PSI
from shop.models import Mix, Person, Shop
from shop.services.calibration import calibration_of
from tests.factories import (
    NOW,
    make_person,
    make_room,
    make_route,
    make_strength_test,
)
from tests.shop.setup.helpers import text
from tests.shop.setup.strength_helpers import cubes, page

# What the page says


def test_without_tests_it_is_nobodys_concrete(owners: Client, mix: Mix) -> None:
    words = text(page(owners, mix))

    assert "placeholder, not your concrete: ±30 %" in words
    assert "No tests yet" in words
    assert "0 tests count as compression so far" in words
    assert "Use the hyperbolic curve" not in words


@pytest.mark.parametrize(
    ("ages", "words"),
    [
        ((12.0, 24.0), "2 tests count as compression so far"),
        ((24.0, 24.0, 48.0), "at fewer than three different ages"),
    ],
)
def test_too_few_tests_say_what_is_missing(
    owners: Client, owner: Person, mix: Mix, ages: tuple[float, ...], words: str
) -> None:
    cubes(mix, owner, ages=ages)

    assert words in text(page(owners, mix))
    assert "placeholder, not your concrete" in text(page(owners, mix))


def test_tests_that_fall_are_questioned(owners: Client, owner: Person, mix: Mix) -> None:
    for age, mpa in ((12.0, 30.0), (24.0, 20.0), (48.0, 10.0)):
        make_strength_test(mix, owner, age, strength_mpa=mpa)

    assert "do not gain strength with age" in text(page(owners, mix))


def test_the_page_shows_both_curves_and_what_they_would_change(
    owners: Client, owner: Person, mix: Mix
) -> None:
    cubes(mix, owner)
    words = text(page(owners, mix))
    # t0 + S / (k (su - S)) of the slow curve and of the placeholder, S = 2,500 psi.
    assert "24.6 h at 68 °F instead of 17.9 h for 2,500 psi" in words
    assert "Use the hyperbolic curve" in words
    assert "Use the exponential curve" in words
    assert "The hyperbolic curve fits these tests clearly better" in words
    assert "safe " not in words


def test_the_strengths_are_those_the_routes_ask_for(owner: Person, shop: Shop, mix: Mix) -> None:
    make_route()
    seen = calibration_of(mix, now=NOW, shop=shop)

    assert [round(gate.mpa / PSI, -1) for gate in seen.gates] == [2500, 3000, 5000]


def test_a_test_far_off_is_pointed_out(owners: Client, owner: Person, mix: Mix) -> None:
    cubes(mix, owner)
    make_strength_test(mix, owner, 48.0, strength_mpa=9.0)

    assert "was it a bad break?" in text(page(owners, mix))


def test_a_coupon_is_shown_and_not_fitted(owners: Client, owner: Person, mix: Mix) -> None:
    cubes(mix, owner)
    make_strength_test(mix, owner, 24.0, kind="coupon", strength_mpa=6.0)
    answer = page(owners, mix)

    assert "bending: shown, not fitted as compression" in text(answer)
    assert answer.content.count(b'<g class="test aside"') == 2  # a wide and a narrow drawing


def test_the_drawing_has_its_words_and_its_table(owners: Client, owner: Person, mix: Mix) -> None:
    cubes(mix, owner)
    content = page(owners, mix).content.decode()

    assert content.count('role="img"') == 2
    assert "6 tests and the curves; the tables below have the same numbers" in content
    assert content.count('<g class="test"') == 2 * 6
    assert "The same in a table" in content
    assert not re.search(r"\sstyle=|<script>|\son\w+=", content)
    assert "nan" not in re.sub(r"<[^>]*class=[^>]*>", "", content).lower().split()


def test_a_page_takes_as_many_queries_with_many_tests(
    owners: Client, owner: Person, mix: Mix
) -> None:
    counts = []
    room = make_room()
    for _ in range(2):
        cubes(mix, owner)
        for hours in (20.0, 30.0):
            make_strength_test(mix, make_person(), hours, room=room)
        with CaptureQueriesContext(connection) as queries:
            page(owners, mix)
        counts.append(len(queries))

    assert counts[0] == counts[1]
