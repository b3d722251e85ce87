"""A piece's real section, as it is stored and as the engine takes it. Pure: nothing is written.

Stored in metres: {"outline": "rectangle", "length", "width", "edges": [{"side", "width",
"depth"}], "ribs": [{"at", "width", "depth", "along"}], "cutouts": [{"x", "y", "length", "width",
"around"}], "strongbacks": [{"x", "y", "length", "width", "depth", "modulus", "density", "bonded",
"material"}]}. `around`, `material` and what else is not the engine's are for the screens. Face
thickness and density are the piece's and its mix's own. Other outlines are stored as
`jobs.shapes.stored` says.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterable
from dataclasses import fields, replace
from functools import lru_cache
from typing import Any

from curing.handling import Need, Rules, needs
from curing.panel import Cutout, Edge, Panel, Rib, Strongback
from curing.strength import PLACEHOLDER
from jobs.models import Piece, PieceKind
from jobs.shapes.checks import check
from jobs.shapes.faults import ShapeFault
from jobs.shapes.shape import Shape
from jobs.shapes.solid import Solid
from jobs.shapes.stored import read
from jobs.shapes.strips import panel_of_shape
from shop.models import Shop, StepKind

RECTANGLE = "rectangle"
SIDES = ("front", "back", "left", "right")
LARGE = 0.929  # m2, 10 ft2
# The lists of a shape and what the engine makes of their rows.
PARTS: dict[str, Callable[..., Any]] = {
    "edges": Edge,
    "ribs": Rib,
    "cutouts": Cutout,
    "strongbacks": Strongback,
}
# Young's modulus [MPa] and density [kg/m3]. Common values from memory; the bar's own come first.
MATERIALS: dict[str, tuple[float, float]] = {
    "wood": (9_000.0, 500.0),
    "aluminium": (69_000.0, 2_700.0),
    "steel": (200_000.0, 7_850.0),
}
# The way of handling that each kind of step needs, by the names of `curing.handling`.
CARRIED = {
    StepKind.CRATE: ("on edge",),
    StepKind.DELIVER: ("on edge", "travels on edge"),
    StepKind.INSTALL: ("on edge",),
}


def panel_of(piece: Piece) -> Panel | None:
    """None for a piece of which only area and thickness are known, or whose stored section cannot
    be cast any more: thickness or mix were changed since, see `section_fault`."""
    return None if not piece.shape or section_fault(piece) else _panel(piece)


def section_fault(piece: Piece) -> str:
    """Why the section that is stored cannot be cast, by the engine's words; empty when it can."""
    if not piece.shape:
        return ""
    try:
        _panel(piece)
    except (ValueError, TypeError, KeyError) as error:
        return str(error) or "the stored section cannot be read"
    return ""


def _panel(piece: Piece) -> Panel:
    return _stored_panel(_stored(piece), piece.thickness_m, piece.mix.density)


def _stored(piece: Piece) -> str:
    return json.dumps(piece.shape or {}, sort_keys=True)


@lru_cache(maxsize=2048)
def _stored_panel(stored: str, face: float, density: float) -> Panel:
    return panel_from(json.loads(stored), face=face, density=density)


def panel_from(shape: dict[str, Any], *, face: float, density: float) -> Panel:
    """Of any outline, see `jobs.shapes.strips`. Raises ValueError as `Panel`, TypeError where
    something is missing."""
    if not _plain(shape):
        found = read(shape)
        check(found, face)
        return panel_of_shape(found, face, density)
    return Panel(
        length=shape["length"],
        width=shape["width"],
        face=face,
        density=density,
        edges=_parts(shape, "edges"),
        ribs=_parts(shape, "ribs"),
        cutouts=_parts(shape, "cutouts"),
        strongbacks=_parts(shape, "strongbacks"),
    )


def _plain(shape: dict[str, Any]) -> bool:
    """A rectangle of which the engine's own parts say all."""
    rows = [*shape.get("ribs", ()), *shape.get("cutouts", ())]
    whole = not any(name in row for row in rows for name in ("figure", "spacing", "start"))
    sides = all(edge.get("side") in SIDES for edge in shape.get("edges", ()))
    return shape.get("outline", RECTANGLE) == RECTANGLE and whole and sides


def _parts(shape: dict[str, Any], part: str) -> tuple[Any, ...]:
    make = PARTS[part]
    return tuple(make(**_own(make, item)) for item in shape.get(part, ()))


def _own(make: Callable[..., Any], item: dict[str, Any]) -> dict[str, Any]:
    known = {field.name for field in fields(make)}  # type: ignore[arg-type]
    return {name: value for name, value in item.items() if name in known}


def rules_of(shop: Shop) -> Rules:
    """For the ways; how many people a weight asks for goes by `lift` with the shop's own figure."""
    return Rules(
        strip_multiplier=shop.strip_multiplier,
        bond=shop.form_bond_pa,
        yard=shop.yard_multiplier,
        travel=shop.travel_multiplier,
        share=shop.support_share,
        rupture_factor=shop.rupture_factor,
    )


def weight_kg(piece: Piece) -> float:
    """Of the cast piece by itself; of a plain slab where no shape is known, or the one that is
    stored cannot be cast as thick as the piece is now."""
    plain = piece.area_m2 * piece.thickness_m * piece.mix.density
    if not piece.shape:
        return plain
    try:
        return _stored_solid(_stored(piece), piece.thickness_m).weight(piece.mix.density)
    except ShapeFault:
        return plain


def weighed_kg(piece: Piece) -> float | None:
    """A finished piece as it was weighed last, None if it never was. Needs `measured` loaded."""
    weighed = [row for row in piece.measured.all() if row.kg is not None and row.struck_at is None]
    last = max(weighed, key=lambda row: (row.at, row.pk), default=None)
    return last.kg if last else None


def carried_kg(piece: Piece) -> float:
    """As it was weighed last, else as reckoned. Needs `measured` loaded."""
    weighed = weighed_kg(piece)
    return weight_kg(piece) if weighed is None else weighed


@lru_cache(maxsize=2048)
def _stored_solid(stored: str, face: float) -> Solid:
    """Raises ShapeFault where it cannot be cast as thick."""
    shape = read(json.loads(stored))
    check(shape, face)
    return _solid(shape, face)


def weight_of(shape: dict[str, Any], *, face: float, density: float) -> float:
    """[kg] of a shape that can be cast, without its strongbacks. The engine's panel stands for its
    bending, not for its weight."""
    return _solid(read(shape), face).weight(density)


@lru_cache(maxsize=2048)
def _solid(shape: Shape, face: float) -> Solid:
    return Solid(shape, face)


def bars_kg(shape: dict[str, Any] | None) -> float:
    """Of the strongbacks."""
    bars = (shape or {}).get("strongbacks", ())
    return sum(float(bar["length"] * bar["width"] * bar["depth"] * bar["density"]) for bar in bars)


def face_area_of(shape: dict[str, Any], *, face: float) -> float:
    """[m2] of the show face without its cutouts."""
    return _solid(read(shape), face).area


def bare(panel: Panel) -> Panel:
    """The cast piece by itself, its strongbacks taken off."""
    return replace(panel, strongbacks=())


@lru_cache(maxsize=2048)
def ways(panel: Panel, rules: Rules) -> tuple[Need, ...]:
    """What each way of handling asks of the concrete; the ages in it are a placeholder's."""
    return needs(panel, PLACEHOLDER, rules)


def strength_asked(piece: Piece, kind: str, shop: Shop) -> float | None:
    """Compressive strength [MPa] that a step of this kind asks for, by the piece's own section.

    To be demolded, some way of stripping must be possible and then the flip. None where no
    section is known, or the step lifts nothing; inf where the stored section cannot be cast, so
    that nothing is lifted by a guess.
    """
    if kind != StepKind.DEMOLD and kind not in CARRIED:
        return None
    if section_fault(piece):
        return math.inf
    panel = panel_of(piece)
    if panel is None:
        return None
    found = ways(panel, rules_of(shop))
    if kind == StepKind.DEMOLD:
        stripped = min(need.strength for need in found if need.way.strips)
        return max(stripped, _hardest(found, ("flipped",)))
    return _hardest(found, CARRIED[StepKind(kind)])


def _hardest(found: Iterable[Need], names: tuple[str, ...]) -> float:
    return max(need.strength for need in found if need.way.name in names)


def kind_of(piece: Piece) -> PieceKind:
    """Small and flat, or large or with a cutout: demolds are looked at by kind."""
    cut = bool(piece.shape and piece.shape.get("cutouts"))
    return PieceKind.HEAVY if cut or piece.area_m2 > LARGE else PieceKind.PLAIN
