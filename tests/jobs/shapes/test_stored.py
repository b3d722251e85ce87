"""Stored and read again it is the same shape; what the app has stored so far stays readable."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from hypothesis import given

from curing.panel import Strongback
from jobs.services.shape import panel_from
from jobs.shapes.checks import faults
from jobs.shapes.faults import ShapeFault
from jobs.shapes.outlines import Circle, FreeOutline, Rectangle
from jobs.shapes.shape import BuiltEdge, Cutout, Inlay, PlacedRib, Rib, Shape, SpacedRibs
from jobs.shapes.stored import read, write
from jobs.shapes.strips import panel_of_shape
from tests.jobs.shapes.samples import COUNTER, PLAIN, outlines

BAR = Strongback(0.2, 0.1, 1.6, 0.04, 0.09, 9000.0, 500.0, True)
OLD = {
    "outline": "rectangle",
    "length": 2.4,
    "width": 0.62,
    "edges": [{"side": "front", "width": 0.025, "depth": 0.038}],
    "ribs": [{"at": 0.3, "width": 0.03, "depth": 0.03, "along": "length", "row": 0}],
    "cutouts": [
        {"x": 0.8, "y": 0.08, "length": 0.75, "width": 0.42, "around": True},
        {"x": 2.2, "y": 0.5, "length": 0.4, "width": 0.4, "around": False},
    ],
    "strongbacks": [
        {
            "x": 0.2,
            "y": 0.1,
            "length": 1.6,
            "width": 0.04,
            "depth": 0.09,
            "modulus": 9000.0,
            "density": 500.0,
            "bonded": True,
            "material": "wood",
        }
    ],
}


def test_a_rectangle_as_the_app_has_always_stored_it_is_read() -> None:
    shape = read(OLD)
    assert shape.outline == Rectangle(2.4, 0.62)
    assert shape.edges == (BuiltEdge("front", 0.025, 0.038),)
    assert shape.ribs == (Rib(0.3, 0.03, 0.03),)
    assert shape.strongbacks == (BAR,)
    assert shape.cutouts[0] == Cutout(Rectangle(0.75, 0.42), 0.8, 0.08, around=True)
    # That one reaches past the back and the right end, which opens them.
    assert shape.cutouts[1].opens
    assert faults(shape, 0.019) == ()


def test_it_is_the_same_panel_that_the_app_reckons_with() -> None:
    assert panel_of_shape(read(OLD), 0.019, 2080.0) == panel_from(OLD, face=0.019, density=2080.0)


def test_a_rectangle_written_anew_is_read_by_the_app_as_before() -> None:
    again = json.loads(json.dumps(write(read(OLD))))
    assert panel_from(again, face=0.019, density=2080.0) == panel_from(
        OLD, face=0.019, density=2080.0
    )


@given(outlines())
def test_every_shape_comes_back_as_it_was(outline) -> None:
    shape = Shape(
        outline,
        edges=(BuiltEdge("all", 0.03, 0.04),),
        ribs=(Rib(0.1, 0.03, 0.03), SpacedRibs(0.4, 0.03, 0.02, "width"),
              PlacedRib((0.1, 0.1), (0.2, 0.3), 0.02, 0.02)),
        cutouts=(Cutout(outline, 0.1, 0.2, "sink", opens=True), Cutout(Circle(0.03), 0.1, 0.1)),
        inlays=(Inlay("a brass plate", 0.2, 0.1, 0.1, 0.05),),
        strongbacks=(BAR,),
    )  # fmt: skip
    assert read(json.loads(json.dumps(write(shape)))) == shape


@pytest.mark.parametrize("shape", [COUNTER, PLAIN])
def test_the_samples_come_back(shape: Shape) -> None:
    assert read(json.loads(json.dumps(write(shape)))) == shape


@pytest.mark.parametrize(
    ("change", "key", "part", "row"),
    [
        ({"outline": "blob"}, "unknown-outline", "outline", 0),
        ({"length": -1.0}, "not-above-zero", "outline", 0),
        ({"length": None}, "not-finite", "outline", 0),
        ({"edges": [{"side": "front"}]}, "unreadable", "stored", 0),
        ({"edges": 7}, "unreadable", "stored", 0),
        ({"edges": ["front"]}, "unreadable", "stored", 0),
        ({"outline": "polygon", "points": 5}, "unreadable", "stored", 0),
        ({"outline": "polygon", "points": [[0, 0, 0], [1, 0, 0]]}, "unreadable", "outline", 0),
        ({"outline": "polygon", "points": [[0, 0]] * 10_000}, "too-many-points", "outline", 0),
        (
            {"ribs": [OLD["ribs"][0], OLD["ribs"][0] | {"depth": 0}]},
            "not-above-zero", "ribs", 1,
        ),
        (
            {"cutouts": [{"figure": "circle", "x": 0, "y": 0, "diameter": -1}]},
            "not-above-zero", "cutouts", 0,
        ),
        ({"strongbacks": [OLD["strongbacks"][0] | {"depth": 0}]}, "not-above-zero",
         "strongbacks", 0),
        ({"cutouts": OLD["cutouts"] * 60}, "too-many-parts", "cutouts", 0),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_refused_with_its_row(change, key, part, row) -> None:
    with pytest.raises(ShapeFault) as refused:
        read(OLD | change)
    fault = refused.value
    assert (fault.key, fault.part, fault.row) == (key, part, row)


def test_a_free_outline_is_kept_as_it_was_typed() -> None:
    typed = FreeOutline(((0, 0), (0, 1), (1, 1)), (0.0, 0.2, 0.0))
    assert write(Shape(typed))["points"] == [[0, 0], [0, 1], [1, 1]]
    assert read(write(Shape(typed))).outline == typed


def test_sizes_of_the_box_stand_beside_every_outline() -> None:
    stored = write(replace(PLAIN, outline=Circle(1.2)))
    assert (stored["length"], stored["width"]) == pytest.approx((1.2, 1.2), abs=1e-4)
