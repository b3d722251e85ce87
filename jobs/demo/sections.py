"""Real sections of some of the demo's pieces, in inches as they would be typed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from jobs.services.shape import MATERIALS, RECTANGLE

INCH = 0.0254  # m


def _edge(side: str, width: float, depth: float) -> dict[str, Any]:
    return {"side": side, "width": width, "depth": depth}


def _ribs(*places: float, width: float = 1.5, depth: float = 0.75) -> list[dict[str, Any]]:
    """Along the length."""
    return [{"at": at, "width": width, "depth": depth, "along": "length"} for at in places]


def _hole(
    x: float, y: float, length: float, width: float, *, around: bool = False
) -> dict[str, Any]:
    return {"x": x, "y": y, "length": length, "width": width, "around": around}


def _rounded(x: float, y: float, length: float, width: float, radius: float) -> dict[str, Any]:
    """A basin's cutout, its corners as round as the basin's own."""
    size = {"x": x, "y": y, "length": length, "width": width, "radius": radius}
    return size | {"figure": "rounded", "around": False, "opens": False, "use": "sink"}


def _round(x: float, y: float, diameter: float) -> dict[str, Any]:
    """A faucet's hole, its middle there."""
    size = {"x": x - diameter / 2, "y": y - diameter / 2, "diameter": diameter}
    return size | {"figure": "circle", "around": False, "opens": False, "use": "faucet hole"}


def _two_by_four(x: float, y: float, length: float) -> dict[str, Any]:
    """A softwood 2 × 4 on its flat, clamped."""
    modulus, density = MATERIALS["wood"]
    size = {"x": x, "y": y, "length": length, "width": 3.5, "depth": 1.5}
    return size | {"material": "wood", "bonded": False, "modulus": modulus, "density": density}


# By the piece's code. Modulus and density stay SI.
SECTIONS: dict[str, dict[str, Any]] = {
    "209-A": {
        "length": 37.0, "width": 22.0,
        "edges": [_edge("front", 0.75, 1.5), _edge("left", 0.75, 1.5), _edge("right", 0.75, 1.5)],
        "cutouts": [_hole(10.5, 4.5, 16.0, 12.0, around=True)],
    },
    "212-A": {
        "length": 84.0, "width": 30.0,
        "edges": [_edge("front", 0.75, 1.5), _edge("back", 0.75, 1.5)],
        "cutouts": [_hole(54.0, 7.5, 15.0, 15.0)],
        "strongbacks": [_two_by_four(36.0, 2.5, 46.0), _two_by_four(36.0, 23.75, 46.0)],
    },
    "213-A": {
        "length": 72.0, "width": 30.0,
        "edges": [_edge("front", 0.75, 1.5)],
        "ribs": _ribs(10.0, 20.0),
    },
    "215-A": {"length": 72.0, "width": 34.0},
    "216-A": {"length": 96.0, "width": 25.5, "edges": [_edge("front", 0.75, 1.5)]},
    "217-A": {
        "length": 96.0, "width": 25.5,
        "edges": [_edge("front", 0.75, 1.5)],
        "ribs": _ribs(3.0, 22.5),
        "cutouts": [_hole(37.5, 4.75, 21.0, 16.0)],
        "strongbacks": [_two_by_four(18.0, 21.25, 60.0)],
    },
    "218-B": {
        "outline": "circle", "diameter": 42.75, "length": 42.75, "width": 42.75,
        "edges": [_edge("round", 1.5, 1.5)],
    },
    "220-B": {
        "outline": "L", "length": 60.0, "width": 36.0, "notch_length": 18.0, "notch_width": 8.0,
        "corner": "back right",
        "edges": [_edge("front", 1.5, 1.5), _edge("right", 1.5, 1.5)],
        "ribs": [{"spacing": 18.0, "width": 1.5, "depth": 0.75, "along": "width"}],
    },
    "222-A": {
        "length": 49.0, "width": 22.0,
        "edges": [_edge("front", 0.75, 1.5)],
        "cutouts": [_rounded(16.5, 4.5, 16.0, 12.0, 2.0), _round(24.5, 19.25, 1.375)],
    },
}  # fmt: skip
LENGTHS = {
    "length", "width", "depth", "x", "y", "at", "spacing", "diameter", "radius", "notch_length",
    "notch_width",
}  # fmt: skip


def shape_of(code: str) -> dict[str, Any] | None:
    """As it is stored, in metres; None for a piece whose section was never entered."""
    if code not in SECTIONS:
        return None
    section: dict[str, Any] = {"outline": RECTANGLE, "edges": [], "ribs": [], "cutouts": []}
    return _in_metres(section | {"strongbacks": []} | SECTIONS[code])


def _in_metres(section: Mapping[str, Any]) -> dict[str, Any]:
    return {
        name: value * INCH
        if name in LENGTHS
        else [_in_metres(row) for row in value]
        if isinstance(value, list)
        else value
        for name, value in section.items()
    }
