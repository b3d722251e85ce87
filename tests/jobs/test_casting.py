"""Setting casts and installs: the effect before, the conflict when two change one."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from jobs.models import Batch, InstallDate, PromiseState
from jobs.services.casting import (
    call_off_cast,
    call_off_install,
    cast_effect,
    install_effect,
    plan_cast,
    set_install,
    waiting_pieces,
)
from jobs.services.errors import Conflict, Refused
from jobs.services.readiness import outlook_of
from tests.factories import (
    make_job,
    make_mark,
    make_mix,
    make_person,
    make_piece,
    make_room,
    make_shop,
    make_working_week,
)

pytestmark = pytest.mark.django_db

NOW = dt.datetime(2026, 3, 2, 8, 0, tzinfo=ZoneInfo("America/Chicago")).astimezone(dt.UTC)
HOUR = dt.timedelta(hours=1)
DAY = dt.timedelta(days=1)


@pytest.fixture
def owner():
    return make_person("owner", name="Odd")


@pytest.fixture
def piece():
    make_shop()
    make_working_week()
    return make_piece(make_job("217", promised_on=dt.date(2026, 3, 20)), room=make_room())


def plan(piece, owner, at: dt.datetime = NOW + 6 * HOUR, **more):
    return plan_cast(
        piece_ids=[piece.pk], room_id=piece.room_id, planned_for=at, by=owner, now=NOW, **more
    )


def test_the_effect_is_told_before_anything_is_saved(piece) -> None:
    latest = outlook_of("217", NOW).latest_cast
    keeps, breaks = (
        cast_effect(piece_ids=[piece.pk], room_id=piece.room_id, planned_for=at, now=NOW)[0]
        for at in (latest, latest + 3 * DAY)
    )

    assert keeps.state in {PromiseState.HOLDS, PromiseState.TIGHT}
    assert breaks.state == PromiseState.SHORT
    assert "short by" in breaks.sentence
    assert "latest cast" in breaks.sentence
    assert not Batch.objects.exists()


def test_what_is_saved_has_the_effect_that_was_shown(piece, owner) -> None:
    at = NOW + 3 * DAY
    shown = cast_effect(piece_ids=[piece.pk], room_id=piece.room_id, planned_for=at, now=NOW)[0]
    plan(piece, owner, at)

    saved = outlook_of("217", NOW)
    assert (saved.state, saved.chance, saved.spare_hours) == (
        shown.state,
        shown.chance,
        shown.hours,
    )


def test_the_second_saver_is_told_what_changed(piece, owner) -> None:
    batch = plan(piece, owner)
    seen = batch.version
    plan(piece, owner, NOW + DAY, batch_id=batch.pk, version=seen)

    with pytest.raises(Conflict, match=r"Odd changed this cast .* Tue 3 Mar 08:00") as conflict:
        plan(piece, owner, NOW + 2 * DAY, batch_id=batch.pk, version=seen)
    batch.refresh_from_db()
    assert batch.planned_for == NOW + DAY

    plan(piece, owner, NOW + 2 * DAY, batch_id=batch.pk, version=conflict.value.version)
    batch.refresh_from_db()
    assert batch.planned_for == NOW + 2 * DAY


def test_pieces_of_two_mixes_are_not_one_batch(piece, owner) -> None:
    other = make_piece(piece.job, "B", mix=make_mix(name="Charcoal premix"))

    with pytest.raises(Refused, match="A cast is of one mix"):
        plan_cast(
            piece_ids=[piece.pk, other.pk],
            room_id=piece.room_id,
            planned_for=NOW + HOUR,
            by=owner,
            now=NOW,
        )


def test_a_cast_after_its_promise_is_refused(piece, owner) -> None:
    with pytest.raises(Refused, match="cast after it is promised"):
        plan(piece, owner, NOW + 30 * DAY)


def test_a_cast_in_the_past_is_refused(piece, owner) -> None:
    with pytest.raises(Refused, match="has passed"):
        plan(piece, owner, NOW - DAY)


def test_a_piece_moves_from_one_cast_to_another_and_leaves_no_empty_one(piece, owner) -> None:
    first = plan(piece, owner)
    second = plan(piece, owner, NOW + DAY)

    assert not Batch.objects.filter(pk=first.pk).exists()
    piece.refresh_from_db()
    assert piece.batch == second


def test_a_cast_called_off_puts_its_pieces_back_to_waiting(piece, owner) -> None:
    batch = plan(piece, owner)
    assert call_off_cast(batch_id=batch.pk, version=batch.version, by=owner) == [piece]

    assert not Batch.objects.exists()
    assert waiting_pieces() == [piece]


def test_a_cast_that_happened_is_not_moved(piece, owner) -> None:
    batch = plan(piece, owner)
    make_mark(piece, "cast", NOW, batch=batch)

    with pytest.raises(Refused, match="marked as cast"):
        plan(piece, owner, NOW + DAY, batch_id=batch.pk, version=batch.version)
    assert waiting_pieces() == []


def test_an_install_before_the_pieces_are_ready_says_so(piece) -> None:
    effect = install_effect(job_id=piece.job_id, starts_at=NOW + DAY, now=NOW)

    assert "not ready before" in effect.sentence


def test_installs_are_set_moved_and_called_off(piece, owner) -> None:
    at = NOW + 14 * DAY
    install = set_install(job_id=piece.job_id, starts_at=at, hours=4, people=3, by=owner, now=NOW)
    with pytest.raises(Conflict, match="Odd set this install"):
        set_install(job_id=piece.job_id, starts_at=at, hours=4, people=2, by=owner, now=NOW)
    set_install(
        job_id=piece.job_id,
        starts_at=at + DAY,
        hours=4,
        people=2,
        by=owner,
        version=install.version,
        now=NOW,
    )
    assert outlook_of("217", NOW).install_at == at + DAY

    call_off_install(job_id=piece.job_id, version=2, by=owner)
    assert not InstallDate.objects.exists()


def test_an_install_called_off_meanwhile_can_be_set_again(piece, owner) -> None:
    at = NOW + 14 * DAY
    with pytest.raises(Conflict, match="called this install off") as conflict:
        set_install(
            job_id=piece.job_id, starts_at=at, hours=4, people=2, by=owner, version=3, now=NOW
        )

    assert set_install(
        job_id=piece.job_id,
        starts_at=at,
        hours=4,
        people=2,
        by=owner,
        version=conflict.value.version,
        now=NOW,
    ).pk
