"""Where the figure puts what the concrete does."""

from __future__ import annotations

import datetime as dt
import re
from itertools import pairwise

import pytest

from jobs.piece.figure import NARROW, SHEET, WIDE, Figure
from jobs.services.course import STRENGTH, OpenPiece, open_piece
from shop.localtime import to_hours
from shop.models import Mix
from tests import factories
from tests.factories import DAY, HOUR, NOW


def opened(code: str = "217-A") -> OpenPiece:
    found = open_piece(code, NOW)
    assert found is not None
    return found


def figure(size=WIDE, code: str = "217-A") -> Figure:
    found = opened(code)
    assert found.course is not None
    return Figure(found.course, found.outlook, found.facts.shop, size)


def points(text: str) -> list[tuple[float, float]]:
    return [tuple(map(float, pair.split(","))) for pair in text.split()]  # type: ignore[misc]


def test_the_course_runs_from_casting_to_ready(cast):
    found = opened()
    course = found.course

    assert course.cast == to_hours(NOW - DAY)
    assert course.hours[0] < course.cast
    assert course.hours[-1] > to_hours(found.outlook.ready_at)
    assert {course.cast, course.now} <= set(course.hours)
    assert (course.ages[course.hours <= course.cast] == 0).all()
    assert (course.ages[1:] >= course.ages[:-1]).all()


def test_a_room_at_the_reference_temperature_ages_by_the_clock(cast):
    course = opened().course

    now = list(course.hours).index(course.now)
    assert course.ages[now] == pytest.approx(24.0, abs=1e-6)


def test_what_is_measured_ends_with_the_readings(cast):
    course = opened().course

    ends = [hour for hour, known in zip(course.hours[1:], course.measured, strict=True) if known]
    assert ends[-1] == course.now
    assert course.measured[0]


def test_each_gate_lies_where_the_curve_meets_it(cast):
    drawn = figure()

    for panel in (drawn.age, drawn.strength):
        curve = [point for line in panel.lines for point in points(line.points)]
        for gate in panel.gates:
            assert gate.reached
            near = min(curve, key=lambda point: abs(point[0] - gate.x))
            assert near[1] == pytest.approx(gate.y, abs=4)


def test_gates_carry_their_step_and_figure(cast):
    drawn = figure()

    words = "; ".join(label.words for label in drawn.strength.labels)
    assert "demold and flip 2,500" in words
    assert "grind 3,000" in words
    assert "deliver 5,000" in words
    assert any("deliver 120 h" in label.words for label in drawn.age.labels)


def test_a_gate_is_met_once_the_concrete_has_come_so_far(cast):
    gates = {gate.words: gate.met for gate in figure().strength.gates}

    assert gates == {"demold and flip 2,500": True, "grind 3,000": True, "deliver 5,000": False}


def test_a_placeholder_has_its_band_and_says_so(cast):
    drawn = figure()
    gate = opened().course.gates_of(STRENGTH)[0]

    assert "placeholder" in drawn.strength.note
    assert "±30 %" in drawn.strength.note
    assert len(points(drawn.strength.bands[0])) > 100
    assert gate.soonest_at < gate.reached_at < gate.latest_at


def test_a_gate_beyond_the_curve_says_that_it_is_not_reached(cast):
    Mix.objects.update(su_mpa=30.0)
    drawn = figure()

    gate = drawn.strength.gates[-1]
    assert not gate.reached
    assert gate.x == drawn.right
    assert any(label.words.endswith("not reached") for label in drawn.strength.labels)


def test_steady_air_runs_within_its_panel(cast):
    scale = figure().air.scale

    assert scale.low < 68 < scale.high
    assert scale.top < scale.y(68) < scale.floor


def test_done_steps_stand_apart_from_coming_ones(cast):
    factories.make_mark(cast, "demold", NOW - HOUR)
    rows = figure().rows

    assert [row.done for row in rows[:3]] == [True, True, False]
    assert [row.is_next for row in rows[:4]] == [False, False, True, False]
    assert all(a.y < b.y for a, b in pairwise(rows))
    assert all(row.since <= row.allowed <= row.x for row in rows)
    assert [row.words.title.split()[0] for row in rows[-2:]] == ["deliver", "install"]


def inside(x: float, anchor: str, length: float, width: float) -> bool:
    left = x - (length if anchor == "end" else 0)
    return left >= 0 and left + length <= width


@pytest.mark.parametrize("size", [WIDE, NARROW, SHEET])
@pytest.mark.parametrize("ago", [0.1, 1, 3, 8])
def test_no_words_run_off_the_drawing(waiting, size, ago):
    factories.make_mark(waiting, "cast", NOW - ago * DAY)
    drawn = figure(size)

    for words in (row.words for row in drawn.rows):
        title, reason = len(words.title) * 6.5, len(words.reason) * 5.6
        run_on = title + (reason + 16 if words.run_on else 0)
        assert inside(words.x, words.anchor, run_on, drawn.width), words
        if words.reason_x is not None:
            assert inside(words.reason_x, words.reason_anchor, reason, drawn.width), words
    for panel in drawn.panels:
        for label in panel.labels:
            assert label.y < panel.bottom + 17
            start = label.x - (len(label.words) * 5.6 if label.anchor == "end" else 0)
            assert start >= 0


def test_the_concrete_goes_from_dark_to_pale(cast):
    tones = [int(tone.fill[1:3], 16) for tone in figure().tones]

    assert tones[0] < 0x60
    assert tones[-1] > 0xC0


def test_an_uncast_piece_is_drawn_from_the_time_taken_for_it(waiting):
    found = opened()

    assert to_hours(found.outlook.cast_assumed) == found.course.cast
    assert not any(row.done for row in figure().rows)


def test_units_are_the_shops(cast):
    factories.make_shop(units="si")
    drawn = figure()

    assert drawn.air.title.endswith("°C")
    assert drawn.age.title == "Equivalent age, hours at 20 °C"
    assert drawn.strength.title == "Strength, MPa"


def test_a_route_without_steps_has_no_course(waiting):
    waiting.route.steps.all().delete()

    assert opened().course is None


def test_no_casting_in_sight_has_no_course(waiting):
    from shop.models import WorkingHours

    WorkingHours.objects.all().delete()

    assert opened().course is None


@pytest.mark.parametrize("code", ["217-Z", "999-A", "217", "", "-A"])
def test_there_is_no_such_piece(cast, code):
    assert open_piece(code, NOW) is None


def test_a_piece_long_gone_is_drawn_without_the_present_moment(cast, clock):
    for days, key in enumerate(["demold", "grind", "fill", "hone", "seal-1", "seal-2", "crate"]):
        factories.make_mark(cast, key, NOW - 20 * HOUR + days * DAY)
    factories.make_mark(cast, "deliver", NOW + 8 * DAY)
    found = open_piece("217-A", NOW + dt.timedelta(days=60))
    drawn = Figure(found.course, found.outlook, found.facts.shop, WIDE)

    assert drawn.now_x is None
    assert all(row.done for row in drawn.rows)
    assert len(drawn.rows) == 9
    assert re.match(r"deliver \w{3} \d+ \d\d:\d\d", drawn.rows[-1].words.title)
