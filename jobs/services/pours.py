"""What pieces need of each layer, from their shapes or their areas, with the shop's waste."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from curing.mix_checks import Layer
from curing.runs import Pour, layer_volumes
from jobs.models import Piece
from jobs.shapes.checks import check
from jobs.shapes.faults import ShapeFault
from jobs.shapes.solid import Layer as ShapeLayer
from jobs.shapes.solid import Solid
from jobs.shapes.stored import read
from shop.measures import words
from shop.models import Shop

# A layer of the engine's from the shape's own: rim and ribs carry, and get the ribs' mix.
SHAPED: Mapping[Layer, tuple[ShapeLayer, ...]] = {
    "face": ("face coat",),
    "backer": ("backer",),
    "rib": ("edge", "ribs"),
}


@dataclass(frozen=True)
class Needs:
    """pours : of every piece, layers without volume left out
    plain : pieces of which only area and thickness are known
    faulty : why a piece's own section could not be taken, by its code; it counts as a plain slab
    """

    pours: tuple[Pour, ...]
    plain: tuple[str, ...]
    faulty: Mapping[str, str]


def pours_of(pieces: Iterable[Piece], shop: Shop) -> list[Pour]:
    """Face coat, backer, and edges with ribs of each piece. Its mix is read from `piece.mix`."""
    return list(needs_of(pieces, shop).pours)


def needs_of(pieces: Iterable[Piece], shop: Shop) -> Needs:
    pours: list[Pour] = []
    plain: list[str] = []
    faulty: dict[str, str] = {}
    for piece in pieces:
        volumes: Mapping[Layer, float] = {}
        if piece.shape:
            try:
                stored = json.dumps(piece.shape, sort_keys=True)
                volumes = _shaped(stored, piece.thickness_m, piece.coat_m)
            except ShapeFault as fault:
                faulty[piece.code] = fault.said(lambda length: words(length, "length", shop))
            except (ValueError, TypeError, KeyError):
                faulty[piece.code] = "Its section cannot be read."
        else:
            plain.append(piece.code)
        if not volumes:
            coat = min(piece.coat_m, piece.thickness_m)
            volumes = layer_volumes(piece.area_m2, piece.thickness_m, coat)
        pours += [_pour(piece, layer, m3, shop) for layer, m3 in volumes.items() if m3 > 0]
    return Needs(tuple(pours), tuple(plain), faulty)


@lru_cache(maxsize=2048)
def _shaped(stored: str, thickness: float, coat: float) -> Mapping[Layer, float]:
    shape = read(json.loads(stored))
    check(shape, thickness)
    found = Solid(shape, thickness, coat).volumes
    return {layer: sum(found[part] for part in parts) for layer, parts in SHAPED.items()}


def _pour(piece: Piece, layer: Layer, m3: float, shop: Shop) -> Pour:
    usual = shop.waste_face if layer == "face" else shop.waste_backer
    return Pour(
        piece=piece.code,
        layer=layer,
        volume_m3=m3,
        density=piece.mix.density,
        waste=usual if piece.waste is None else piece.waste,
        match=piece.job.number if piece.matches_job else "",
        mix=str(piece.mix_id),
    )
