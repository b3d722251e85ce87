"""Weights of drying pieces: what is taken, what is refused, and what dates make of them."""

from __future__ import annotations

import uuid
from typing import Any

import pytest

from jobs.models import Piece, Weighing
from jobs.services import readiness
from jobs.services.errors import Refused
from jobs.services.weighing import losses
from jobs.services.weighing_entry import Unlikely, add_weighing, strike_weighing
from jobs.services.weighing_record import record_of
from shop.models import Change, Person, Role
from tests.factories import (
    DAY,
    HOUR,
    NOW,
    make_job,
    make_mark,
    make_person,
    make_piece,
    make_readings,
    make_room,
    make_shop,
    make_weighing,
    make_weighing_route,
    make_working_week,
)

pytestmark = pytest.mark.django_db

WASHED = NOW - 2 * DAY


@pytest.fixture(autouse=True)
def _shop() -> None:
    make_shop()
    make_working_week()
    make_readings(make_room(), NOW - 10 * DAY, 240, every_minutes=60)


@pytest.fixture
def crew() -> Person:
    return make_person(Role.CREW, name="Ben Carrow")


@pytest.fixture
def washed(crew: Person) -> Piece:
    """Honed and washed two days ago: about 59 kg, waiting for the scale before its coats."""
    piece = make_piece(make_job(), route=make_weighing_route())
    days = {"cast": 8, "demold": 6, "grind": 5, "fill": 4, "hone": 2}
    for step, ago in days.items():
        make_mark(piece, step, NOW - ago * DAY, by=crew)
    return piece


def weigh(piece: Piece, kg: float, by: Person, at: Any = NOW, **more: Any) -> Weighing:
    return add_weighing(
        piece_id=piece.pk, kg=kg, by=by, client_key=uuid.uuid4(), at=at, now=NOW, **more
    )


def coat_of(piece: Piece) -> Any:
    outlook = readiness.outlook_of(piece.job.number, NOW)
    assert outlook is not None
    return next(step for step in outlook.pieces[0].steps if step.key == "seal-1")


def test_a_weight_is_kept_with_who_and_when_and_dates_are_told(washed: Piece, crew: Person) -> None:
    Change.objects.all().delete()
    made = weigh(washed, 58.2, crew, NOW - HOUR)
    assert (made.kg, made.at, made.by) == (58.2, NOW - HOUR, crew)
    assert Change.objects.count() == 1


def test_a_piece_nobody_weighs_does_not_dry_by_the_clock(washed: Piece) -> None:
    """Its 48 h are over: from now on two weighings, a day apart, could show it dry."""
    assert coat_of(washed).governs == "weighing"
    assert coat_of(washed).earliest == NOW + DAY


def test_the_same_key_twice_is_one_weight(washed: Piece, crew: Person) -> None:
    key = uuid.uuid4()
    entered = {"piece_id": washed.pk, "kg": 58.2, "by": crew, "client_key": key, "now": NOW}
    assert add_weighing(**entered).pk == add_weighing(**entered).pk
    assert Weighing.objects.count() == 1


def test_two_weights_a_day_apart_under_the_limit_free_the_coat(washed: Piece, crew: Person) -> None:
    """0.1 % of 58 kg is 58 g a day; the limit of the route is 0.15 %."""
    weigh(washed, 58.258, crew, NOW - 25 * HOUR)
    before = coat_of(washed)
    weigh(washed, 58.2, crew, NOW - HOUR)
    after = coat_of(washed)
    assert before.governs == "weighing"
    assert before.earliest is not None
    assert before.earliest > NOW - 2 * HOUR
    weighing = next(wait for wait in after.waits if wait.criterion == "weighing")
    assert weighing.until == NOW - HOUR


def test_a_loss_over_the_limit_holds_the_coat_until_the_next_day(
    washed: Piece, crew: Person
) -> None:
    weigh(washed, 58.6, crew, NOW - 25 * HOUR)
    weigh(washed, 58.2, crew, NOW - HOUR)
    assert coat_of(washed).earliest >= NOW + 23 * HOUR


def test_a_struck_weight_no_longer_counts(washed: Piece, crew: Person) -> None:
    weigh(washed, 58.258, crew, NOW - 25 * HOUR)
    wrong = weigh(washed, 58.2, crew, NOW - HOUR)
    strike_weighing(weighing_id=wrong.pk, by=crew, now=NOW)
    assert coat_of(washed).earliest == NOW + HOUR  # the day is over: weigh it, and see
    wrong.refresh_from_db()
    assert (wrong.struck_by, wrong.struck_at) == (crew, NOW)


def test_striking_twice_keeps_who_was_first(washed: Piece, crew: Person) -> None:
    wrong = weigh(washed, 58.2, crew)
    strike_weighing(weighing_id=wrong.pk, by=crew, now=NOW)
    strike_weighing(weighing_id=wrong.pk, by=make_person(Role.OWNER), now=NOW + HOUR)
    wrong.refresh_from_db()
    assert (wrong.struck_by, wrong.struck_at) == (crew, NOW)


def test_after_ten_minutes_only_the_owner_strikes(washed: Piece, crew: Person) -> None:
    old = make_weighing(washed, 58.2, NOW - HOUR, by=crew)
    with pytest.raises(Refused, match="Ask the owner"):
        strike_weighing(weighing_id=old.pk, by=crew, now=NOW)
    strike_weighing(weighing_id=old.pk, by=make_person(Role.OWNER), now=NOW)


@pytest.mark.parametrize(
    ("at", "said"),
    [(WASHED - HOUR, "wetted or demolded after that"), (NOW + HOUR, "has not come yet")],
)
def test_a_time_that_cannot_be_is_refused(washed: Piece, crew: Person, at: Any, said: str) -> None:
    with pytest.raises(Refused, match=said) as refused:
        weigh(washed, 58.2, crew, at)
    assert refused.value.field == "happened_at"
    assert not Weighing.objects.exists()


def test_two_weights_of_one_minute_are_refused(washed: Piece, crew: Person) -> None:
    weigh(washed, 58.2, crew)
    with pytest.raises(Refused, match="already"):
        weigh(washed, 58.1, crew)


@pytest.mark.parametrize("kg", [28.0, 120.0])
def test_a_weight_far_from_the_reckoned_one_asks_again(
    washed: Piece, crew: Person, kg: float
) -> None:
    """1.5 m2 of 19 mm at 2080 kg/m3 are 59.3 kg, 130.7 lb."""
    with pytest.raises(Unlikely, match=r"reckoned at 130\.7 lb"):
        weigh(washed, kg, crew)
    assert weigh(washed, kg, crew, sure=True).kg == kg


def test_kilograms_typed_for_pounds_are_asked_about(washed: Piece, crew: Person) -> None:
    weigh(washed, 58.2, crew, NOW - DAY)
    with pytest.raises(Unlikely, match=r"weighed 128\.3 lb before") as asked:
        weigh(washed, 58.2 * 0.4536, crew)
    assert asked.value.field == "sure"


def test_a_piece_that_got_heavier_asks_again(washed: Piece, crew: Person) -> None:
    weigh(washed, 58.2, crew, NOW - DAY)
    with pytest.raises(Unlikely, match="gets lighter"):
        weigh(washed, 59.5, crew)
    weigh(washed, 58.3, crew)  # within a percent is the scale's own doubt


def test_a_route_that_dries_by_hours_takes_no_weights(crew: Person) -> None:
    piece = make_piece(make_job())
    with pytest.raises(Refused, match="does not dry by weighing"):
        weigh(piece, 58.2, crew)


def test_a_piece_in_its_form_is_not_weighed(crew: Person) -> None:
    piece = make_piece(make_job(), route=make_weighing_route())
    make_mark(piece, "cast", NOW - DAY, by=crew)
    with pytest.raises(Refused, match="still in its form"):
        weigh(piece, 58.2, crew)


def test_a_coated_piece_is_not_weighed_any_more(washed: Piece, crew: Person) -> None:
    make_mark(washed, "seal-1", NOW - HOUR, by=crew)
    with pytest.raises(Refused, match="waits for drying any more"):
        weigh(washed, 58.2, crew)


def test_the_record_says_what_each_weight_shows(washed: Piece, crew: Person) -> None:
    make_weighing(washed, 60.0, WASHED - HOUR, by=crew)
    first = make_weighing(washed, 58.6, NOW - 48 * HOUR, by=crew)
    struck = make_weighing(washed, 57.0, NOW - 47 * HOUR, struck_at=NOW, struck_by=crew)
    second = make_weighing(washed, 58.3, NOW - 24 * HOUR, by=crew)
    third = make_weighing(washed, 58.25, NOW, by=crew)

    record = record_of(list(washed.weighings.all()), WASHED, 0.15)

    shown = {row.weighing.pk: row for row in record.rows}
    assert [row.weighing for row in record.standing] == [first, second, third]
    assert not shown[struck.pk].counts
    # 0.3 kg of 58.3 in a day, then 0.05 of 58.25.
    assert shown[second.pk].percent_a_day == pytest.approx(0.5146, abs=1e-4)
    assert shown[third.pk].percent_a_day == pytest.approx(0.0858, abs=1e-4)
    assert [row.under for row in record.standing] == [False, False, True]
    assert record.dry_at == NOW
    assert record.limit_kg == pytest.approx(0.0874, abs=1e-4)


def test_losses_need_most_of_a_day_between(washed: Piece, crew: Person) -> None:
    rows = [make_weighing(washed, 58.6 - n / 100, NOW - (20 - n) * HOUR) for n in range(0, 20, 4)]
    assert losses(rows) == []
    rows.append(make_weighing(washed, 58.5, NOW + HOUR, by=crew))
    assert [loss.since for loss in losses(rows)] == [rows[0]]
