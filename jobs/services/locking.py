"""The locks, and the key that lets a mark be made exactly once.

A batch is locked before its pieces, and rows of one kind in the order of their keys: whoever goes
another way may hold what the other waits for, and the database then breaks one of the two off.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from jobs.models import Batch, Mark, Piece
from jobs.services.errors import Refused


def lock_batches(batch_ids: Iterable[int | None]) -> None:
    wanted = [pk for pk in batch_ids if pk is not None]
    # Ordered and nothing joined: a joined row would be read as it was before the wait.
    list(Batch.objects.select_for_update().filter(pk__in=wanted).order_by("pk"))


def lock_batches_of(pieces: QuerySet[Piece]) -> None:
    lock_batches(pieces.values_list("batch_id", flat=True))


def locked_piece(piece_id: int) -> Piece:
    piece = Piece.objects.select_for_update().filter(pk=piece_id).first()
    if piece is None:
        raise Refused(_("This piece was removed meanwhile. Look at the list again."))
    return piece


def known_mark(client_key: uuid.UUID) -> Mark | None:
    """The mark this client key made before: phones send twice when the signal drops."""
    return Mark.objects.filter(client_key=client_key).select_related("by").first()
