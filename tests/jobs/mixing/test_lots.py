"""From a lot on a bag to the pieces that hold it."""

from __future__ import annotations

import uuid

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from jobs.models import Batch, MixerRun
from jobs.services.lots import find_lot, lots_in_use
from jobs.services.mixing import strike_run
from jobs.services.ticks import strike_tick, tick
from jobs.services.weigh_sheets import sheet_of
from shop.models import Person, Role
from tests.factories import DAY, HOUR, NOW, make_job, make_mark, make_person, make_shop
from tests.jobs.mixing.rows import make_cast, make_recipe, opened

pytestmark = pytest.mark.django_db


@pytest.fixture
def crew() -> Person:
    make_shop()
    make_recipe()
    return make_person(Role.CREW)


def ticked(run: MixerRun, crew: Person, lot: str, line: str = "Cement", days: int = 0) -> int:
    kg = next(one.weigh_kg for one in sheet_of(run).lines if one.key == line)
    at = NOW - days * DAY
    return tick(
        run_id=run.pk, line=line, kg=kg, lot=lot, by=crew, at=at, client_key=uuid.uuid4(), now=NOW
    ).pk


def run_of(crew: Person, *letters: str, number: str = "217") -> MixerRun:
    return opened(make_cast(*letters, number=number), crew)


def codes(text: str, component: str = "") -> list[str]:
    found = find_lot(text, component)
    assert found is not None
    return [held.piece.code for held in found.pieces]


@pytest.mark.parametrize("text", ["24-118a", "24 118 A", "lot 24118A"[4:], "4118a"])
def test_a_lot_is_found_however_it_is_written(crew: Person, text: str) -> None:
    ticked(run_of(crew, "A", "B"), crew, "24-118a")

    assert codes(text) == ["217-A", "217-B"]


def test_other_lots_and_too_short_ones_find_nothing(crew: Person) -> None:
    ticked(run_of(crew), crew, "24-118")

    assert codes("24-119") == []
    assert find_lot("2") is None
    assert find_lot("--  ") is None


def test_struck_ticks_struck_runs_and_what_was_weighed_over_hold_nothing(crew: Person) -> None:
    first, second, third = (run_of(crew, number=number) for number in ("301", "302", "303"))
    strike_tick(weighed_id=ticked(first, crew, "LOT-77"), by=crew, now=NOW)
    ticked(second, crew, "LOT-77")
    strike_run(run_id=second.pk, because="spilled", by=crew, now=NOW)
    ticked(third, crew, "LOT-77")
    ticked(third, crew, "LOT-78")  # in its place

    assert codes("LOT-77") == []
    assert codes("LOT-78") == ["303-A", "303-B"]


def test_a_lot_of_two_components_can_be_narrowed(crew: Person) -> None:
    cement, sand = run_of(crew, number="301"), run_of(crew, number="302")
    ticked(cement, crew, "B-12")
    ticked(sand, crew, "B-12", "Sand")

    found = find_lot("b12")
    assert found is not None
    assert found.components == [("Cement", "B-12"), ("Sand", "B-12")]
    assert codes("b12", "Sand") == ["302-A", "302-B"]


def test_where_the_pieces_stand_is_said(crew: Person) -> None:
    run = run_of(crew, "A", "B", "C")
    ticked(run, crew, "24-118")
    one, two, _three = run.batch.pieces.order_by("code")
    for piece in (one, two):
        make_mark(piece, "cast", NOW, by=crew, batch=run.batch)
    make_mark(one, "demold", NOW + 30 * HOUR, by=crew)
    make_mark(two, "", NOW + 31 * HOUR, by=crew, kind="recast", reason="broke")
    two.batch = None
    two.save()

    found = find_lot("24118")

    assert found is not None
    states = {held.piece.letter: (held.state, held.lost) for held in found.pieces}
    assert states == {
        "A": (one.route.steps.get(key="demold").name, False),
        "B": ("", True),
        "C": ("", False),
    }


def test_lots_in_use_are_listed_the_latest_first(crew: Person) -> None:
    run, other = run_of(crew, number="301"), run_of(crew, number="302")
    ticked(run, crew, "24-118", days=3)
    ticked(other, crew, "24 118", days=1)
    ticked(run, crew, "S-9", "Sand")
    ticked(run, crew, "old", "Water", days=91)

    listed = [(one.component, one.runs) for one in lots_in_use(NOW)]

    assert listed == [("Sand", 1), ("Cement", 2)]


def test_customers_are_for_those_who_may_see_them(crew: Person) -> None:
    run = run_of(crew)
    ticked(run, crew, "24-118")
    pages = {}
    for person in (crew, make_person(Role.OFFICE)):
        client = Client()
        client.force_login(person, "django.contrib.auth.backends.ModelBackend")
        pages[person.role] = client.get(reverse("lots"), {"q": "24118"}).content.decode()

    assert "Ada Fenwick-Lowe" in pages[Role.OFFICE]
    assert "Ada Fenwick-Lowe" not in pages[Role.CREW]
    assert "217-A" in pages[Role.CREW]


def test_the_page_says_what_to_do_where_there_is_nothing(crew: Person) -> None:
    client = Client()
    client.force_login(crew, "django.contrib.auth.backends.ModelBackend")

    assert "No lot was written down" in client.get(reverse("lots")).content.decode()
    nothing = client.get(reverse("lots"), {"q": "<b>77"}).content.decode()
    assert "Nothing that was weighed is of a lot" in nothing
    assert "<b>77" not in nothing
    assert "at least 2" in client.get(reverse("lots"), {"q": "7"}).content.decode()


def test_more_pieces_and_runs_take_no_more_queries(crew: Person) -> None:
    client = Client()
    client.force_login(crew, "django.contrib.auth.backends.ModelBackend")
    counts = []
    for lot, number in (("AA-1", 1), ("BB-1", 7)):
        for place in range(number):
            batch: Batch = make_cast(*"ABC"[: place + 1], job=make_job(f"{lot[0]}{place}"))
            run = opened(batch, crew)
            ticked(run, crew, lot)
        with CaptureQueriesContext(connection) as seen:
            assert client.get(reverse("lots"), {"q": lot}).status_code == 200
        counts.append(len(seen))

    assert counts[0] == counts[1]
