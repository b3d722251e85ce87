"""A piece's section: entered, copied from another piece, taken away again."""

from __future__ import annotations

from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from curing.panel import Panel
from jobs.models import Piece
from jobs.services.errors import Refused
from jobs.services.orders import save_piece
from jobs.services.section_faults import Fault, faults_of
from jobs.services.shape import RECTANGLE, face_area_of, panel_from
from shop.models import Shop
from shop.services.settings import the_shop


class ImpossibleSection(Refused):
    """`faults` say which figures of the section, as it is stored, cannot be."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        super().__init__(faults[0].message)
        self.faults = faults


def save_section(*, piece_id: int, version: int, shape: dict[str, Any]) -> Piece:
    """Lengths in metres, as `jobs.services.shape` stores them. The area follows from it."""
    with transaction.atomic():
        piece = _piece(piece_id)
        possible_panel(shape, piece, the_shop())
        area = face_area_of(shape, face=piece.thickness_m)
        return _saved(piece, version, {"shape": _as_stored(shape), "area_m2": area})


def remove_section(*, piece_id: int, version: int) -> Piece:
    """Back to a slab of which only area and thickness are known: the area stays."""
    with transaction.atomic():
        return _saved(_piece(piece_id), version, {"shape": None})


def possible_panel(shape: dict[str, Any], piece: Piece, shop: Shop) -> Panel:
    """As the engine takes it; raises ImpossibleSection. Needs the piece's mix loaded."""
    face, density = piece.thickness_m, piece.mix.density
    if found := faults_of(shape, face=face, coat=piece.coat_m, density=density, shop=shop):
        raise ImpossibleSection(found)
    return panel_from(shape, face=face, density=density)


def _as_stored(shape: dict[str, Any]) -> dict[str, Any]:
    """A plain cutout that opens nothing goes without saying so, as it always did."""
    cutouts = [
        {name: value for name, value in row.items() if name != "opens" or value}
        if "figure" not in row and shape["outline"] == RECTANGLE
        else row
        for row in shape["cutouts"]
    ]
    return shape | {"cutouts": cutouts}


def _piece(piece_id: int) -> Piece:
    piece = Piece.objects.select_related("mix").filter(pk=piece_id).first()
    if piece is None:
        raise Refused(_("This piece was removed meanwhile. Nothing was saved."))
    return piece


def _saved(piece: Piece, version: int, values: dict[str, Any]) -> Piece:
    return save_piece(job_id=piece.job_id, piece_id=piece.pk, version=version, values=values)
