from __future__ import annotations

import datetime as dt

import pytest

from jobs.services.plain_words import (
    day_words,
    days_apart,
    listed,
    mentions,
    piece_words,
)
from jobs.services.readiness import outlook_of
from tests.factories import (
    HOUR,
    NOW,
    make_job,
    make_mark,
    make_piece,
    make_shop,
    make_working_week,
)

DAY = dt.date(2026, 12, 1)


@pytest.mark.parametrize(
    "text",
    [
        "ready on Tuesday 1 December.",
        "ready on December 1, 2026",
        "Ready Tue 1 Dec.",
        "the 1st of December",
        "Dec. 1st",
        "12/1",
        "2026-12-01",
        "01 DECEMBER",
    ],
)
def test_a_text_that_names_the_day(text: str) -> None:
    assert mentions(text, DAY)


@pytest.mark.parametrize(
    "text", ["", "11 December", "December 12", "21 Dec", "1 November", "12/10"]
)
def test_a_text_that_names_another_day_or_none(text: str) -> None:
    assert not mentions(text, DAY)


def test_days_are_said_with_the_year_only_if_it_is_another() -> None:
    assert day_words(DAY, dt.date(2026, 11, 1)) == "Tuesday 1 December"
    assert day_words(DAY, dt.date(2025, 11, 1)) == "Tuesday 1 December 2026"
    assert days_apart(DAY, DAY + dt.timedelta(days=1)) == "1 day later"
    assert days_apart(DAY, DAY - dt.timedelta(days=4)) == "4 days earlier"
    assert [listed([]), listed(["a"]), listed(["a", "b"]), listed(["a", "b", "c"])] == [
        "",
        "a",
        "a and b",
        "a, b and c",
    ]


@pytest.fixture
def steps(db: None) -> list[str]:
    make_shop()
    make_working_week()
    make_piece(make_job("217"), "A")
    make_mark(make_piece_of("217"), "cast", NOW - 60 * HOUR)
    outlook = outlook_of("217", NOW)
    assert outlook
    return [step.key for step in outlook.pieces[0].steps]


def make_piece_of(number: str):  # type: ignore[no-untyped-def]
    from jobs.models import Piece

    return Piece.objects.get(job__number=number)


def now():  # type: ignore[no-untyped-def]
    outlook = outlook_of("217", NOW)
    assert outlook
    return outlook


def test_a_piece_is_sealed_only_after_its_last_coat(steps: list[str]) -> None:
    coats = [key for key in steps if key.startswith("seal")]
    for key in steps[1 : steps.index(coats[0])]:
        make_mark(make_piece_of("217"), key)
    make_mark(make_piece_of("217"), coats[0])
    words = piece_words(now().pieces[0])
    assert (
        words.done_words
        == "cast, out of its form, ground, pinholes filled and honed smooth and washed"
    )
    assert words.next == "sealing"
    make_mark(make_piece_of("217"), coats[1])
    assert piece_words(now().pieces[0]).done[-1] == "sealed"
