"""Seal coats: their air, their recoat windows, what moved them, and the four days that follow."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from jobs.models import Piece
from jobs.piece.coat_figure import NARROW, WIDE, CoatFigure, hour_rows
from jobs.piece.coat_words import coat_rows, now_words
from jobs.services.coat_air import COLD, DEW, HOT, HUMID, air_of
from jobs.services.coats import BY_AIR, BY_WINDOW, SealCoats, seal_coats
from jobs.services.course import open_piece
from jobs.services.route_steps import engine_sealer
from jobs.services.uses import uses_of_job
from shop.localtime import to_hours
from shop.models import PlannedAir, Reading, Room, Sealer, Shop
from tests import factories
from tests.factories import DAY, HOUR, NOW

LIMITS = engine_sealer(Sealer()).limits


def sealed(code: str = "217-A") -> SealCoats:
    found = open_piece(code, NOW)
    assert found is not None
    seal = seal_coats(found.facts, found.piece, found.outlook)
    assert seal is not None
    return seal


def text(client, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200
    return " ".join(re.sub(r"<[^>]*>", " ", answer.content.decode()).split())


def honed(piece: Piece, at: dt.datetime) -> Piece:
    """Every step before the coats is done; it was wet last at `at`."""
    for step, when in (
        ("cast", NOW - 6 * DAY),
        ("demold", NOW - 5 * DAY),
        ("grind", NOW - 5 * DAY + HOUR),
        ("fill", NOW - 5 * DAY + 2 * HOUR),
        ("hone", at),
    ):
        factories.make_mark(piece, step, when)
    return piece


@pytest.fixture
def dry_at_two(waiting: Piece) -> Piece:
    """It has dried for its 48 h on Wednesday at 14:00 in the shop."""
    return honed(waiting, NOW + 5 * HOUR - 48 * HOUR)


# The air.


def test_air_is_held_against_each_limit():
    # 9.3 °C: dew point at 20 °C and 50 %, psychrometric tables.
    air = air_of(LIMITS, 20.0, 0.5)
    assert air.dew_point == pytest.approx(9.3, abs=0.05)
    assert air.above == pytest.approx(10.7, abs=0.05)
    assert air.fits


@pytest.mark.parametrize(
    ("celsius", "humidity", "missed"),
    [
        (15.0, 0.5, {COLD}),
        (30.0, 0.5, {HOT}),
        (20.0, 0.81, {HUMID}),
        (20.0, 0.85, {HUMID, DEW}),  # 85 % lies 2.6 K above its dew point
        (10.0, 0.99, {COLD, HUMID, DEW}),
        (20.0, 0.0, set()),  # a sensor that says 0 % breaks no formula
    ],
)
def test_what_is_missed_is_named(celsius, humidity, missed):
    air = air_of(LIMITS, celsius, humidity)
    assert {check.key for check in air.missed} == missed
    assert air.fits == bool(LIMITS.fits(celsius, humidity))


def test_without_humidity_nothing_is_said_to_fit():
    air = air_of(LIMITS, 20.0, None)
    assert air.dew_point is None
    assert air.above is None
    assert air.unknown
    assert not air.fits
    assert not air.missed


def test_the_margin_of_the_standard_belongs_to_it():
    """ISO 8502-4: at least 3 °C above the dew point."""
    limits = engine_sealer(Sealer(humidity_greatest=1.0)).limits
    near = [air_of(limits, 20.0, humidity) for humidity in (0.80, 0.82, 0.84, 0.86)]
    assert [air.above is not None and air.above >= 3.0 for air in near] == [a.fits for a in near]
    assert {air.fits for air in near} == {True, False}


# When a window would close at night.


@pytest.fixture
def short_window(dry_at_two: Piece) -> Piece:
    """4 to 8 h between coats, and abrading too long for any morning with a coat after it."""
    Sealer.objects.update(recoat_least_hours=4, recoat_greatest_hours=8, abrade_hours=4.5)
    return dry_at_two


def test_a_coat_waits_for_the_morning_when_its_window_would_close_at_night(short_window):
    first, second = sealed().coats

    # At 14:00 it would leave the next coat 18:42 to 22:42, when nobody is there.
    assert first.moved is not None
    assert first.moved.by == BY_WINDOW
    assert first.moved.soonest == NOW + 5 * HOUR
    assert first.moved.missed is not None
    assert first.moved.missed.closes is not None
    assert first.moved.missed.opens == NOW + 9 * HOUR + dt.timedelta(minutes=42)
    assert first.moved.missed.closes == NOW + 13 * HOUR + dt.timedelta(minutes=42)
    # Thursday 07:00; the next one from 11:42 would run into the midday break, so at 12:30.
    assert first.at == NOW + 22 * HOUR
    assert second.at == NOW + 27.5 * HOUR
    assert second.window is not None
    assert second.window.closes is not None
    assert second.window.opens <= second.at <= second.window.closes
    assert second.state == "in the window"


def test_the_page_says_why_the_coat_was_held_back(as_owner, short_window):
    page = text(as_owner, "/pieces/217-A/")

    assert "held back from Wed 18 Mar 14:00 to Thu 19 Mar 07:00" in page
    assert "it would leave the next one Wed 18 Mar 18:42 to Wed 18 Mar 22:42" in page
    assert "when nobody is on shift in air that fits" in page
    assert "too early until Thu 19 Mar 11:42" in page
    assert "It goes on inside it." in page
    assert "safe" not in page.lower()


def test_a_window_that_no_shift_meets_asks_for_abrading(as_owner, dry_at_two):
    Sealer.objects.update(recoat_least_hours=9, recoat_greatest_hours=12, abrade_hours=1)
    _first, second = sealed().coats

    assert second.state == "abrade first"
    assert second.moved is not None
    assert second.moved.taken == second.step.workable
    assert second.at == second.step.workable + HOUR  # the abrading comes before it
    assert "abrade first, 1 h, from" in text(as_owner, "/pieces/217-A/")


def test_a_coat_waits_for_air_that_fits(as_owner, waiting):
    Reading.objects.all().delete()
    honed(waiting, NOW - 3 * DAY)
    PlannedAir.objects.bulk_create(
        PlannedAir(room=waiting.room, weekday=day, hour=hour, celsius=celsius)
        for day in range(7)
        for hour, celsius in ((0, 10.0), (11, 20.0))
    )
    first = sealed().coats[0]

    assert first.moved is not None
    assert first.moved.by == BY_AIR
    assert first.at == NOW + 2 * HOUR  # 11:00
    assert first.air is not None
    assert first.air.fits
    assert not first.measured
    assert "the air of Casting room fits the sealer in working hours only from" in text(
        as_owner, "/pieces/217-A/"
    )


def test_a_coat_that_is_on_stands_in_the_air_it_had(dry_at_two):
    Reading.objects.filter(at__gt=NOW - 3 * HOUR).update(humidity=0.9)
    factories.make_mark(dry_at_two, "seal-1", NOW - HOUR)
    first, second = sealed().coats

    assert first.done
    assert first.measured
    assert first.moved is None
    assert first.air is not None
    assert {check.key for check in first.air.missed} == {HUMID, DEW}
    assert second.window is not None
    assert second.window.opens == NOW + 3 * HOUR


# The booth.


def test_coats_stand_in_the_booths_air_where_there_is_one(as_owner, dry_at_two):
    booth = factories.make_room("Spray booth", 24.0, is_booth=True)
    factories.make_readings(booth, NOW - DAY, 24, 24.0, humidity=0.4)
    seal = sealed()

    assert seal.room == "Spray booth"
    assert seal.is_booth
    assert seal.now.air is not None
    assert seal.now.air.celsius == 24.0
    assert "Now in Spray booth: 75 °F, 40 % humidity" in text(as_owner, "/pieces/217-A/")


def test_a_reading_that_is_too_old_is_named_so(as_owner, dry_at_two):
    Reading.objects.filter(at__gt=NOW - 5 * HOUR).delete()
    page = text(as_owner, "/pieces/217-A/")

    assert "Last read in Casting room" in page
    assert "read Wed 18 Mar 04:00" in page
    assert "too old to go by" in page
    assert "this air lets a coat go on" not in page


def test_what_was_never_read_is_said(as_owner, dry_at_two):
    Reading.objects.all().delete()
    assert "Nothing was ever read in Casting room" in text(as_owner, "/pieces/217-A/")


def test_without_humidity_the_page_asks_for_it(as_owner, dry_at_two):
    Reading.objects.update(humidity=None)
    page = text(as_owner, "/pieces/217-A/")

    assert "dew point not known" in page
    assert "measure the humidity before a coat goes on" in page
    assert "taken as the room's usual" in page.replace("&#x27;", "'")


def test_limits_and_values_that_read_alike_are_told_apart(dry_at_two):
    Reading.objects.update(celsius=15.4)  # 59.7 °F, where 60.1 °F is asked
    words = now_words(sealed(), Shop.objects.get())
    assert words is not None
    assert "too cold: 59.7 °F, at least 60.1 °F" in words.verdict


# Film.


@pytest.mark.parametrize(("celsius", "times"), [(23.0, 1.0), (13.0, 2.0)])
def test_film_hours_are_those_of_the_sheet_at_23_and_twice_as_many_10_colder(
    waiting, celsius, times
):
    Reading.objects.all().delete()
    Room.objects.update(usual_celsius=celsius)
    booth = factories.make_room("Spray booth", 23.0, is_booth=True)
    assert booth.is_booth
    honed(waiting, NOW - 3 * DAY)
    film = sealed().film

    assert [use.sheet_hours for use in film] == [24.0, 72.0, 168.0]
    for use in film:
        assert use.room_hours == pytest.approx(times * use.sheet_hours, abs=0.04)


def test_the_four_days_follow_each_other_on_page_sheet_and_job(as_owner, dry_at_two):
    found = open_piece("217-A", NOW)
    assert found is not None
    piece = found.outlook
    assert piece.steps[6].finish < piece.handle_at < piece.light_use_at < piece.full_use_at
    page = text(as_owner, "/pieces/217-A/")
    job = text(as_owner, "/office/jobs/217/")
    for shown in (page, job):
        for words in ("Handle or wrap", "Ready to leave", "Light use", "Full use"):
            assert words in shown
        for at in (piece.handle_at, piece.ready_at, piece.light_use_at, piece.full_use_at):
            assert f"{at.astimezone(found.facts.shop.zone):%H:%M}" in shown


def test_a_jobs_days_are_its_last_pieces(dry_at_two):
    other = factories.make_piece(dry_at_two.job, "B")
    factories.make_batch(other, planned_for=NOW + DAY)
    found = open_piece("217-A", NOW)
    assert found is not None
    pieces = found.job_outlook.pieces
    assert uses_of_job(pieces).full_at == pieces[1].full_use_at
    assert uses_of_job(()).full_at is None


# The drawing.


@pytest.mark.parametrize("size", [WIDE, NARROW])
def test_coats_and_windows_are_drawn_at_their_times(short_window, size):
    seal = sealed()
    drawn = CoatFigure(seal, Shop.objects.get(), size, to_hours(NOW))

    for coat, mark in zip(seal.coats, drawn.marks, strict=True):
        assert mark.x == pytest.approx(drawn.axis.at(coat.at), abs=0.05)
    second = drawn.marks[1]
    assert seal.coats[1].window is not None
    assert second.window is not None
    assert second.window.x == pytest.approx(drawn.axis.at(seal.coats[1].window.opens), abs=0.05)
    end = drawn.axis.at(seal.coats[1].window.closes)
    assert second.window.x + second.window.width == pytest.approx(end, abs=0.15)
    assert second.window.x <= second.x <= end
    assert drawn.axis.since <= to_hours(NOW + 5 * HOUR)  # where the held coat might have been
    for mark in drawn.marks:
        assert 0 <= mark.words_x <= drawn.width
        assert mark.y < drawn.height


def test_curves_lie_where_the_air_is(dry_at_two):
    drawn = CoatFigure(sealed(), Shop.objects.get(), WIDE, to_hours(NOW))
    air = [point for line in drawn.lines if line.kind != "dew" for point in line.points.split()]
    dew = [point for line in drawn.lines if line.kind == "dew" for point in line.points.split()]

    # 20 °C is 68 °F; its dew point at 50 % is 9.26 °C, and 3 K over that 12.26 °C or 54.1 °F.
    assert {point.split(",")[1] for point in air} == {str(drawn.scale.y(68.0))}
    assert float(dew[0].split(",")[1]) == pytest.approx(drawn.scale.y(54.1), abs=0.4)


def test_stretches_are_those_of_shifts_with_air_that_fits(dry_at_two):
    drawn = CoatFigure(sealed(), Shop.objects.get(), WIDE, to_hours(NOW))

    assert len(drawn.fitting) == 1  # the air always fits
    noon = NOW + 3 * HOUR  # 12:00, then half an hour's break
    ends = [round(span.x + span.width, 1) for span in drawn.workable]
    assert any(abs(end - drawn.axis.at(noon)) < 0.15 for end in ends)
    rows = hour_rows(drawn)
    assert all(row.fits for row in rows)
    local = [(row.at.astimezone(Shop.objects.get().zone), row.manned) for row in rows]
    for at, manned in local:
        working = at.weekday() < 5 and 7 <= at.hour <= 15
        assert manned == working


def test_the_drawing_names_itself_and_has_its_table(as_owner, dry_at_two):
    page = as_owner.get("/pieces/217-A/").content.decode()
    drawn = page[page.index('id="seal-coats"') :]
    assert drawn.count('<svg class="coats') == 2
    assert drawn.count('role="img" aria-label="Air in Casting room') == 2
    assert "The drawing in a table" in drawn


# What it costs.


def test_the_page_takes_as_many_queries_for_six_coats_and_five_rooms(as_owner, dry_at_two):
    def queries() -> int:
        with CaptureQueriesContext(
            connection,
        ) as seen:
            assert as_owner.get("/pieces/217-A/").status_code == 200
        return len(seen)

    few = queries()
    Sealer.objects.update(coats=6)
    for number in range(4):
        room = factories.make_room(f"Room {number}")
        factories.make_readings(room, NOW - DAY, 2)
    assert queries() == few


def test_a_route_without_coats_has_no_such_part(as_owner, waiting):
    waiting.route.steps.filter(kind="coat").delete()
    waiting.route.steps.filter(after_sealer_cure=True).update(after_sealer_cure=False)
    page = text(as_owner, "/pieces/217-A/")
    assert "Seal coats" not in page
    assert "Handle or wrap –" in page


def test_rows_have_words_for_each_coat(dry_at_two):
    rows = coat_rows(sealed(), Shop.objects.get())
    assert [row.name for row in rows] == ["seal coat 1", "seal coat 2"]
    assert rows[0].above == "dew point 49 °F, 19 °F above it"
    assert rows[0].window == "–"
