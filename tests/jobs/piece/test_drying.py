"""A piece's drying on its figure, its tables and its sheet, by each rule of its route."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from jobs.models import Piece
from jobs.piece.figure import NARROW, SHEET, WIDE, Figure
from jobs.services.course import open_piece
from jobs.services.drying_course import HOURS, MODEL, WEIGHING
from shop.localtime import to_hours
from shop.models import Mix, Route
from tests.factories import DAY, HOUR, NOW, make_job, make_mark, make_piece, make_weighing


@pytest.fixture
def washed(opened: None) -> Piece:
    """Honed and washed 30 hours ago; its first coat waits for drying."""
    piece = make_piece(make_job("217"))
    for step, ago in {"cast": 7, "demold": 5, "grind": 4, "fill": 3}.items():
        make_mark(piece, step, NOW - ago * DAY)
    make_mark(piece, "hone", NOW - 30 * HOUR)
    return piece


def by_rule(rule: str, **fields: Any) -> None:
    Route.objects.update(drying_rule=rule, **fields)


def figure(piece: Piece, size: Any = WIDE) -> Figure:
    found = open_piece(piece.code, NOW)
    assert found is not None
    assert found.course is not None
    return Figure(found.course, found.outlook, found.facts.shop, size)


def test_hours_are_counted_from_the_last_wetting_against_those_asked(washed: Piece) -> None:
    drawn = figure(washed)
    drying = drawn.course.drying
    assert drying is not None
    assert (drying.rule, drying.needed, drying.wetted_at) == (HOURS, 48.0, NOW - 30 * HOUR)
    # The room was at 20 °C and 50 %: every hour counts whole.
    assert np.interp(to_hours(NOW), drying.hours, drying.values) == pytest.approx(30.0, abs=0.1)
    assert drying.reached_at == NOW + 18 * HOUR
    assert drawn.panels[-1].title == "Drying hours since the last wetting"
    assert [gate.words for gate in drawn.panels[-1].gates] == ["seal coat 1 48 h"]


def test_the_model_marches_this_piece_from_wet_to_its_target(washed: Piece) -> None:
    by_rule("model")
    drawn = figure(washed)
    drying = drawn.course.drying
    assert drying is not None
    assert (drying.rule, drying.needed) == (MODEL, 85.0)
    assert drying.values[0] == pytest.approx(100.0)
    assert (np.diff(drying.values) < 1e-6).all()
    # The gate of the route and the march of the figure agree: 5 % is the rule's own error.
    crossed = np.interp(-85.0, -drying.values, drying.hours) - drying.hours[0]
    assert drying.reached_at is not None
    gate = to_hours(drying.reached_at) - drying.hours[0]
    assert gate == pytest.approx(crossed, rel=0.05)
    panel = drawn.panels[-1]
    assert panel.title == "Humidity inside, % at 20 % of the thickness"
    assert panel.note == "by the model: an estimate, not calibrated"
    assert len(panel.lines) >= 2  # measured up to now, expected after
    assert [line.measured for line in panel.lines] == [True, False]


def test_a_calibrated_mix_is_no_longer_called_an_estimate(washed: Piece, as_owner: Any) -> None:
    by_rule("model")
    before = figure(washed).course.drying
    Mix.objects.update(drying_factor=1.5, drying_calibrated=True)
    after = figure(washed).course.drying
    assert before is not None
    assert after is not None
    assert after.reached_at is not None
    assert before.reached_at is not None
    longer = (after.reached_at - after.wetted_at) / (before.reached_at - before.wetted_at)
    assert longer == pytest.approx(1.5, rel=0.02)
    assert figure(washed).panels[-1].note == "by the model, calibrated by weighing"
    assert "not yet calibrated" not in page(as_owner, washed)


def test_weights_show_their_loss_a_day_under_the_limit_or_not(washed: Piece) -> None:
    by_rule("weighing")
    for hours, kg in ((28, 58.6), (4, 58.3)):
        make_weighing(washed, kg, NOW - hours * HOUR)
    drawn = figure(washed)
    drying = drawn.course.drying
    assert drying is not None
    assert drying.rule == WEIGHING
    assert drying.values == pytest.approx([0.5146], abs=1e-3)
    panel = drawn.panels[-1]
    assert panel.title == "Weight lost a day, %"
    assert len(panel.dots) == 1
    assert "0.15 % a day" in panel.gates[0].words
    assert panel.dots[0][1] < panel.gates[0].y  # above its limit


def test_no_weight_yet_still_shows_the_limit(washed: Piece) -> None:
    by_rule("weighing")
    panel = figure(washed).panels[-1]
    assert (panel.lines, panel.dots) == ([], ())
    assert panel.note == "not weighed a day apart yet"


@pytest.mark.parametrize("size", [WIDE, NARROW, SHEET])
@pytest.mark.parametrize("rule", ["hours", "model", "weighing"])
def test_the_panel_lies_between_the_strength_and_the_route(
    washed: Piece, rule: str, size: Any
) -> None:
    by_rule(rule)
    drawn = figure(washed, size)
    drying = drawn.panels[-1]
    assert drawn.strength.bottom < drying.title_y < drying.scale.top < drying.bottom
    assert drying.bottom < drawn.concrete_title < drawn.height
    for line in drying.lines:
        for point in line.points.split():
            x, y = map(float, point.split(","))
            assert drawn.left <= x <= drawn.right
            assert drying.scale.top <= y <= drying.scale.floor


def test_a_piece_that_waits_for_no_drying_has_no_such_panel(washed: Piece) -> None:
    washed.route.steps.update(drying_hours=None)
    drawn = figure(washed)
    assert drawn.course.drying is None
    assert drawn.panels[-1] is drawn.strength


def page(client: Any, piece: Piece) -> str:
    return str(client.get(reverse("piece-figure", args=[piece.code])).content.decode())


def test_the_tables_have_the_same(washed: Piece, as_owner: Any) -> None:
    by_rule("model")
    text = page(as_owner, washed)
    for words in ("the moisture model: an estimate, not calibrated", "85 % humidity inside"):
        assert words in text
    assert '<th scope="col">Humidity inside</th>' in text
    assert "not yet calibrated with this shop" in text
    by_rule("weighing")
    for hours, kg in ((28, 58.6), (4, 58.3)):
        make_weighing(washed, kg, NOW - hours * HOUR)
    text = page(as_owner, washed)
    for words in ("a loss under 0.15 % a day", "129.2 lb", "128.5 lb", "0.51 %", "not yet"):
        assert words in text


def test_many_weights_take_as_many_queries_as_two(washed: Piece, as_owner: Any) -> None:
    by_rule("weighing")
    counts = []
    for hours in ((28, 4), (3, 2, 1)):
        for ago in hours:
            make_weighing(washed, 58.0 + ago / 100, NOW - ago * HOUR)
        page(as_owner, washed)
        with CaptureQueriesContext(connection) as queries:
            page(as_owner, washed)
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_the_sheet_has_it_on_its_one_page(washed: Piece, as_owner: Any) -> None:
    by_rule("model")
    answer = as_owner.get(reverse("piece-sheet", args=[washed.code]))
    pages = PdfReader(io.BytesIO(answer.content)).pages
    assert len(pages) <= 2
    text = " ".join(" ".join(page.extract_text() for page in pages).split())
    assert "Humidity inside, %" in text
    assert "not calibrated by weighing" in text
