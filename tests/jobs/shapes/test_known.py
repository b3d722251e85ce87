"""A figure that was taken apart to corners and arcs is known again, wherever it begins."""

from __future__ import annotations

from dataclasses import astuple

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.shapes.known import known
from jobs.shapes.outlines import Circle, FreeOutline, Rectangle
from jobs.shapes.path import Path
from tests.jobs.shapes.samples import outlines


def beginning_at(path: Path, first: int) -> Path:
    first %= len(path.points)
    return Path(
        path.points[first:] + path.points[:first], path.bulges[first:] + path.bulges[:first]
    )


@given(outlines(), st.integers(0, 9), st.booleans(), st.floats(-3, 3), st.floats(-3, 3))
def test_every_figure_is_known_again(outline, first, other_way, dx, dy) -> None:
    path = beginning_at(outline.path, first).moved(dx, dy)
    figure, x, y = known(path.reversed() if other_way else path)
    assert figure.path.moved(x, y).polygon.symmetric_difference(path.polygon).area == pytest.approx(
        0, abs=1e-6
    )
    if isinstance(outline, FreeOutline):
        return
    assert type(figure) is type(outline)
    assert {side.name for side in figure.sides} == {side.name for side in outline.sides}
    for back, there in zip(astuple(figure), astuple(outline), strict=True):
        assert back == pytest.approx(there, abs=2e-4) if isinstance(there, float) else True
    assert (x, y) == pytest.approx((path.box[0], path.box[1]), abs=1e-9)


def test_a_circle_that_begins_at_its_top_is_one() -> None:
    figure, x, y = known(Path(((0.5, 1.0), (0.5, 0.0)), (1.0, 1.0)))
    assert isinstance(figure, Circle)
    assert figure.diameter == pytest.approx(1.0)
    assert (x, y) == pytest.approx((0, 0), abs=1e-4)


def test_what_is_nearly_a_rectangle_is_not_made_one() -> None:
    figure, *_ = known(Path(((0, 0), (2, 0), (2, 1.002), (0, 1))))
    assert isinstance(figure, FreeOutline)
    # A tenth of a millimetre is what a file's decimals leave.
    figure, *_ = known(Path(((0, 0), (2, 0), (2, 1.00005), (0, 1))))
    assert isinstance(figure, Rectangle)
