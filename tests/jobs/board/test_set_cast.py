"""Setting, moving and calling off a cast."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from jobs.models import Batch
from jobs.services.readiness import outlook_of
from tests import factories
from tests.factories import DAY, NOW
from tests.jobs.board.conftest import signed_in

NEW = "/board/casts/new/"


def sent(*pieces, day: str = "2026-03-19", clock: str = "09:30", **more: Any) -> dict[str, Any]:
    return {
        "pieces": [piece.pk for piece in pieces],
        "room": pieces[0].room_id if pieces else "",
        "planned_for_0": day,
        "planned_for_1": clock,
        **more,
    }


def text_of(response) -> str:
    return response.content.decode()


def test_a_cast_takes_pieces_of_several_jobs(as_owner, owner, piece) -> None:
    other = factories.make_piece(factories.make_job("218"))

    answer = as_owner.post(NEW, sent(piece, other, note="first run"))

    batch = Batch.objects.get()
    assert answer.url == "/board/?week=2026-W12"
    assert {p.code for p in batch.pieces.all()} == {"217-A", "218-A"}
    assert batch.planned_for == dt.datetime(2026, 3, 19, 14, 30, tzinfo=dt.UTC)
    assert (batch.planned_by, batch.note) == (owner, "first run")


def test_the_effect_shows_before_saving(as_owner, piece) -> None:
    part = as_owner.post("/board/casts/effect/", sent(piece, day="2026-04-08"))

    assert "This cast makes 217, promised Fri 10 Apr, short by" in text_of(part)
    assert "latest cast" in text_of(part)
    assert not Batch.objects.exists()


def test_the_effect_shows_without_scripts_too(as_owner, piece) -> None:
    page = as_owner.post(NEW, sent(piece, show="1", note="kept"))

    assert page.status_code == 200
    assert "This cast keeps 217" in text_of(page)
    assert 'value="kept"' in text_of(page)
    assert not Batch.objects.exists()


def test_the_latest_cast_is_good_to_the_minute(as_owner, piece) -> None:
    latest = outlook_of("217", NOW).latest_cast.astimezone(factories.make_shop().zone)

    part = as_owner.post(
        "/board/casts/effect/", sent(piece, day=f"{latest:%Y-%m-%d}", clock=f"{latest:%H:%M}")
    )

    assert "This cast keeps 217" in text_of(part)


def test_a_cast_outside_working_hours_is_warned_of_and_saved(as_owner, piece) -> None:
    late = sent(piece, clock="21:00")

    part = as_owner.post("/board/casts/effect/", late)
    page = as_owner.post(NEW, late, follow=True)

    assert "Nobody is on shift Thu 19 Mar 21:00. It can be saved all the same." in text_of(part)
    assert "Nobody is on shift Thu 19 Mar 21:00." in text_of(page)
    assert Batch.objects.count() == 1


@pytest.mark.parametrize(
    ("day", "message"),
    [
        ("2026-03-17", "This casting time has passed."),
        ("2026-04-13", "217-A would be cast after it is promised (Fri 10 Apr 15:00)."),
    ],
)
def test_what_saving_would_refuse_is_told_with_the_effect(as_owner, piece, day, message) -> None:
    asked = sent(piece, day=day, clock="21:00")

    part = text_of(as_owner.post("/board/casts/effect/", asked))
    page = text_of(as_owner.post(NEW, asked | {"show": "1"}))

    for shown in (part, page):
        assert "It can't be saved like this." in shown
        assert message in shown
        assert "It can be saved all the same" not in shown


def test_two_mixes_are_no_one_cast(as_owner, piece) -> None:
    dark = factories.make_piece(factories.make_job("218"), mix=factories.make_mix(name="Charcoal"))

    answer = as_owner.post(NEW, sent(piece, dark))

    assert answer.status_code == 422
    assert "these pieces ask for Charcoal, White premix. Set a cast for each." in text_of(answer)
    assert text_of(answer).count(" checked") == 2
    assert not Batch.objects.exists()


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"pieces": []}, "Choose at least one piece to cast."),
        ({"pieces": ["999999"]}, "Choose another"),
        ({"pieces": ["x"]}, "Choose another"),
        ({"room": "999999"}, "Choose another"),
        ({"planned_for_0": "2026-03-17"}, "This casting time has passed."),
        ({"planned_for_0": "2026-04-13"}, "would be cast after it is promised"),
        ({"planned_for_0": "2027-03-14", "planned_for_1": "02:30"}, "does not exist"),
        ({"planned_for_0": "2026-11-01", "planned_for_1": "01:30"}, "happens twice that night"),
        ({"planned_for_0": "soon"}, "Write a date."),
        ({"planned_for_1": "25:00"}, "Write a time like 06:40."),
        ({"planned_for_0": ""}, "Give a date and a time."),
        ({"note": "x" * 201}, "At most 200 characters"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_typed_is_lost(
    as_owner, piece, change: dict[str, Any], message: str
) -> None:
    answer = as_owner.post(NEW, sent(piece) | {"note": "by the window"} | change)

    assert answer.status_code == 422
    assert message in text_of(answer)
    assert "note" in change or 'value="by the window"' in text_of(answer)
    assert not Batch.objects.exists()


def test_which_of_two_same_times_can_be_said(as_owner) -> None:
    piece = factories.make_piece(factories.make_job("217", promised_on=dt.date(2026, 12, 18)))
    twice = sent(piece, day="2026-11-01", clock="01:30", planned_for_2="1")

    as_owner.post(NEW, twice)

    assert Batch.objects.get().planned_for == dt.datetime(2026, 11, 1, 7, 30, tzinfo=dt.UTC)


@pytest.fixture
def batch(piece, owner):
    return factories.make_batch(piece, planned_for=NOW + DAY, planned_by=owner)


def test_a_cast_can_be_moved(as_owner, piece, batch) -> None:
    opened = as_owner.get(f"/board/casts/{batch.pk}/")
    as_owner.post(f"/board/casts/{batch.pk}/", sent(piece, day="2026-03-20", version=1))

    batch.refresh_from_db()
    assert 'value="2026-03-19"' in text_of(opened)
    assert (batch.planned_for.day, batch.version) == (20, 2)


def test_the_second_saver_is_told_and_loses_nothing(as_owner, piece, batch) -> None:
    other = signed_in(factories.make_person("owner", name="Anselm"))
    other.post(f"/board/casts/{batch.pk}/", sent(piece, clock="13:15", version=1))

    answer = as_owner.post(
        f"/board/casts/{batch.pk}/", sent(piece, clock="10:45", version=1, note="mine")
    )

    assert answer.status_code == 409
    shown = text_of(answer)
    assert "Anselm changed this cast while you had it open." in shown
    assert "now Thu 19 Mar 13:15, yours is Thu 19 Mar 10:45" in shown
    assert 'value="10:45"' in shown
    assert 'value="mine"' in shown

    again = as_owner.post(
        f"/board/casts/{batch.pk}/", sent(piece, clock="10:45", version=2, note="mine")
    )
    batch.refresh_from_db()
    assert again.status_code == 302
    assert (batch.planned_for.minute, batch.note) == (45, "mine")
    assert 'name="version" value="2"' in shown


def test_moving_a_cast_that_was_called_off_keeps_what_was_typed(as_owner, piece, batch) -> None:
    signed_in(batch.planned_by).post(f"/board/casts/{batch.pk}/call-off/", {"version": 1})

    answer = as_owner.post(f"/board/casts/{batch.pk}/", sent(piece, version=1, note="mine"))

    assert answer.status_code == 409
    assert "called off meanwhile" in text_of(answer)
    assert f'action="{NEW}"' in text_of(answer)
    assert 'value="mine"' in text_of(answer)


def test_a_cast_can_be_called_off(as_owner, piece, batch) -> None:
    page = as_owner.post(f"/board/casts/{batch.pk}/call-off/", {"version": 1}, follow=True)

    piece.refresh_from_db()
    assert piece.batch is None
    assert not Batch.objects.exists()
    assert "Waiting for a cast again: 217-A." in text_of(page)


@pytest.mark.parametrize("version", ["", "7", "x", "²"])
def test_a_cast_that_was_moved_is_not_called_off_unseen(as_owner, batch, version: str) -> None:
    Batch.objects.update(version=2)

    as_owner.post(f"/board/casts/{batch.pk}/call-off/", {"version": version})

    assert Batch.objects.exists()


def test_a_cast_that_is_made_can_not_be_moved(as_owner, piece, batch) -> None:
    factories.make_mark(piece, "cast", NOW, batch=batch)

    answer = as_owner.post(f"/board/casts/{batch.pk}/", sent(piece, version=1))

    assert answer.status_code == 422
    batch.refresh_from_db()
    assert batch.version == 1


def test_an_old_address_of_a_cast_leads_back_to_the_week(as_owner) -> None:
    page = as_owner.get("/board/casts/4711/", follow=True)

    assert page.redirect_chain[-1][0] == "/board/"
    assert "called off or made meanwhile" in text_of(page)


def test_asking_for_an_effect_takes_a_post(as_owner) -> None:
    assert as_owner.get("/board/casts/effect/").status_code == 405


@pytest.mark.parametrize("who", ["crew", "office"])
def test_only_the_owner_sets_casts(who: str, request, piece, batch) -> None:
    client = signed_in(request.getfixturevalue(who))

    answers = [
        client.get(NEW),
        client.post(NEW, sent(piece)),
        client.post("/board/casts/effect/", sent(piece)),
        client.post(f"/board/casts/{batch.pk}/", sent(piece, version=1)),
        client.post(f"/board/casts/{batch.pk}/call-off/", {"version": 1}),
    ]

    assert {answer.status_code for answer in answers} == {403}


def test_nothing_waiting_is_said(as_owner) -> None:
    page = text_of(as_owner.get(NEW))
    assert "No piece is waiting to be cast." in page
    assert 'Pieces come with their jobs: <a href="/office/">' in page


def test_twenty_waiting_pieces_take_as_many_queries_as_ten(as_owner) -> None:
    counts = []
    for start in (100, 200):
        for number in range(start, start + 10):
            factories.make_piece(factories.make_job(str(number)))
        as_owner.get(NEW)  # the readiness is worked out once
        with CaptureQueriesContext(connection) as queries:
            as_owner.get(NEW)
        counts.append(len(queries))

    assert counts[0] == counts[1]
