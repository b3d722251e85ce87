"""A piece's section: entered, copied from another piece, taken away again."""

from __future__ import annotations

from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from curing.panel import Panel
from jobs.models import Piece
from jobs.services.errors import Refused
from jobs.services.orders import save_piece
from jobs.services.section_faults import Fault, fault_of
from jobs.services.shape import panel_from
from shop.models import Shop
from shop.services.settings import the_shop

GREATEST_AREA = 50.0  # m2, as a piece may be entered without a section


class ImpossibleSection(Refused):
    """`fault` says which figure of the section, as it is stored, cannot be."""

    def __init__(self, fault: Fault) -> None:
        super().__init__(fault.message)
        self.fault = fault


def save_section(*, piece_id: int, version: int, shape: dict[str, Any]) -> Piece:
    """Lengths in metres, as `jobs.services.shape` stores them. The area follows from it."""
    with transaction.atomic():
        piece = _piece(piece_id)
        panel = possible_panel(shape, piece, the_shop())
        return _saved(piece, version, {"shape": shape, "area_m2": panel.face_area})


def remove_section(*, piece_id: int, version: int) -> Piece:
    """Back to a slab of which only area and thickness are known: the area stays."""
    with transaction.atomic():
        return _saved(_piece(piece_id), version, {"shape": None})


def possible_panel(shape: dict[str, Any], piece: Piece, shop: Shop) -> Panel:
    face, density = piece.thickness_m, piece.mix.density
    if fault := fault_of(shape, face=face, density=density, shop=shop):
        raise ImpossibleSection(fault)
    panel = panel_from(shape, face=face, density=density)
    if panel.face_area > GREATEST_AREA:
        raise ImpossibleSection(
            Fault(_("No piece is that large: look at the unit."), name="length")
        )
    return panel


def _piece(piece_id: int) -> Piece:
    piece = Piece.objects.select_related("mix").filter(pk=piece_id).first()
    if piece is None:
        raise Refused(_("This piece was removed meanwhile. Nothing was saved."))
    return piece


def _saved(piece: Piece, version: int, values: dict[str, Any]) -> Piece:
    return save_piece(job_id=piece.job_id, piece_id=piece.pk, version=version, values=values)
