"""Two people, or two workers, at the same moment: on a real database, each in a thread of its own.

Where it matters that both are in the middle of their work, `inside` holds the first one there
until the second arrives too, or cannot because it waits for a lock.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import threading
import uuid
from collections.abc import Callable
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.db import connection

from jobs.models import Batch, Flag, InstallDate, JobReadiness, Mail, Mark, Notice, Piece
from jobs.services import casting, marks, orders, readiness, telling
from jobs.services.errors import AlreadyMarked, Conflict, Refused
from jobs.services.outlook import from_json
from shop.models import Change, Person, Role
from shop.services import changed, people
from tests.factories import (
    DAY,
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

pytestmark = pytest.mark.django_db(transaction=True)

NOW = dt.datetime(2026, 3, 4, 10, 0, tzinfo=ZoneInfo("America/Chicago")).astimezone(dt.UTC)
Work = Callable[[], Any]


def together(*works: Work) -> list[Any]:
    """What each of these returns or raises when all of them start at once."""
    gate = threading.Barrier(len(works))
    outcomes: list[Any] = [None] * len(works)

    def run(place: int, work: Work) -> None:
        gate.wait(timeout=20)
        try:
            outcomes[place] = work()
        except Exception as error:  # judged by the test
            outcomes[place] = error
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=pair) for pair in enumerate(works)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    assert not any(thread.is_alive() for thread in threads)
    return outcomes


def inside(monkeypatch: pytest.MonkeyPatch, owner: Any, name: str) -> None:
    meeting = threading.Barrier(2)
    real = getattr(owner, name)

    def held(*args: Any, **kwargs: Any) -> Any:
        # Broken where the other one waits for what this one holds.
        with contextlib.suppress(threading.BrokenBarrierError):
            meeting.wait(timeout=1)
        return real(*args, **kwargs)

    monkeypatch.setattr(owner, name, held)


def faults(outcomes: list[Any]) -> list[Any]:
    """What is no answer a person could be given."""
    return [o for o in outcomes if isinstance(o, Exception) and not isinstance(o, Refused)]


def of_kind(outcomes: list[Any], kind: type) -> list[Any]:
    return [outcome for outcome in outcomes if type(outcome) is kind]


@pytest.fixture
def owner() -> Person:
    make_shop()
    make_working_week()
    make_readings(make_room(), NOW - 5 * DAY, 120)
    return make_person(Role.OWNER, name="Odd", warned=True)


@pytest.fixture
def crew(owner: Person) -> list[Person]:
    return [make_person(Role.CREW, name=name) for name in ("Nell", "Ben")]


@pytest.fixture
def piece(owner: Person) -> Piece:
    return make_piece(make_job("217", promised_on=dt.date(2026, 3, 27)))


def demold(piece: Piece, by: Person, key: uuid.UUID | None = None) -> Work:
    return lambda: marks.mark_done(
        piece_id=piece.pk, step_key="demold", by=by, client_key=key or uuid.uuid4(), now=NOW
    )


def move(batch: Batch, pieces: list[Piece], at: dt.datetime, by: Person) -> Work:
    return lambda: casting.plan_cast(
        piece_ids=[piece.pk for piece in pieces],
        room_id=batch.room_id,
        planned_for=at,
        by=by,
        batch_id=batch.pk,
        version=batch.version,
        now=NOW,
    )


# ---- marks ---------------------------------------------------------------------------------


def test_one_step_marked_on_two_phones_is_marked_once(
    piece: Piece, crew: list[Person], monkeypatch: pytest.MonkeyPatch
) -> None:
    make_mark(piece, "cast", NOW - 2 * DAY, by=crew[0])
    inside(monkeypatch, marks, "load_facts")
    outcomes = together(*(demold(piece, person) for person in crew))
    assert len(of_kind(outcomes, Mark)) == len(of_kind(outcomes, AlreadyMarked)) == 1
    assert Mark.objects.filter(step_key="demold").count() == 1


def test_one_tap_that_arrives_twice_at_once_is_one_mark(piece: Piece, crew: list[Person]) -> None:
    make_mark(piece, "cast", NOW - 2 * DAY, by=crew[0])
    key = uuid.uuid4()
    outcomes = together(*(demold(piece, crew[0], key) for _ in range(4)))
    assert len({mark.pk for mark in of_kind(outcomes, Mark)}) == 1
    assert len(of_kind(outcomes, Mark)) == 4


def test_a_mark_is_taken_back_once_from_two_phones(piece: Piece, crew: list[Person]) -> None:
    mark = make_mark(piece, "cast", NOW, by=crew[0])

    def strike() -> Mark:
        return marks.strike(mark_id=mark.pk, by=crew[0], client_key=uuid.uuid4(), now=NOW)

    outcomes = together(strike, strike)
    assert (len(of_kind(outcomes, Mark)), len(of_kind(outcomes, Refused))) == (1, 1)


def test_a_piece_and_its_whole_batch_marked_as_cast_at_once(
    piece: Piece, crew: list[Person], monkeypatch: pytest.MonkeyPatch
) -> None:
    other = make_piece(piece.job, "B")
    batch = make_batch(piece, other, planned_for=NOW)
    inside(monkeypatch, marks, "load_facts")

    def one() -> Mark:
        return marks.mark_done(
            piece_id=piece.pk, step_key="cast", by=crew[0], client_key=uuid.uuid4(), now=NOW
        )

    def whole() -> list[Mark]:
        return marks.mark_batch_cast(
            batch_id=batch.pk, by=crew[1], client_key=uuid.uuid4(), now=NOW
        )

    outcomes = together(one, whole)
    assert faults(outcomes) == []
    cast = Mark.objects.filter(step_key="cast")
    assert sorted(cast.values_list("piece", flat=True)) == sorted([piece.pk, other.pk])


# ---- casts and installs --------------------------------------------------------------------


def test_two_owners_move_a_cast_and_the_second_is_told(
    piece: Piece, owner: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    batch = make_batch(piece, planned_for=NOW + DAY)
    second = make_person(Role.OWNER, name="Ada")
    inside(monkeypatch, casting, "_castable")
    outcomes = together(
        move(batch, [piece], NOW + 2 * DAY, owner), move(batch, [piece], NOW + 3 * DAY, second)
    )
    [winner], [told] = of_kind(outcomes, Batch), of_kind(outcomes, Conflict)
    stands = Batch.objects.get()
    assert stands.planned_for == winner.planned_for
    assert stands.version == told.version == 2
    assert stands.planned_by.name in told.message


def test_two_casts_that_take_each_others_pieces_at_once(
    piece: Piece, owner: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = make_piece(piece.job, "B")
    first, second = make_batch(piece, planned_for=NOW + DAY), make_batch(other, planned_for=NOW)
    inside(monkeypatch, casting, "_castable")
    outcomes = together(
        move(first, [piece, other], NOW + 2 * DAY, owner),
        move(second, [piece, other], NOW + 3 * DAY, owner),
    )
    assert faults(outcomes) == []
    assert len({piece.batch_id for piece in Piece.objects.all()}) == 1
    assert Batch.objects.count() == 1


def test_a_cast_called_off_while_it_is_marked_as_cast(
    piece: Piece, owner: Person, crew: list[Person]
) -> None:
    batch = make_batch(piece, planned_for=NOW)
    outcomes = together(
        lambda: marks.mark_batch_cast(
            batch_id=batch.pk, by=crew[0], client_key=uuid.uuid4(), now=NOW
        ),
        lambda: casting.call_off_cast(batch_id=batch.pk, version=batch.version, by=owner),
    )
    assert faults(outcomes) == []
    assert len(of_kind(outcomes, Refused)) == 1
    piece.refresh_from_db()
    assert (piece.batch_id is not None) == Mark.objects.exists()


def test_a_job_called_off_while_its_cast_is_moved(
    piece: Piece, owner: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = make_piece(make_job("218", promised_on=dt.date(2026, 3, 27)), "A")
    batch = make_batch(piece, other, planned_for=NOW + DAY)
    inside(monkeypatch, casting, "_castable")
    outcomes = together(
        move(batch, [piece, other], NOW + 2 * DAY, owner),
        lambda: orders.call_off_job(job_id=piece.job_id),
    )
    assert faults(outcomes) == []
    piece.refresh_from_db()
    assert piece.batch_id is None or piece.job.called_off is False


def test_two_first_install_dates_at_once(piece: Piece, owner: Person) -> None:
    def set_at(at: dt.datetime) -> Work:
        return lambda: casting.set_install(
            job_id=piece.job_id, starts_at=at, hours=4, people=2, by=owner, now=NOW
        )

    outcomes = together(set_at(NOW + 20 * DAY), set_at(NOW + 21 * DAY))
    assert len(of_kind(outcomes, InstallDate)) == len(of_kind(outcomes, Conflict)) == 1


# ---- the stored outlooks -------------------------------------------------------------------


def test_two_workers_and_marks_end_in_what_the_facts_say(
    piece: Piece, crew: list[Person], monkeypatch: pytest.MonkeyPatch
) -> None:
    late = make_job("218", promised_on=dt.date(2026, 3, 5))
    make_mark(make_piece(late), "cast", NOW - DAY, by=crew[0])
    make_mark(piece, "cast", NOW - 2 * DAY, by=crew[0])
    inside(monkeypatch, readiness, "derive_jobs")
    outcomes = together(
        lambda: readiness.rebuild(NOW),
        lambda: readiness.rebuild(NOW),
        demold(piece, crew[0]),
    )
    assert faults(outcomes) == []
    assert Flag.objects.filter(cleared_at=None).count() == 1
    assert Mail.objects.count() == 1
    readiness.rebuild(NOW)
    stored = from_json(JobReadiness.objects.get(job=piece.job).outlook)
    assert [step.key for step in stored.pieces[0].steps if step.done] == ["cast", "demold"]
    assert not Change.objects.exists()


def test_a_change_that_comes_while_outlooks_are_rebuilt_stands_until_the_next(
    piece: Piece, crew: list[Person], monkeypatch: pytest.MonkeyPatch
) -> None:
    make_mark(piece, "cast", NOW - 2 * DAY, by=crew[0])
    changed.note_change("before")
    real = readiness.derive_jobs

    def derive(facts: Any) -> Any:
        tap = demold(piece, crew[0])
        # SQLite has one writer at a time: there it can only come from the same one.
        [mark] = together(tap) if connection.features.has_select_for_update else [tap()]
        assert isinstance(mark, Mark)
        return real(facts)

    monkeypatch.setattr(readiness, "derive_jobs", derive)
    readiness.rebuild(NOW)
    assert [change.reason for change in Change.objects.all()] == ["217-A: demold and flip"]
    monkeypatch.setattr(readiness, "derive_jobs", real)
    readiness.rebuild(NOW)
    stored = from_json(JobReadiness.objects.get().outlook)
    assert stored.pieces[0].steps[1].done
    assert not Change.objects.exists()


# ---- the office and the people -------------------------------------------------------------


def test_a_notice_sent_twice_at_once_is_one_mail(piece: Piece, crew: list[Person]) -> None:
    make_mark(piece, "cast", NOW - DAY, by=crew[0])
    key = uuid.uuid4()

    def tell() -> Notice:
        return telling.tell(
            job_id=piece.job_id, means=Notice.Means.EMAIL, told_on=dt.date(2026, 3, 27),
            body="Ready", subject="Ready", to="ada@example.com", by=crew[0], client_key=key, now=NOW,
        )  # fmt: skip

    outcomes = together(tell, tell)
    assert len({notice.pk for notice in of_kind(outcomes, Notice)}) == 1
    assert Mail.objects.count() == 1


def test_two_jobs_of_one_number_at_once(piece: Piece) -> None:
    values = {"number": "300", "title": "Sink", "customer": piece.job.customer}

    def save() -> Any:
        return orders.save_job(values={**values, "taken_on": NOW.date()})

    outcomes = together(save, save)
    assert faults(outcomes) == []
    assert len(of_kind(outcomes, Refused)) == 1


def test_two_owners_who_demote_each_other_at_once_leave_one(
    owner: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    second = make_person(Role.OWNER, name="Ada")
    inside(monkeypatch, people, "_refuse_last_owner")

    def demote(person: Person) -> Work:
        return lambda: people.change_person(
            person_id=person.pk, version=1, name=person.name, role=Role.CREW, warned=False
        )

    outcomes = together(demote(owner), demote(second))
    assert faults(outcomes) == []
    assert Person.objects.filter(role=Role.OWNER).count() == 1


def test_two_owners_who_remove_each_other_at_once_leave_one(
    owner: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    second = make_person(Role.OWNER, name="Ada")
    inside(monkeypatch, people, "_refuse_last_owner")
    outcomes = together(
        lambda: people.remove(person_id=owner.pk, by=second),
        lambda: people.remove(person_id=second.pk, by=owner),
    )
    assert faults(outcomes) == []
    assert Person.objects.filter(is_active=True, role=Role.OWNER).count() == 1


def test_an_invitation_opened_twice_at_once_makes_one_person(owner: Person) -> None:
    _, token = people.invite(name="New", email="new@example.com", role=Role.CREW, by=owner)

    def accept() -> Person:
        return people.accept(token=token, password="wet-hone-and-wash", language="en")

    outcomes = together(accept, accept)
    assert (len(of_kind(outcomes, Person)), len(of_kind(outcomes, Refused))) == (1, 1)
    assert Person.objects.filter(email="new@example.com").count() == 1
