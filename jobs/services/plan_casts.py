"""Casts as an accepted plan has them: set where there are none, moved where no hand set them."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Any

from jobs.models import Batch, Piece
from jobs.services.errors import Refused
from jobs.services.locking import lock_batches
from jobs.services.standing import standing_of
from shop.models import Person

# As long as a page may lie open before the moment it shows has passed for good.
JUST_PASSED = dt.timedelta(minutes=5)


@dataclass(frozen=True)
class PlannedCast:
    piece_ids: tuple[int, ...]
    starts_at: dt.datetime


def lock_pieces(piece_ids: Collection[int]) -> dict[int, Piece]:
    chosen = Piece.objects.filter(pk__in=piece_ids)
    lock_batches(chosen.values_list("batch_id", flat=True))
    list(chosen.select_for_update().order_by("pk").values_list("pk", flat=True))
    return {piece.pk: piece for piece in chosen.select_related("batch")}


def refuse_passed(casts: Iterable[PlannedCast], pieces: dict[int, Piece], now: dt.datetime) -> None:
    late = [cast for cast in casts if cast.starts_at < now - JUST_PASSED]
    if late:
        codes = ", ".join(sorted(pieces[pk].code for cast in late for pk in cast.piece_ids))
        raise Refused(
            f"The time at which the plan casts {codes} has passed. Mark on the floor what was "
            "cast, then plan again.",
            field="stale",
        )


def set_casts(
    casts: Iterable[PlannedCast], pieces: dict[int, Piece], by: Person
) -> dict[int, dt.datetime]:
    """Returns when each cast is that the plan has set or moved."""
    written: dict[int, dt.datetime] = {}
    mine_now = {piece.batch_id for piece in pieces.values() if piece.batch_id}
    cast_already = {piece.batch_id for piece in begun(mine_now) if piece.batch_id}
    left: set[int] = set()
    for cast in casts:
        mine = [pieces[pk] for pk in cast.piece_ids]
        for group in _of_one_mix(mine):
            batch = _batch_of(group, cast_already | written.keys())
            if batch.pk and batch.pinned:
                continue  # where somebody put it; the plan goes by that
            left |= {piece.batch_id for piece in group if piece.batch_id} - {batch.pk}
            _put(batch, group, cast.starts_at, by)
            written[batch.pk] = batch.planned_for
    drop_empty(left - written.keys())
    return written


def _of_one_mix(pieces: list[Piece]) -> list[list[Piece]]:
    groups: dict[tuple[int, int], list[Piece]] = defaultdict(list)
    for piece in pieces:
        groups[piece.mix_id, piece.room_id].append(piece)
    return list(groups.values())


def _batch_of(pieces: list[Piece], taken: Collection[int]) -> Batch:
    """The cast they stand in already, if any; several at once follow the first."""
    for piece in pieces:
        if piece.batch is not None and piece.batch_id not in taken:
            return piece.batch
    return Batch(mix_id=pieces[0].mix_id, room_id=pieces[0].room_id, version=0, pinned=False)


def _put(batch: Batch, pieces: list[Piece], starts_at: dt.datetime, by: Person) -> None:
    own = {piece.pk for piece in pieces}
    stays = batch.pk is not None and batch.planned_for == starts_at
    if stays and own == set(batch.pieces.values_list("pk", flat=True)):
        return
    batch.planned_for, batch.planned_by = starts_at, by
    batch.version += 1
    batch.save()
    batch.pieces.exclude(pk__in=own).update(batch=None)
    Piece.objects.filter(pk__in=own).update(batch=batch)


def begun(batch_ids: Collection[int]) -> list[Piece]:
    """Pieces of these casts that are cast; marks of a lost casting say nothing of the next one."""
    pieces = Piece.objects.filter(batch__in=batch_ids).prefetch_related("marks").order_by("code")
    return [piece for piece in pieces if standing_of(piece.marks.all()).done]


def drop_empty(batch_ids: Collection[int]) -> None:
    unused: dict[str, Any] = {"pieces": None, "marks": None, "runs": None, "photos": None}
    Batch.objects.filter(pk__in=batch_ids, **unused).delete()
