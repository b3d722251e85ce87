from __future__ import annotations

import datetime as dt
import itertools
from collections import defaultdict
from io import StringIO
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import transaction
from django.utils import timezone

from jobs.demo.cast_list import JOBS, PASSWORD, PEOPLE, Promise
from jobs.demo.load import CASTING, load, sensor_token
from jobs.models import Batch, Flag, FormSetUp, Job, Mark
from jobs.services.laying import Table, lay
from jobs.services.outlook import JobOutlook, PieceOutlook
from jobs.services.readiness import open_outlooks, rebuild
from jobs.services.together import box_of
from shop.models import Person, Reading, Room, RouteStep, Shop
from shop.services.calendar import working_windows
from shop.services.crew import planned_people
from shop.services.sensors import sensor_with
from tests.factories import make_person

pytestmark = pytest.mark.django_db

HOUR = dt.timedelta(hours=1)
MINUTE = dt.timedelta(minutes=1)


def utc(*parts: int) -> dt.datetime:
    return dt.datetime(*parts, tzinfo=dt.UTC)  # type: ignore[arg-type]


MOMENTS = {
    "a Wednesday morning before a holiday": utc(2026, 11, 25, 13, 40),
    "the night the clocks go forward": utc(2026, 3, 8, 8, 30),
    "the hour that comes twice": utc(2026, 11, 1, 6, 30),
    "a Monday before the first shift": utc(2026, 1, 5, 12, 20),
    "a holiday's afternoon": utc(2026, 7, 3, 20, 45),
}


# What a load of each moment made, as far as the tests have come: to load is what takes the time.
MADE: dict[dt.datetime, tuple[list[Any], list[Any]]] = {}


@pytest.fixture(params=MOMENTS.values(), ids=MOMENTS.keys())
def now(request: pytest.FixtureRequest) -> dt.datetime:
    moment: dt.datetime = request.param
    assert load(moment)
    MADE[moment] = _made()
    return moment


def by_number() -> dict[str, JobOutlook]:
    return {outlook.number: outlook for outlook in open_outlooks()}


def last_done(piece: PieceOutlook) -> str:
    return next((step.key for step in reversed(piece.steps) if step.done), "")


def test_it_is_alive_whenever_it_is_loaded(now: dt.datetime) -> None:
    outlooks = by_number()

    assert len(outlooks) >= 12
    assert [o.number for o in outlooks.values() if o.state == "short"] == ["212"]
    assert sorted(o.number for o in outlooks.values() if o.state == "tight") == ["217", "218"]
    assert {o.state for o in outlooks.values()} == {"holds", "tight", "short", "kept"}
    assert [o.number for o in outlooks.values() if o.told_differs] == ["212"]
    assert [o.number for o in outlooks.values() if o.install_too_early] in ([], ["212"])
    assert set(Flag.objects.values_list("job__number", flat=True)) == {"212", "217", "218"}
    _stages_are_as_cast(outlooks)
    _marks_lie_in_working_hours_and_in_order(now)
    _air_is_fresh_and_was_cold_one_night(now)
    _promises_lie_on_open_days_at_sane_times(outlooks)
    _people_of_differing_skill_are_there(now)
    _forms_stand_on_tables_that_hold_them(now)
    _another_run_of_the_workers_turns_nothing(now, outlooks)


def _stages_are_as_cast(outlooks: dict[str, JobOutlook]) -> None:
    for demo in JOBS:
        if demo.number not in outlooks or demo.recast:
            continue
        found = {piece.code: last_done(piece) for piece in outlooks[demo.number].pieces}
        wanted = {f"{demo.number}-{piece.letter}": piece.done for piece in demo.pieces}
        if demo.promise is Promise.SHORT:  # as far as a week allowed
            assert set(found.values()) <= {"demold", "grind", "fill", "hone", "seal-1"}
        else:
            assert found == wanted
    assert outlooks["221"].pieces[0].on_hold
    lost = outlooks["222"].pieces[0]
    assert lost.cast_at is None
    assert lost.cast_planned is not None
    assert outlooks["220"].pieces[0].cast_planned is None


def _marks_lie_in_working_hours_and_in_order(now: dt.datetime) -> None:
    marks = list(Mark.objects.order_by("pk"))
    windows = working_windows(Shop.objects.get(), now - dt.timedelta(days=60), now)
    for mark in marks:
        assert mark.happened_at <= now
        assert mark.recorded_at <= now
        assert any(start <= mark.happened_at <= end + 30 * MINUTE for start, end in windows)
    early = [mark for mark in marks if mark.early_before]
    assert [(mark.step_key, bool(mark.reason)) for mark in early] == [("demold", True)]
    assert sum(mark.kind == Mark.Kind.STRUCK for mark in marks) == 1
    assert sum(mark.kind == Mark.Kind.RECAST for mark in marks) == 1
    assert sum(mark.kind == Mark.Kind.HOLD for mark in marks) == 1


def _air_is_fresh_and_was_cold_one_night(now: dt.datetime) -> None:
    for room in Room.objects.all():
        latest = room.readings.latest("at")
        assert now - 15 * MINUTE < latest.at <= now
    cold = Reading.objects.filter(room__name=CASTING, celsius__lt=10).order_by("at")
    first, last = cold[0].at, cold.reverse()[0].at
    assert HOUR < last - first < 14 * HOUR
    assert dt.timedelta(days=3) < now - last < dt.timedelta(days=13)
    assert Reading.objects.filter(source=Reading.Source.HAND).count() == 1
    moments = list(Reading.objects.filter(room__name=CASTING).values_list("at", flat=True))
    gaps = [b - a for a, b in itertools.pairwise(moments)]
    assert sum(gap > 2 * HOUR for gap in gaps) == 1


def _promises_lie_on_open_days_at_sane_times(outlooks: dict[str, JobOutlook]) -> None:
    shop = Shop.objects.get()
    for outlook in outlooks.values():
        assert outlook.promised_at is not None
        local = outlook.promised_at.astimezone(shop.zone)
        assert local.weekday() < 5
        assert dt.time(8) <= local.time() <= dt.time(19)


def _people_of_differing_skill_are_there(now: dt.datetime) -> None:
    today = now.astimezone(Shop.objects.get().zone).date()
    planned = planned_people(since=today)
    assert planned.basis == "entered"
    assert len({hand.works for hand in planned.hands}) == len(planned.hands) == 4
    assert [hand.account_id for hand in planned.hands].count(None) == 1
    ((first, last),) = (away for hand in planned.hands for away in hand.absences)
    assert first.weekday() == 0
    assert 7 < (first - today).days <= 14
    assert (last - first).days == 2
    # Each step of every route finds its people on every weekday with everybody there.
    for step in RouteStep.objects.all():
        for weekday in range(5):
            able = [h for h in planned.hands if step.kind in h.works and weekday in h.weekdays]
            assert len(able) >= step.people, (step.kind, weekday)


def _forms_stand_on_tables_that_hold_them(now: dt.datetime) -> None:
    on_table = defaultdict(list)
    for form in FormSetUp.objects.select_related("table", "piece__batch"):
        assert form.set_up_at < now
        on_table[form.table].append(box_of(form.piece))
        cast = form.piece.marks.filter(step_key="cast").first()
        assert cast is None or form.set_up_at < cast.happened_at
    for table, boxes in on_table.items():
        assert not lay(boxes, [Table(table.name, table.length_m, table.width_m)]).left
    marked = {mark.piece.code for mark in Mark.objects.filter(step_key="cast")}
    demolded = {mark.piece.code for mark in Mark.objects.filter(step_key="demold")}
    codes = set(FormSetUp.objects.values_list("piece__code", flat=True))
    assert codes - marked == {"218-A"}
    assert codes & demolded == set()
    assert marked - demolded <= codes


def _another_run_of_the_workers_turns_nothing(
    now: dt.datetime, outlooks: dict[str, JobOutlook]
) -> None:
    before = {number: outlook.state for number, outlook in outlooks.items()}

    rebuild(now + 3 * MINUTE)

    assert {number: outlook.state for number, outlook in by_number().items()} == before
    assert Flag.objects.filter(cleared_at__isnull=True).count() == 3
    assert Batch.objects.filter(pieces=None, marks=None).count() == 0


def test_it_leaves_a_shop_with_people_alone() -> None:
    make_person()
    out = StringIO()

    call_command("load_demo", stdout=out)

    assert "already" in out.getvalue()
    assert Person.objects.count() == 1
    assert not Job.objects.exists()
    assert not Room.objects.exists()


def test_it_is_refused_where_the_demo_is_off(settings: Any) -> None:
    settings.DEMO = False

    with pytest.raises(CommandError, match="CUREWRIGHT_DEMO"):
        call_command("load_demo")
    with pytest.raises(CommandError, match="CUREWRIGHT_DEMO"):
        call_command("demo_logins")
    assert not Person.objects.exists()


def _made() -> tuple[list[Any], list[Any]]:
    air = Reading.objects.order_by("room__name", "at").values_list("at", "celsius")
    marks = Mark.objects.order_by("pk").values_list("step_key", "happened_at")
    return list(air), list(marks)


def test_two_loads_of_one_moment_are_alike_the_logins_work_and_the_token_opens(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    moment = MOMENTS["a Wednesday morning before a holiday"]
    if moment not in MADE:  # this test is run by itself
        with transaction.atomic():
            load(moment)
            MADE[moment] = _made()
            transaction.set_rollback(True)
    first = MADE[moment]
    monkeypatch.setattr(timezone, "now", lambda: moment)
    call_command("load_demo", stdout=StringIO())
    assert _made() == first
    assert all(first)

    out = StringIO()
    call_command("demo_logins", stdout=out)

    for person in PEOPLE:
        assert person.email in out.getvalue()
        assert Person.objects.get(email=person.email).check_password(PASSWORD)
    sensor = sensor_with(sensor_token(CASTING))
    assert sensor is not None
    assert sensor.room.name == CASTING
    assert sensor_token(CASTING) in out.getvalue()
    call_command("load_demo", stdout=out)
    assert Person.objects.count() == len(PEOPLE)


def test_logins_are_not_printed_for_people_who_are_not_there() -> None:
    make_person()

    with pytest.raises(CommandError, match="load_demo"):
        call_command("demo_logins")
