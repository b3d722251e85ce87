"""The week's page: what stands on it, for whom, and at what cost."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from jobs.models import Flag
from shop.models import ClosedDay, Room
from tests import factories
from tests.factories import DAY, HOUR, NOW
from tests.jobs.board.conftest import signed_in, week


def text_of(response) -> str:
    return response.content.decode()


def cast_job(number: str, **fields):
    piece = factories.make_piece(factories.make_job(number, **fields))
    factories.make_mark(piece, "cast", NOW - DAY)
    return piece


def many_jobs(first: int, count: int) -> None:
    for number in range(first, first + count):
        piece = factories.make_piece(factories.make_job(str(number)))
        other = factories.make_piece(piece.job, "B")
        factories.make_mark(piece, "cast", NOW - DAY)
        factories.make_batch(other, planned_for=NOW + HOUR)


def test_a_shop_without_jobs_says_so(as_owner) -> None:
    page = text_of(week(as_owner))

    assert "No jobs are open." in page
    assert "No promises are open." in page
    assert "Take the first one in at the office." in page
    assert "a room to cast in" not in page


def test_a_shop_without_a_room_is_told_what_comes_first(as_owner) -> None:
    Room.objects.update(in_use=False)

    page = text_of(week(as_owner))

    assert 'First the shop needs <a href="/shop/rooms/new/">a room to cast in</a>' in page
    assert "Take the first one in at the office." not in page


def test_a_job_has_its_line_and_its_promise_in_words(as_owner) -> None:
    cast_job("217", promised_on=dt.date(2026, 3, 20))

    page = text_of(week(as_owner))

    assert "One promise is short." in page
    assert 'id="job-217"' in page
    assert "short by" in page
    assert "promised Fri 20 Mar 15:00" in page


def test_twenty_jobs_take_as_many_queries_as_ten(as_owner) -> None:
    many_jobs(100, 10)
    week(as_owner)
    with CaptureQueriesContext(connection) as ten:
        as_owner.get("/board/?open=100")
    many_jobs(200, 10)
    week(as_owner)
    with CaptureQueriesContext(connection) as twenty:
        page = as_owner.get("/board/?open=100")

    assert page.content.count(b'<article class="row job') == 20
    assert len(twenty) == len(ten)


def test_a_standing_flag_says_since_when_and_why(as_owner) -> None:
    cast_job("217", promised_on=dt.date(2026, 3, 20))

    page = text_of(week(as_owner))

    flag = Flag.objects.get()
    assert f"{flag.reason} " in page.replace("&#x27;", "'")
    assert "since Wed 18 Mar 09:00" in page


def test_short_promises_come_first_and_what_has_left_comes_last(as_owner) -> None:
    left = cast_job("216", promised_on=dt.date(2026, 3, 19))
    factories.make_mark(left, "deliver", NOW - HOUR)
    cast_job("217", promised_on=dt.date(2026, 4, 10))
    cast_job("218", promised_on=dt.date(2026, 3, 20))

    page = week(as_owner)

    lines = page.context["sheet"].lines
    assert [line.outlook.number for line in lines] == ["218", "217", "216"]
    assert "Short and tight promises first, then by the day promised." in text_of(page)


def test_the_shortest_promise_is_told_first_and_the_others_by_name(as_owner) -> None:
    for number, day in (("217", 24), ("218", 19)):
        cast_job(number, promised_on=dt.date(2026, 3, day))

    page = text_of(week(as_owner))

    first, others = page.split('id="standing-others"')
    assert "<strong>218</strong>" in first
    assert "<strong>217</strong>" not in first
    assert '<b class="number">217</b>' in others.split("</summary>")[0]


def test_a_room_that_fell_silent_is_named(as_owner) -> None:
    room = factories.make_room("Cold end")
    factories.make_readings(room, NOW - 10 * HOUR, 4)

    page = text_of(week(as_owner))

    assert "has been silent since Wed 18 Mar 03:00 (6 h)" in page


def test_a_past_week_is_measured_to_its_end(as_owner) -> None:
    factories.make_readings(factories.make_room(), NOW - 14 * DAY, 14 * 24)

    (air,) = week(as_owner, "?week=2026-W11").context["sheet"].airs

    assert air.basis == "measured"


def test_closed_days_are_named(as_owner) -> None:
    ClosedDay.objects.create(day=dt.date(2026, 3, 19), name="Stock taking")

    assert "closed: Stock taking" in text_of(week(as_owner))


def test_a_day_counts_the_area_cast(as_owner) -> None:
    first, second = (factories.make_piece(factories.make_job(n), area_m2=1.0) for n in ("1", "2"))
    factories.make_batch(first, second, planned_for=NOW + DAY)
    factories.make_mark(
        factories.make_piece(factories.make_job("3"), area_m2=2.0), "cast", NOW - DAY
    )

    days = week(as_owner).context["sheet"].days

    assert [round(day.area_m2, 2) for day in days] == [0, 2.0, 0, 2.0, 0, 0, 0]
    assert [cast.codes for cast in days[3].casts] == [("1-A", "2-A")]


def test_a_struck_cast_mark_is_no_cast(as_owner, owner) -> None:
    piece = factories.make_piece(factories.make_job("217"))
    mark = factories.make_mark(piece, "cast", NOW - HOUR)
    factories.make_mark(piece, "", NOW, kind="struck", strikes=mark, by=owner)

    days = week(as_owner).context["sheet"].days

    assert not any(day.casts for day in days)


def test_a_cast_that_nobody_marked_is_pointed_out(as_owner) -> None:
    factories.make_batch(factories.make_piece(factories.make_job("217")), planned_for=NOW - DAY)

    assert "should have been cast Tue 17 Mar 09:00" in text_of(week(as_owner))


def test_jobs_without_a_cast_are_listed_with_their_latest_one(as_owner, piece) -> None:
    response = week(as_owner)

    (entry,) = response.context["sheet"].uncast
    assert entry.latest
    assert "cast by <strong>" in text_of(response)


def test_too_late_to_cast_is_said(as_owner) -> None:
    factories.make_piece(factories.make_job("217", promised_on=dt.date(2026, 3, 20)))

    assert "too late to cast for Fri 20 Mar 15:00" in text_of(week(as_owner))


@pytest.mark.parametrize("written", ["2026-W99", "yesterday", "<script>", "2026-W", "\x00"])
def test_a_week_that_there_is_not_shows_this_one(as_owner, written: str) -> None:
    response = as_owner.get("/board/", {"week": written})

    assert response.status_code == 200
    assert "Here is this week." in text_of(response)
    assert "Week 12" in text_of(response)
    assert "<script>alert" not in text_of(response)


def test_another_week_can_be_looked_at(as_owner) -> None:
    page = text_of(week(as_owner, "?week=2026-W13"))

    assert "Week 13" in page
    assert 'href="#now"' not in page


def test_filters_narrow_and_stay_in_the_address(as_owner, crew) -> None:
    cast_job("217", promised_on=dt.date(2026, 3, 20))
    cast_job("218")

    response = week(as_owner, "?state=short&week=2026-W12")

    assert [line.outlook.number for line in response.context["sheet"].lines] == ["217"]
    assert "/board/?week=2026-W13&amp;state=short" in text_of(response)


def test_jobs_can_be_picked_by_room(as_owner) -> None:
    far = factories.make_room("Far room")
    cast_job("217")
    factories.make_mark(
        factories.make_piece(factories.make_job("218"), room=far), "cast", NOW - DAY
    )

    lines = week(as_owner, f"?room={far.pk}").context["sheet"].lines

    assert [line.outlook.number for line in lines] == ["218"]


def test_jobs_can_be_picked_by_who_marked_or_set_something(as_owner, owner, crew) -> None:
    marked = factories.make_piece(factories.make_job("217"))
    factories.make_mark(marked, "cast", NOW - DAY, by=crew)
    factories.make_batch(factories.make_piece(factories.make_job("218")), planned_by=owner)
    factories.make_piece(factories.make_job("219"))

    found = [
        [line.outlook.number for line in week(as_owner, f"?person={who.pk}").context["sheet"].lines]
        for who in (crew, owner)
    ]

    assert found == [["217"], ["218"]]


@pytest.mark.parametrize(
    "query",
    ["?room=x&person=-1&state=rotten", "?person=99999999999999999999", "?open=%00", "?room=²"],
)
def test_nonsense_in_the_address_is_left_out(as_owner, piece, query: str) -> None:
    response = week(as_owner, query)

    assert response.status_code == 200
    assert not response.context["sheet"].filters.narrowing


def test_an_empty_choice_offers_all_jobs(as_owner, piece) -> None:
    page = text_of(week(as_owner, "?state=kept"))

    assert "No job in this week is what you filtered for." in page
    assert "Show all jobs" in page


def test_a_part_is_drawn_for_the_page_and_the_whole_for_a_visit(as_owner) -> None:
    part = week(as_owner, **{"HX-Request": "true"})
    whole = week(as_owner)
    back = week(as_owner, **{"HX-Request": "true", "HX-History-Restore-Request": "true"})

    assert part.content.strip().startswith(b'<section id="week"')
    assert b"<html" in whole.content
    assert b"<html" in back.content


def test_a_job_opens_in_place(as_owner, piece) -> None:
    closed, opened = week(as_owner), week(as_owner, "?open=217")

    assert 'id="pieces-217"' not in text_of(closed)
    assert 'id="pieces-217"' in text_of(opened)


def test_decimals_stay_points_in_spanish(opened) -> None:
    reader = factories.make_person("crew", language="es")
    cast_job("217")

    page = text_of(week(signed_in(reader)))

    assert 'x="14,' not in page
    assert 'x="0.0%"' in page or 'x="14.286%"' in page


def test_the_crew_sees_the_week_but_sets_nothing(crew, piece) -> None:
    page = text_of(week(signed_in(crew)))

    assert "217" in page
    assert "/board/casts/" not in page


def test_a_fresh_page_is_not_behind(as_owner) -> None:
    sheet = week(as_owner).context["sheet"]

    answer = as_owner.get("/board/pulse/", {"edition": sheet.edition, "drawn": sheet.drawn})

    assert answer.status_code == 204
    assert "HX-Trigger" not in answer.headers


def test_a_page_is_behind_once_something_changed(as_owner) -> None:
    sheet = week(as_owner).context["sheet"]
    cast_job("217")
    week(as_owner)

    answer = as_owner.get("/board/pulse/", {"edition": sheet.edition, "drawn": sheet.drawn})

    assert answer.headers["HX-Trigger"] == "board-behind"


def test_a_page_left_open_is_drawn_anew(as_owner, clock) -> None:
    sheet = week(as_owner).context["sheet"]
    clock(NOW + HOUR)

    answer = as_owner.get("/board/pulse/", {"edition": sheet.edition, "drawn": sheet.drawn})

    assert answer.headers["HX-Trigger"] == "board-behind"


@pytest.mark.parametrize("query", [{}, {"edition": "x", "drawn": "²"}, {"edition": "9" * 40}])
def test_nonsense_asked_of_the_pulse_draws_the_page_anew(as_owner, query) -> None:
    answer = as_owner.get("/board/pulse/", query)

    assert (answer.status_code, answer.headers["HX-Trigger"]) == (204, "board-behind")


def test_the_pulse_is_light(as_owner, django_assert_max_num_queries) -> None:
    many_jobs(100, 5)

    with django_assert_max_num_queries(3):  # session, person, shop
        as_owner.get("/board/pulse/", {"edition": 1, "drawn": 1})
