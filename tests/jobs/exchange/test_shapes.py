"""A piece's shape in a table's cell: what the section's form stored comes back, nothing else."""

from __future__ import annotations

import json
from typing import Any

import pytest

from jobs.piece.section_outline import stored_outline
from jobs.piece.section_rows import initial_of, rows_of
from jobs.services.exchange.shapes import read_shape, write_shape
from jobs.shapes.corners import Corner
from jobs.shapes.stored import write
from shop.models import Shop
from tests.jobs.shapes.samples import COUNTER

# 1 m by 0.6 m: one corner rounded by 80 mm, the left end bowing out by 30 mm.
TYPED = [Corner(0, 0), Corner(1, 0), Corner(1, 0.6, 0.08), Corner(0, 0.6, 0, 0.03)]
BAR = {"x": 0.1, "y": 0.1, "length": 0.5, "width": 0.04, "depth": 0.09,
       "modulus": 9000.0, "density": 500.0}  # fmt: skip


def free(**more: Any) -> dict[str, Any]:
    stored, _made = stored_outline({"outline": "polygon"}, TYPED)
    parts: dict[str, Any] = {"edges": [], "ribs": [], "cutouts": [], "strongbacks": []}
    return stored | parts | more


def test_corners_as_they_were_typed_come_back_with_their_roundings_and_bows() -> None:
    shape = free(edges=[{"side": "1", "width": 0.03, "depth": 0.04, "row": 0}])
    assert shape["corners"]

    assert read_shape(write_shape(shape)) == shape


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"corners": [[0, 0, 0, 0], [1, 0, 0, 0], [1, 0.6, 0, 0]]}, "not those of its points"),
        ({"corners": [[0, 0, 0, 0], [1, 0, 0, 0], [1, 0.6, 0.08, 0], [0, 0.6, 0, 0.04]]},
         "not those of its points"),
        ({"corners": [[0], [1], [2]]}, "two to four figures"),
        ({"corners": "none"}, "not what it should be"),
        ({"corners": [["a", "b"], [1, 0], [1, 1]]}, "figures|number"),
    ],
)  # fmt: skip
def test_corners_that_are_not_the_outlines_are_refused(change: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        read_shape(json.dumps(free(**change)))


@pytest.mark.parametrize(
    "change",
    [
        {"inlays": False},
        {"strongbacks": 0},
        {"ribs": [[0.1, 0.2]]},
        {"cutouts": [{"x": 0.3, "y": 0.2, "length": 0.1, "width": 0.1, "use": []}]},
        {"cutouts": [{"x": "0.3", "y": 0.2, "length": 0.1, "width": 0.1}]},
        {"cutouts": [{"x": 0.3, "y": 0.2, "length": 0.1, "width": 0.1, "around": 1}]},
        {"strongbacks": [BAR | {"modulus": True}]},
        {"strongbacks": [BAR | {"material": 7}]},
        {"radius": {"a": 1}},
        {"length": None},
    ],
)
def test_what_no_screen_could_show_is_refused(change: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match="as it was taken out"):
        read_shape(json.dumps(write(COUNTER) | change))


def test_what_goes_without_saying_may_be_left_out_and_can_be_opened_again() -> None:
    """A strongback that is not said to be glued is clamped (`curing.panel.Strongback`)."""
    shape = read_shape(json.dumps({"length": 1.2, "width": 0.6, "strongbacks": [BAR]}))

    assert shape["strongbacks"][0]["bonded"] is False
    assert initial_of(shape, Shop())["bar_0_bonded"] == ""
    assert rows_of(shape)["bar"] == 1
