"""Marking, taking back, holding, and giving a casting up for lost."""

from __future__ import annotations

import datetime as dt
import uuid
from zoneinfo import ZoneInfo

import pytest

from jobs.models import Mark
from jobs.services.errors import AlreadyMarked, OutOfOrder, Refused, TooEarly
from jobs.services.marks import hold, mark_batch_cast, mark_done, recast, release, strike
from jobs.services.readiness import outlook_of
from shop.models import Change
from tests.factories import (
    make_batch,
    make_job,
    make_mark,
    make_person,
    make_piece,
    make_readings,
    make_room,
    make_shop,
    make_working_week,
)

pytestmark = pytest.mark.django_db

CAST = dt.datetime(2026, 3, 3, 14, 0, tzinfo=ZoneInfo("America/Chicago")).astimezone(dt.UTC)
HOUR = dt.timedelta(hours=1)


@pytest.fixture
def piece():
    make_shop()
    make_working_week()
    room = make_room(celsius=20.0)
    make_readings(room, CAST - HOUR, 200, 20.0)
    return make_piece(make_job("217", promised_on=dt.date(2026, 3, 20)), room=room)


@pytest.fixture
def crew():
    return make_person("crew", name="Nell")


@pytest.fixture
def owner():
    return make_person("owner", name="Odd")


def done(piece, key: str, by, at: dt.datetime, **more):
    return mark_done(
        piece_id=piece.pk, step_key=key, by=by, client_key=uuid.uuid4(), now=at, **more
    )


def next_key(at: dt.datetime) -> str:
    return outlook_of("217", at).pieces[0].next_step.key


def test_a_mark_moves_the_piece_on_and_notes_a_change(piece, crew) -> None:
    mark = done(piece, "cast", crew, CAST)

    assert mark.happened_at == CAST
    assert next_key(CAST) == "demold"
    assert Change.objects.filter(reason__startswith="217-A").exists()


def test_the_same_client_key_makes_one_mark(piece, crew) -> None:
    key = uuid.uuid4()
    marks = [
        mark_done(piece_id=piece.pk, step_key="cast", by=crew, client_key=key, now=CAST + n * HOUR)
        for n in range(3)
    ]

    assert len({mark.pk for mark in marks}) == 1
    assert Mark.objects.count() == 1


def test_a_step_already_marked_says_by_whom_and_when(piece, crew, owner) -> None:
    done(piece, "cast", crew, CAST)

    with pytest.raises(AlreadyMarked, match=r"already marked by Nell, Tue 3 Mar 14:00"):
        done(piece, "cast", owner, CAST + HOUR)


def test_a_step_whose_predecessor_is_missing_is_refused(piece, crew) -> None:
    with pytest.raises(OutOfOrder, match="cast is not marked yet and comes before demold"):
        done(piece, "demold", crew, CAST)

    assert not Mark.objects.exists()


def test_a_step_before_its_time_asks_for_a_reason_and_records_it(piece, crew) -> None:
    done(piece, "cast", crew, CAST)
    early = CAST + 8 * HOUR

    with pytest.raises(TooEarly, match="write why") as refused:
        done(piece, "demold", crew, early)
    assert refused.value.earliest > early

    mark = done(piece, "demold", crew, early, reason="Form needed, small piece")
    assert mark.early_before == refused.value.earliest
    assert mark.reason == "Form needed, small piece"
    assert mark.by == crew


def test_a_step_in_its_time_is_not_early(piece, crew) -> None:
    done(piece, "cast", crew, CAST)

    assert done(piece, "demold", crew, CAST + 48 * HOUR).early_before is None


def test_what_has_not_happened_yet_is_not_marked(piece, crew) -> None:
    with pytest.raises(Refused, match="has not come yet"):
        done(piece, "cast", crew, CAST, happened_at=CAST + HOUR)


def test_a_step_does_not_lie_before_the_one_before_it(piece, crew) -> None:
    done(piece, "cast", crew, CAST)

    with pytest.raises(Refused, match="cannot lie before it"):
        done(piece, "demold", crew, CAST + 48 * HOUR, happened_at=CAST - HOUR, reason="typed wrong")


def test_a_mark_made_in_the_evening_may_say_when_it_happened(piece, crew) -> None:
    mark = done(piece, "cast", crew, CAST + 6 * HOUR, happened_at=CAST)

    assert outlook_of("217", CAST + 6 * HOUR).pieces[0].cast_at == CAST
    assert mark.recorded_at > mark.happened_at


def test_a_second_tap_within_ten_minutes_takes_it_back(piece, crew) -> None:
    mark = done(piece, "cast", crew, CAST)
    Mark.objects.filter(pk=mark.pk).update(recorded_at=CAST)
    strike(mark_id=mark.pk, by=crew, client_key=uuid.uuid4(), now=CAST + HOUR / 7)

    assert next_key(CAST + HOUR) == "cast"
    assert Mark.objects.count() == 2


def test_after_ten_minutes_only_the_owner_strikes_with_a_reason(piece, crew, owner) -> None:
    mark = make_mark(piece, "cast", CAST, by=crew)
    late = CAST + HOUR

    with pytest.raises(Refused, match="ten minutes"):
        strike(mark_id=mark.pk, by=crew, client_key=uuid.uuid4(), now=late)
    with pytest.raises(Refused, match="Write why"):
        strike(mark_id=mark.pk, by=owner, client_key=uuid.uuid4(), now=late)
    strike(mark_id=mark.pk, by=owner, client_key=uuid.uuid4(), now=late, reason="wrong piece")

    assert next_key(late) == "cast"


def test_somebody_elses_fresh_mark_is_not_taken_back(piece, crew) -> None:
    mark = make_mark(piece, "cast", CAST, by=make_person("crew"))

    with pytest.raises(Refused, match="who made it"):
        strike(mark_id=mark.pk, by=crew, client_key=uuid.uuid4(), now=CAST + HOUR / 60)


def test_a_mark_under_a_later_one_is_not_struck(piece, crew, owner) -> None:
    cast = make_mark(piece, "cast", CAST, by=crew)
    make_mark(piece, "demold", CAST + 30 * HOUR, by=crew)

    with pytest.raises(OutOfOrder, match="Take that back first"):
        strike(
            mark_id=cast.pk, by=owner, client_key=uuid.uuid4(), now=CAST + 31 * HOUR, reason="no"
        )


def test_a_mark_is_struck_once(piece, owner) -> None:
    mark = make_mark(piece, "cast", CAST, by=owner)
    for_good = {"mark_id": mark.pk, "by": owner, "reason": "typed wrong", "now": CAST + HOUR}
    strike(client_key=uuid.uuid4(), **for_good)

    with pytest.raises(Refused, match="struck already"):
        strike(client_key=uuid.uuid4(), **for_good)


def test_a_piece_on_hold_is_not_marked_until_released(piece, crew) -> None:
    hold(piece_id=piece.pk, by=crew, reason="crack at the sink", client_key=uuid.uuid4(), now=CAST)
    with pytest.raises(Refused, match="crack at the sink"):
        done(piece, "cast", crew, CAST)
    assert outlook_of("217", CAST).pieces[0].on_hold == "crack at the sink"

    release(piece_id=piece.pk, by=crew, client_key=uuid.uuid4(), now=CAST)
    assert done(piece, "cast", crew, CAST)


def test_a_hold_needs_a_reason(piece, crew) -> None:
    with pytest.raises(Refused, match="Write why"):
        hold(piece_id=piece.pk, by=crew, reason="  ", client_key=uuid.uuid4(), now=CAST)


def test_a_lost_casting_waits_to_be_cast_again_and_keeps_its_record(piece, crew) -> None:
    batch = make_batch(piece, planned_for=CAST)
    done(piece, "cast", crew, CAST)
    recast(
        piece_id=piece.pk, by=crew, reason="broke when flipped", client_key=uuid.uuid4(),
        now=CAST + 30 * HOUR,
    )  # fmt: skip

    piece.refresh_from_db()
    assert piece.batch is None
    assert next_key(CAST + 31 * HOUR) == "cast"
    assert batch.marks.filter(step_key="cast").exists()


def test_a_batch_is_cast_at_once(piece, crew) -> None:
    other = make_piece(piece.job, "B", room=piece.room)
    batch = make_batch(piece, other, planned_for=CAST)
    key = uuid.uuid4()
    marks = mark_batch_cast(batch_id=batch.pk, by=crew, client_key=key, water_in=CAST, now=CAST)
    again = mark_batch_cast(batch_id=batch.pk, by=crew, client_key=key, water_in=CAST, now=CAST)

    assert {mark.piece_id for mark in marks} == {piece.pk, other.pk}
    assert {mark.pk for mark in again} == {mark.pk for mark in marks}
    assert Mark.objects.count() == 2


def test_a_batch_with_a_held_piece_is_not_half_cast(piece, crew) -> None:
    other = make_piece(piece.job, "B", room=piece.room)
    batch = make_batch(piece, other, planned_for=CAST)
    hold(piece_id=other.pk, by=crew, reason="form leaks", client_key=uuid.uuid4(), now=CAST)

    with pytest.raises(Refused, match="form leaks"):
        mark_batch_cast(batch_id=batch.pk, by=crew, client_key=uuid.uuid4(), now=CAST)
    assert not Mark.objects.filter(kind="done").exists()
