from __future__ import annotations

import dataclasses
import datetime as dt
import itertools

import pytest
from django.utils import timezone

from jobs.board.drawing import job_line, touches
from jobs.board.labels import SCREENS, Word, placed
from jobs.board.tone import bands, colour, level_at
from jobs.board.week import Week
from jobs.board.words import summary
from tests.jobs.board.build import (
    ZONE,
    at,
    make_job_outlook,
    make_piece_outlook,
    make_step,
    make_tones,
)

WEEK = Week(dt.date(2026, 11, 23), ZONE)
NOW = at(25, 8)


@pytest.fixture(autouse=True)
def _shop_clock():
    with timezone.override(ZONE):
        yield


def line(*pieces, **fields):
    return job_line(make_job_outlook(*pieces, **fields), WEEK, NOW)


def test_concrete_goes_from_dark_to_pale() -> None:
    assert (colour(0), colour(1), colour(-1), colour(9)) == ("#4a4e4d", "#d6d2c8") * 2


def test_the_bands_cover_the_line_without_a_hole() -> None:
    drawn = bands(make_tones(at(23, 9), at(27, 7), 20), WEEK)

    assert drawn[0].x == pytest.approx(WEEK.place(at(23, 9)), abs=0.01)
    assert drawn[-1].x + drawn[-1].width == pytest.approx(WEEK.place(at(27, 7)), abs=0.01)
    assert all(a.x + a.width >= b.x for a, b in itertools.pairwise(drawn))


def test_what_lies_outside_the_week_is_cut_off() -> None:
    drawn = bands(make_tones(at(20), at(30)), WEEK)

    assert (drawn[0].x, round(drawn[-1].x + drawn[-1].width, 2)) == (0, 100)
    assert bands(make_tones(at(9), at(11)), WEEK) == []


def test_the_level_is_read_between_two_tones() -> None:
    tones = make_tones(at(23), at(25), 3)

    assert level_at(tones, at(23, 12)) == pytest.approx(0.25)
    assert level_at(tones, at(22)) is None
    assert level_at(tones, at(28)) == 1


def test_done_steps_are_solid_and_coming_ones_hollow() -> None:
    steps = (make_step("cast", at(23, 9), done=True), make_step("demold", at(25, 9)))

    marks = line(make_piece_outlook(steps=steps)).lines[0].marks

    assert [(mark.symbol, mark.done) for mark in marks] == [("cast", True), ("demold", False)]


def test_symbols_that_would_cover_each_other_become_dots() -> None:
    steps = tuple(make_step("coat", at(25, 9, minute), key="seal-1") for minute in (0, 20))

    marks = line(make_piece_outlook(steps=steps)).lines[0].marks

    assert [mark.screens for mark in marks] == ["both", "none"]


def test_a_piece_that_is_not_cast_is_an_outline_without_tone() -> None:
    waiting = make_piece_outlook(cast_at=None, cast_assumed=at(25, 8))

    drawn = line(waiting).lines[0]

    assert (drawn.cast, drawn.bands, drawn.level_now) == (False, [], None)
    assert drawn.width > 0


def test_a_job_without_a_casting_time_says_so() -> None:
    waiting = make_piece_outlook(
        cast_at=None, cast_assumed=NOW, steps=(make_step("cast", NOW), make_step("demold", at(26)))
    )

    assert "no cast set" in {label.text for label in line(waiting).labels}


def test_the_slowest_piece_is_thick_and_the_others_lie_below_it() -> None:
    drawn = line(make_piece_outlook("217-A"), make_piece_outlook("217-B"), slowest="217-B")

    thick, thin = drawn.lines
    assert (thick.name, thin.name) == ("B", "A")
    assert thick.height > thin.height
    assert thin.top > thick.top
    assert drawn.height > line().height


def test_the_pennant_flies_at_the_promise_with_its_hours() -> None:
    flown = line(state="short", spare_hours=-6.0, promised_at=at(24, 15)).pennant

    assert flown.x == pytest.approx(WEEK.place(at(24, 15)), abs=0.01)
    assert (flown.words, flown.turned) == ("short by 6 h", False)
    assert line().pennant.turned
    assert line(promised_at=at(30, 15)).pennant is None


def test_ready_is_marked_and_the_coming_delivery_is_not_drawn_twice() -> None:
    drawn = line()

    assert drawn.ready == pytest.approx(WEEK.place(at(27, 7)), abs=0.01)
    assert [mark.symbol for mark in drawn.lines[0].marks] == ["cast"]
    assert "ready 07:00" in {label.text for label in drawn.labels}


def test_what_may_be_done_already_waits_now() -> None:
    steps = (make_step("grind", NOW),)

    assert "grind now" in {label.text for label in line(make_piece_outlook(steps=steps)).labels}


def test_an_install_before_the_pieces_are_ready_says_so() -> None:
    drawn = line(install_at=at(25, 10), install_too_early=True)

    assert "install before ready" in {label.text for label in drawn.labels}


def test_a_piece_whose_end_is_out_of_sight_runs_out_of_the_week() -> None:
    drawn = line(make_piece_outlook(ready_at=None, tones=()), ready_at=None).lines[0]

    assert drawn.open_ended
    assert drawn.ends == pytest.approx(100)


def test_a_job_without_pieces_is_drawn_empty() -> None:
    job = dataclasses.replace(make_job_outlook(), pieces=(), slowest="", ready_at=None)

    drawn = job_line(job, WEEK, NOW)

    assert (drawn.lines, drawn.ready) == ([], None)


def test_a_job_belongs_to_the_weeks_it_touches() -> None:
    job = make_job_outlook()

    assert touches(job, WEEK)
    assert not touches(job, WEEK.before)
    assert not touches(job, WEEK.after)


def test_labels_never_touch_each_other() -> None:
    words = [Word(x / 2, (f"word {x} 07:30", f"word {x}"), x % 3) for x in range(200)]

    for screen, width in SCREENS.items():
        spans = sorted(_span(label, width) for label in placed(words) if label.screen == screen)
        assert len(spans) > 3
        assert all(left[1] <= right[0] for left, right in itertools.pairwise(spans))
        assert spans[0][0] >= 0
        assert spans[-1][1] <= width


def _span(label, width):
    at, length = label.x / 100 * width, len(label.text) * 6
    return {
        "start": (at, at + length),
        "end": (at - length, at),
        "middle": (at - length / 2, at + length / 2),
    }[label.anchor]


@pytest.mark.parametrize(
    ("short", "tight", "holds", "sentence"),
    [
        (1, 2, 9, "One promise is short, two are tight; 9 hold."),
        (0, 1, 1, "One promise is tight; one holds."),
        (3, 0, 0, "Three promises are short."),
        (12, 11, 0, "12 promises are short, 11 are tight."),
        (0, 0, 1, "The promise holds."),
        (0, 0, 7, "All 7 promises hold."),
        (0, 0, 0, "No promises are open."),
    ],
)
def test_the_week_is_summed_up_in_one_sentence(short, tight, holds, sentence) -> None:
    states = ["short"] * short + ["tight"] * tight + ["holds"] * holds + ["kept", "none"]

    assert summary(make_job_outlook(state=state) for state in states) == sentence
