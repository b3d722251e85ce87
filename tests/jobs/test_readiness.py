"""From facts to dates: what a rebuild derives, stores, flags and warns of."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from jobs.models import Flag, InstallDate, JobReadiness, Mail, PromiseState
from jobs.services.outlook import as_json, from_json
from jobs.services.readiness import open_outlooks, outlook_of, rebuild
from shop.models import Change, ClosedDay, JudgedOn, Shop
from tests.factories import (
    make_batch,
    make_job,
    make_mark,
    make_mix,
    make_notice,
    make_person,
    make_piece,
    make_readings,
    make_room,
    make_shop,
    make_working_week,
)

pytestmark = pytest.mark.django_db

CHICAGO = ZoneInfo("America/Chicago")
CAST = dt.datetime(2026, 3, 3, 14, 0, tzinfo=CHICAGO)  # a Tuesday


@pytest.fixture(autouse=True)
def shop() -> Shop:
    make_working_week()
    return make_shop(margin_hours=12.0, leave_by=dt.time(15, 0))


def cast_job(number: str = "217", promised_on: dt.date | None = None, celsius: float = 20.0):
    room = make_room(celsius=celsius)
    job = make_job(number, promised_on=promised_on or dt.date(2026, 3, 20))
    piece = make_piece(job, room=room)
    make_mark(piece, "cast", CAST)
    return job, room


def warm_night(room, celsius: float = 20.0, hours: float = 18.0) -> dt.datetime:
    make_readings(room, CAST - dt.timedelta(hours=4), hours + 4, celsius)
    return CAST + dt.timedelta(hours=hours)


def test_a_cold_night_makes_a_piece_ready_later_than_a_mild_one() -> None:
    _, room = cast_job()
    now = warm_night(room, 20.0)
    mild = outlook_of("217", now)
    room.readings.all().delete()
    warm_night(room, 8.0)
    cold = outlook_of("217", now)

    mild_demold, cold_demold = (o.pieces[0].steps[1] for o in (mild, cold))
    assert cold_demold.earliest > mild_demold.earliest + dt.timedelta(hours=10)
    assert cold_demold.governs in {"strength", "equivalent age"}
    assert cold.ready_at >= mild.ready_at


@pytest.mark.parametrize("judged_on", JudgedOn.values)
def test_the_promise_holds_is_tight_or_is_short_by_its_hours(judged_on: str) -> None:
    job, room = cast_job()
    Shop.objects.update(judged_on=judged_on)
    now = warm_night(room)
    found = outlook_of("217", now)
    assert found.ready_early <= found.ready_at < found.ready_late
    ready = found.judged_at.astimezone(CHICAGO)
    assert found.judged_at == (found.ready_late if judged_on == "late" else found.ready_at)
    states = {}
    for name, moment in {
        "holds": ready + dt.timedelta(hours=13),
        "tight": ready + dt.timedelta(hours=2),
        "short": ready - dt.timedelta(hours=6),
    }.items():
        job.promised_on, job.promised_by = moment.date(), moment.time()
        job.save()
        states[name] = outlook_of("217", now)

    assert [states[name].state for name in states] == list(states)
    assert states["short"].spare_hours == pytest.approx(-6.0, abs=0.02)
    assert states["tight"].spare_hours == pytest.approx(2.0, abs=0.02)


def test_a_job_is_as_ready_as_its_slowest_piece() -> None:
    job, room = cast_job()
    later = make_piece(job, "B", room=room)
    make_mark(later, "cast", CAST + dt.timedelta(days=1))
    now = warm_night(room, hours=30)

    outlook = outlook_of("217", now)

    assert outlook.slowest == "217-B"
    assert outlook.ready_at == max(piece.ready_at for piece in outlook.pieces)


def test_a_piece_that_is_not_cast_says_the_latest_casting_time() -> None:
    room = make_room()
    job = make_job("301", promised_on=dt.date(2026, 3, 27))
    make_piece(job, room=room)
    now = CAST

    outlook = outlook_of("301", now)
    assert outlook.latest_cast is not None
    assert "no casting time" in outlook.reason

    batch = make_batch(job.pieces.get(), planned_for=outlook.latest_cast)
    kept = outlook_of("301", now)
    assert kept.ready_at <= kept.promised_at

    batch.planned_for = outlook.latest_cast + dt.timedelta(days=1)
    batch.save()
    assert outlook_of("301", now).state == PromiseState.SHORT


def test_the_day_to_tell_is_the_promised_one_or_the_first_that_holds() -> None:
    job, room = cast_job(promised_on=dt.date(2026, 3, 27))
    now = warm_night(room)
    assert outlook_of("217", now).holding_on == dt.date(2026, 3, 27)

    job.promised_on = dt.date(2026, 3, 4)
    job.taken_on = dt.date(2026, 2, 20)
    job.save()
    make_notice(job, told_on=dt.date(2026, 3, 4))
    short = outlook_of("217", now)

    assert short.holding_on > dt.date(2026, 3, 4)
    assert short.told_differs
    assert short.told_days_off == (short.holding_on - dt.date(2026, 3, 4)).days


def test_a_promise_that_holds_is_the_day_to_tell_although_nobody_works_that_day() -> None:
    job, room = cast_job()
    now = warm_night(room)
    ready = outlook_of("217", now).ready_at.astimezone(CHICAGO)
    make_shop(leave_by=(ready - dt.timedelta(minutes=10)).time())
    job.promised_on = ready.date() + dt.timedelta(days=1)
    job.save()
    ClosedDay.objects.create(day=job.promised_on, name="Inventory")
    outlook = outlook_of("217", now)

    assert outlook.state == PromiseState.HOLDS
    assert outlook.holding_on == job.promised_on


def test_an_outlook_survives_its_store() -> None:
    _, room = cast_job()
    outlook = outlook_of("217", warm_night(room))

    assert from_json(as_json(outlook)) == outlook


def test_rebuilding_twice_changes_nothing() -> None:
    _, room = cast_job(promised_on=dt.date(2026, 3, 5))
    make_person("owner", warned=True)
    now = warm_night(room)
    rebuild(now)
    first = list(JobReadiness.objects.values()), Flag.objects.count(), Mail.objects.count()
    edition = Shop.objects.get().edition
    rebuild(now)

    assert (
        list(JobReadiness.objects.values()),
        Flag.objects.count(),
        Mail.objects.count(),
    ) == first
    assert Shop.objects.get().edition == edition


def test_the_store_can_be_thrown_away() -> None:
    _, room = cast_job()
    warm_night(room)
    before = rebuild()
    JobReadiness.objects.all().delete()

    assert [o.number for o in open_outlooks()] == [o.number for o in before]


def test_the_owner_is_warned_once_for_each_change_of_state() -> None:
    job, room = cast_job(promised_on=dt.date(2026, 3, 5))
    make_person("owner", email="owner@example.com", warned=True)
    make_person("crew", email="crew@example.com")
    now = warm_night(room)
    rebuild(now)
    rebuild(now + dt.timedelta(minutes=3))

    mail = Mail.objects.get()
    assert mail.to == "owner@example.com"
    assert "217 is short by" in mail.subject
    flag = Flag.objects.get()
    assert flag.state == PromiseState.SHORT
    assert flag.hours > 0
    assert flag.reason

    job.promised_on = dt.date(2026, 3, 27)
    job.save()
    rebuild(now + dt.timedelta(minutes=6))

    flag.refresh_from_db()
    assert flag.cleared_at == now + dt.timedelta(minutes=6)
    assert Mail.objects.count() == 2
    assert "217 holds again" in Mail.objects.first().subject


def test_a_promise_that_sways_about_its_limit_warns_once() -> None:
    job, room = cast_job()
    make_person("owner", warned=True)
    now = warm_night(room)
    ready = outlook_of("217", now).ready_at.astimezone(CHICAGO)
    for minutes in (-6, 6, -6, 6):
        moment = ready + dt.timedelta(minutes=minutes)
        job.promised_on, job.promised_by = moment.date(), moment.time()
        job.save()
        rebuild(now)

    assert Mail.objects.count() == 1
    assert Flag.objects.get().state == PromiseState.SHORT


def test_a_flag_is_cleared_when_its_job_is_closed() -> None:
    job, room = cast_job(promised_on=dt.date(2026, 3, 5))
    now = warm_night(room)
    rebuild(now)
    job.closed_at = now
    job.save()
    rebuild(now)

    assert Flag.objects.get().cleared_reason == "The job is no longer open."
    assert not JobReadiness.objects.exists()


def test_changes_noted_before_a_rebuild_are_gone_after_it_and_raise_the_edition() -> None:
    cast_job()
    rebuild(CAST)
    edition = Shop.objects.get().edition
    Change.objects.create(reason="a reading")
    rebuild(CAST)

    assert not Change.objects.exists()
    assert Shop.objects.get().edition == edition + 1


def test_a_room_whose_sensor_stopped_is_told_from_a_measured_one() -> None:
    _, room = cast_job()
    now = warm_night(room)
    assert not outlook_of("217", now).pieces[0].air_stale

    later = outlook_of("217", now + dt.timedelta(hours=8))

    assert later.pieces[0].air_stale
    assert "no fresh readings" in later.reason


def test_a_curve_that_is_not_the_shops_own_is_labelled() -> None:
    _, room = cast_job()
    assert outlook_of("217", warm_night(room)).pieces[0].placeholder

    mix = make_mix()
    mix.placeholder = False
    mix.save()
    assert not outlook_of("217", CAST).pieces[0].placeholder


def test_a_daylight_saving_night_counts_its_real_hours() -> None:
    """Clocks go forward on 8 March 2026 in Chicago: from 14:00 to 8:00 are 17 hours, not 18."""
    room = make_room(celsius=20.0)
    job = make_job("217", promised_on=dt.date(2026, 3, 27))
    piece = make_piece(job, room=room)
    cast = dt.datetime(2026, 3, 7, 14, 0, tzinfo=CHICAGO).astimezone(dt.UTC)
    make_mark(piece, "cast", cast)
    now = dt.datetime(2026, 3, 8, 8, 0, tzinfo=CHICAGO)
    make_readings(room, cast, 17.0, 20.0)

    assert outlook_of("217", now).pieces[0].equivalent_age == pytest.approx(17.0, abs=0.01)


def test_rebuilding_twenty_jobs_reads_as_often_as_ten() -> None:
    for number in range(10):
        cast_job(str(300 + number))
    with CaptureQueriesContext(connection) as ten:
        rebuild(CAST)
    for number in range(10, 20):
        cast_job(str(300 + number))
    with CaptureQueriesContext(connection) as twenty:
        rebuild(CAST)

    reads = [
        sum(query["sql"].startswith("SELECT") for query in queries.captured_queries)
        for queries in (ten, twenty)
    ]
    assert reads[0] == reads[1]


def test_an_install_waits_for_the_day_that_is_set_for_it() -> None:
    job, room = cast_job()
    now = warm_night(room)
    ready = outlook_of("217", now).ready_at
    agreed = ready + dt.timedelta(days=9)
    InstallDate.objects.create(job=job, starts_at=agreed)

    install = outlook_of("217", now).pieces[0].steps[-1]

    assert install.kind == "install"
    assert install.workable == agreed
    assert install.held_by_words == "the install date"
    assert install.earliest < agreed
