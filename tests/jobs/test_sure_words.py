"""How sure a told day is, said to the customer: what is said follows the draws."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest

from jobs.models import Piece
from jobs.services.outlook import DayChance, JobOutlook
from jobs.services.readiness import outlook_of
from jobs.services.sure_words import FIRM_WORDS, HELD_WORDS, sureness
from shop.models import Mix
from tests.factories import (
    DAY,
    HOUR,
    NOW,
    make_job,
    make_mark,
    make_piece,
    make_shop,
    make_working_week,
)

TOLD = dt.date(2026, 4, 10)


@pytest.fixture
def piece(db: None) -> Piece:
    make_shop()
    make_working_week()
    piece = make_piece(make_job("217"), "A")
    Mix.objects.update(placeholder=True)
    return piece


def now(at: dt.datetime = NOW) -> JobOutlook:
    outlook = outlook_of("217", at)
    assert outlook
    return outlook


def drawn(outlook: JobOutlook, *shares: float) -> JobOutlook:
    """As if these were the chances of the days up to the told one, which is the second last."""
    first = TOLD - dt.timedelta(days=len(shares) - 2)
    days = tuple(DayChance(first + number * DAY, share) for number, share in enumerate(shares))
    return dataclasses.replace(outlook, days=days)


def test_uncast_the_range_is_wide_and_its_width_is_said(piece: Piece) -> None:
    found = sureness(drawn(now(), 0.05, 0.1, 0.3, 0.6, 0.92, 1.0), TOLD)
    assert found.words == (
        "By our reckoning such a day is kept 9 times in 10; if it slips, then hardly ever by more "
        "than a day. Not every piece is cast yet, so we know only to within 3 days when it will "
        "be ready, and this day leaves room for that."
    )
    assert not found.firm


def test_cast_it_says_so_with_its_own_width(piece: Piece) -> None:
    make_mark(piece, "cast", NOW - 60 * HOUR)
    found = sureness(drawn(now(), 0.4, 0.97, 1.0), TOLD)
    assert found.words == (
        "By our reckoning such a day is kept more than 19 times in 20. Every piece is cast; "
        "curing, drying and sealing follow. We know to within a day when it will be ready, and "
        "this day leaves room for that."
    )


def test_a_day_that_is_told_too_soon_says_how_much_to_allow(piece: Piece) -> None:
    found = sureness(drawn(now(), 0.2, 0.62, 0.95), TOLD)
    assert "such a day is kept 6 times in 10; to be on the sure side, allow a day more." in (
        found.words
    )
    assert "leaves room" not in found.words


def test_a_hold_leaves_no_chance_to_be_told_and_no_reason(piece: Piece) -> None:
    held = dataclasses.replace(now().pieces[0], on_hold="crack")
    outlook = dataclasses.replace(now(), pieces=(held,))
    assert sureness(outlook, TOLD).words == HELD_WORDS
    assert "crack" not in HELD_WORDS


def test_without_draws_no_chance_is_made_up(piece: Piece) -> None:
    bare = dataclasses.replace(now(), days=())
    assert sureness(bare, TOLD).words == ("Not every piece is cast yet, so the day may still move.")


def test_it_gets_surer_as_the_work_goes_on_and_is_firm_after_the_last_coat(piece: Piece) -> None:
    """The real draws: the days between early and late grow no more, and fewer in the end."""
    widths = [width(now())]
    make_mark(piece, "cast", NOW)
    widths.append(width(now()))
    steps = [step.key for step in now().pieces[0].steps]
    for key in steps[1 : steps.index("crate")]:
        step = next(step for step in now().pieces[0].steps if step.key == key)
        assert not sureness(now(), now().holding_on).firm
        make_mark(piece, key, step.finish)
    last = now().pieces[0].steps[steps.index("crate") - 1].done_at
    assert last
    told = now(last).holding_on
    assert sureness(now(last), told).words == FIRM_WORDS
    widths.append(width(now(last)))
    assert widths[0] >= widths[1] > widths[2]


def width(outlook: JobOutlook) -> dt.timedelta:
    assert outlook.ready_late
    assert outlook.ready_early
    return outlook.ready_late - outlook.ready_early


def test_a_day_too_soon_is_not_firm_though_the_last_coat_is_on(piece: Piece) -> None:
    for number, key in enumerate(step.key for step in now().pieces[0].steps):
        if key == "crate":
            break
        make_mark(piece, key, NOW - (60 - number) * HOUR)
    found = now()
    assert sureness(found, found.holding_on).firm
    sooner = drawn(found, 0.5, 1.0)
    assert not sureness(sooner, TOLD - DAY).firm


def test_a_range_within_a_day_is_no_range_to_a_customer(piece: Piece) -> None:
    make_mark(piece, "cast", NOW - 60 * HOUR)
    found = sureness(drawn(now(), 0.0, 1.0, 1.0), TOLD)
    assert found.words == (
        "By our reckoning such a day is kept more than 19 times in 20. Every piece is cast; "
        "curing, drying and sealing follow."
    )
