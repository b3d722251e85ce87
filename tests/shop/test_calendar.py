from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from shop.localtime import to_hours
from shop.models import Change, ClosedDay, ExtraHours, Shop, WorkingHours
from shop.services.calendar import (
    Proposal,
    add_extra,
    closed_days,
    extra_hours,
    is_open,
    open_days,
    proposed_closed_days,
    remove_extra,
    shifts,
    working_windows,
)
from shop.services.errors import Refused
from tests.factories import make_shop, make_working_week

pytestmark = pytest.mark.django_db


def utc(*parts: int) -> dt.datetime:
    return dt.datetime(*parts, tzinfo=dt.UTC)


def hours(weekday: int, starts: str, ends: str) -> None:
    WorkingHours.objects.create(
        weekday=weekday, starts=dt.time.fromisoformat(starts), ends=dt.time.fromisoformat(ends)
    )


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def test_a_shift_is_a_stretch_of_shop_time(shop: Shop) -> None:
    hours(2, "07:00", "15:30")
    assert working_windows(shop, utc(2026, 3, 16), utc(2026, 3, 23)) == [
        (utc(2026, 3, 18, 12, 0), utc(2026, 3, 18, 20, 30))
    ]


def test_the_same_clock_is_another_moment_after_the_clocks_change(shop: Shop) -> None:
    hours(6, "07:00", "15:00")
    starts = [start for start, _ in working_windows(shop, utc(2026, 3, 1), utc(2026, 3, 10))]
    assert starts == [utc(2026, 3, 1, 13, 0), utc(2026, 3, 8, 12, 0)]


def test_a_night_shift_over_the_change_has_its_real_hours(shop: Shop) -> None:
    hours(6, "00:30", "06:30")
    ((spring_start, spring_end),) = working_windows(shop, utc(2026, 3, 8, 5), utc(2026, 3, 9, 5))
    ((autumn_start, autumn_end),) = working_windows(shop, utc(2026, 11, 1, 4), utc(2026, 11, 2, 5))
    assert spring_end - spring_start == dt.timedelta(hours=5)
    assert autumn_end - autumn_start == dt.timedelta(hours=7)


def test_a_shift_that_the_clocks_jump_over_is_no_shift(shop: Shop) -> None:
    hours(6, "02:10", "02:50")
    assert working_windows(shop, utc(2026, 3, 8), utc(2026, 3, 9)) == []


def test_a_shift_partly_jumped_over_keeps_what_is_left(shop: Shop) -> None:
    hours(6, "02:30", "03:15")
    assert working_windows(shop, utc(2026, 3, 8), utc(2026, 3, 9)) == [
        (utc(2026, 3, 8, 8, 0), utc(2026, 3, 8, 8, 15))
    ]


def test_nobody_works_on_a_closed_day_unless_the_shop_opens_anyway(shop: Shop) -> None:
    make_working_week()
    friday, monday = dt.date(2026, 7, 3), dt.date(2026, 7, 6)
    ClosedDay.objects.create(day=friday, name="Independence Day (observed)")
    ClosedDay.objects.create(day=monday, name="Inventory", open_anyway=True)
    days = {start.date() for start, _ in working_windows(shop, utc(2026, 7, 2), utc(2026, 7, 8))}
    assert days == {dt.date(2026, 7, 2), monday, dt.date(2026, 7, 7)}
    assert (is_open(friday), is_open(monday), is_open(dt.date(2026, 7, 4))) == (False, True, False)
    assert closed_days(friday, monday) == {friday: "Independence Day (observed)"}


def test_stretches_that_touch_are_one(shop: Shop) -> None:
    hours(0, "07:00", "12:00")
    hours(0, "12:00", "15:00")
    hours(0, "18:00", "23:59")
    hours(1, "00:00", "02:00")
    assert working_windows(shop, utc(2026, 3, 16, 6), utc(2026, 3, 17, 20)) == [
        (utc(2026, 3, 16, 12, 0), utc(2026, 3, 16, 20, 0)),
        (utc(2026, 3, 16, 23, 0), utc(2026, 3, 17, 7, 0)),
    ]


def test_windows_are_cut_at_the_asked_times(shop: Shop) -> None:
    hours(2, "07:00", "15:30")
    since, until = utc(2026, 3, 18, 14, 0), utc(2026, 3, 18, 16, 0)
    assert working_windows(shop, since, until) == [(since, until)]


def test_the_engine_gets_the_same_windows_in_its_hours(shop: Shop) -> None:
    hours(2, "07:00", "15:30")
    laid_out = shifts(shop, utc(2026, 3, 16), utc(2026, 3, 23))
    start, finish = laid_out.first_fit(to_hours(utc(2026, 3, 17)), 2.0)
    assert start == pytest.approx(to_hours(utc(2026, 3, 18, 12, 0)))
    assert finish - start == pytest.approx(2.0)


def test_a_shop_without_hours_has_no_shifts(shop: Shop) -> None:
    assert shifts(shop, utc(2026, 3, 16), utc(2026, 3, 23)).windows.shape == (0, 2)
    assert open_days(dt.date(2026, 3, 16), dt.date(2026, 3, 20)) == set()


def test_a_year_takes_as_many_queries_as_a_day(shop: Shop) -> None:
    make_working_week()
    counts = []
    for until in (utc(2026, 3, 17), utc(2027, 3, 16)):
        with CaptureQueriesContext(connection) as queries:
            working_windows(shop, utc(2026, 3, 16), until)
        counts.append(len(queries))
    assert counts == [3, 3]  # closed days, usual hours, extra hours


SATURDAY, SUNDAY = dt.date(2026, 3, 21), dt.date(2026, 3, 22)


def add(day: dt.date, starts: str, ends: str, **more: object) -> ExtraHours:
    begins, until = dt.time.fromisoformat(starts), dt.time.fromisoformat(ends)
    return add_extra(day=day, starts=begins, ends=until, today=dt.date(2026, 3, 16), **more)


def test_extra_hours_make_a_saturday_a_working_day(shop: Shop) -> None:
    make_working_week()
    add(SATURDAY, "08:00", "12:00", reason="Kitchen island")
    # 08:00 in Chicago is 13:00 UTC after the clock change of March 8.
    assert working_windows(shop, utc(2026, 3, 21), utc(2026, 3, 23)) == [
        (utc(2026, 3, 21, 13), utc(2026, 3, 21, 17))
    ]
    assert open_days(SATURDAY, SUNDAY) == {SATURDAY}
    assert is_open(SATURDAY)
    assert [row.reason for row in extra_hours(SATURDAY)] == ["Kitchen island"]
    assert extra_hours(SUNDAY) == []


def test_extra_hours_are_worked_on_a_closed_day_and_the_usual_ones_are_not(shop: Shop) -> None:
    hours(2, "07:00", "15:30")
    ClosedDay.objects.create(day=dt.date(2026, 3, 18), name="Inventory")
    add(dt.date(2026, 3, 18), "09:00", "11:00")
    assert working_windows(shop, utc(2026, 3, 16), utc(2026, 3, 23)) == [
        (utc(2026, 3, 18, 14), utc(2026, 3, 18, 16))
    ]
    assert closed_days(SATURDAY - 5 * dt.timedelta(days=1), SATURDAY) == {
        dt.date(2026, 3, 18): "Inventory"
    }


def test_a_long_evening_joins_the_usual_hours(shop: Shop) -> None:
    hours(2, "07:00", "15:30")
    add(dt.date(2026, 3, 18), "15:00", "19:00")
    assert working_windows(shop, utc(2026, 3, 16), utc(2026, 3, 23)) == [
        (utc(2026, 3, 18, 12), utc(2026, 3, 19, 0))
    ]


def test_extra_hours_change_dates_and_so_does_taking_them_back(shop: Shop) -> None:
    extra = add(SATURDAY, "08:00", "12:00")
    remove_extra(extra_id=extra.pk)
    reasons = list(Change.objects.order_by("pk").values_list("reason", flat=True))
    assert reasons == ["extra hours added", "extra hours removed"]
    assert open_days(SATURDAY, SUNDAY) == set()


@pytest.mark.parametrize(
    ("day", "starts", "ends", "said", "field"),
    [
        (dt.date(2026, 3, 15), "08:00", "12:00", "is over", "day"),
        (dt.date(2027, 3, 18), "08:00", "12:00", "Check the year", "day"),
        (SUNDAY, "12:00", "08:00", "before it begins", "ends"),
        (SUNDAY, "12:00", "12:00", "before it begins", "ends"),
        (SATURDAY, "11:00", "14:00", "08:00 to 12:00", "starts"),
        (dt.date(2026, 3, 18), "08:00", "15:30", "07:00 to 15:30 on that day anyway", "starts"),
    ],
)
def test_extra_hours_that_cannot_be_are_refused_with_why(
    shop: Shop, day: dt.date, starts: str, ends: str, said: str, field: str
) -> None:
    hours(2, "07:00", "15:30")
    add(SATURDAY, "08:00", "12:00")
    with pytest.raises(Refused, match=said) as refused:
        add(day, starts, ends)
    assert refused.value.field == field
    assert ExtraHours.objects.count() == 1


def test_extra_hours_beside_others_and_on_the_last_day_of_the_year_ahead_are_taken(
    shop: Shop,
) -> None:
    add(SATURDAY, "08:00", "12:00")
    add(SATURDAY, "12:00", "15:00")
    add(dt.date(2027, 3, 17), "08:00", "12:00")
    assert working_windows(shop, utc(2026, 3, 21), utc(2026, 3, 23)) == [
        (utc(2026, 3, 21, 13), utc(2026, 3, 21, 20))
    ]


def test_holidays_of_the_country_are_proposed_with_their_observed_days() -> None:
    proposals = proposed_closed_days(2026, Shop(country="US", region=""))
    assert Proposal(dt.date(2026, 11, 26), "Thanksgiving Day") in proposals
    assert dt.date(2026, 7, 3) in {proposal.day for proposal in proposals}
    assert proposals == sorted(proposals, key=lambda proposal: proposal.day)


def test_a_region_adds_its_own_days() -> None:
    texas = {
        proposal.name for proposal in proposed_closed_days(2026, Shop(country="US", region="TX"))
    }
    country = {
        proposal.name for proposal in proposed_closed_days(2026, Shop(country="US", region=""))
    }
    assert "Texas Independence Day" in texas - country


def test_an_unknown_region_leaves_the_countrys_days_and_an_unknown_country_none() -> None:
    assert proposed_closed_days(2026, Shop(country="US", region="QQ")) == proposed_closed_days(
        2026, Shop(country="US", region="")
    )
    assert proposed_closed_days(2026, Shop(country="QQ", region="")) == []
