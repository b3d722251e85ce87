"""The lock and the key that let a mark be made exactly once."""

from __future__ import annotations

import uuid

from django.utils.translation import gettext as _

from jobs.models import Mark, Piece
from jobs.services.errors import Refused


def locked_piece(piece_id: int) -> Piece:
    piece = Piece.objects.select_for_update().filter(pk=piece_id).first()
    if piece is None:
        raise Refused(_("This piece was removed meanwhile. Look at the list again."))
    return piece


def known_mark(client_key: uuid.UUID) -> Mark | None:
    """The mark this client key made before: phones send twice when the signal drops."""
    return Mark.objects.filter(client_key=client_key).select_related("by").first()
