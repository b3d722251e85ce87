"""What a mix's weighed pieces say of its drying, and the owner taking it or not."""

from __future__ import annotations

import datetime as dt
import zlib
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from django.db import transaction
from django.utils.translation import gettext as _

from curing.air import Climate
from curing.damp import HOTTEST, known
from curing.drying_calibration import (
    LEAST_PIECES,
    LEAST_WEIGHINGS,
    DryingCalibration,
    calibrate_drying,
    piece_factor,
)
from curing.moisture import Concrete, Slab
from jobs.models import Piece, Weighing
from jobs.services.errors import Conflict, Refused
from jobs.services.route_steps import wetted_at
from jobs.services.weighing import standing_weighings
from jobs.services.weighing_record import record_of
from shop.localtime import to_hours
from shop.models import FitTaken, Mix, Person, Shop
from shop.models.strength_tests import TakenFigure
from shop.services import rows
from shop.services.changed import note_change
from shop.services.climate import climates

MOST_PIECES = 40  # the last ones: concrete changes with its sand and its seasons


@dataclass(frozen=True)
class DriedPiece:
    """A weighed piece and its factor, or why it has none."""

    piece: Piece
    weighings: tuple[Weighing, ...]
    wetted_at: dt.datetime
    dry_at: dt.datetime | None
    factor: float | None
    why_not: str

    @property
    def days(self) -> float:
        end = self.dry_at or self.weighings[-1].at
        return (end - self.wetted_at).total_seconds() / 86400.0


@dataclass(frozen=True)
class MixDrying:
    mix: Mix
    pieces: tuple[DriedPiece, ...]
    result: DryingCalibration
    taken: FitTaken | None

    @property
    def basis(self) -> str:
        """Changes with every weight: a person takes what they saw."""
        seen = ",".join(f"{w.pk}" for dried in self.pieces for w in dried.weighings)
        return f"{zlib.crc32(f'{self.mix.pk}:{seen}'.encode()):08x}"

    @property
    def telling(self) -> list[DriedPiece]:
        return [dried for dried in self.pieces if dried.factor is not None]

    @property
    def missing(self) -> int:
        return max(0, LEAST_PIECES - len(self.telling))


def mix_drying(mix: Mix, *, now: dt.datetime, shop: Shop) -> MixDrying:
    """In as many queries for one piece as for forty."""
    found = [(piece, wetted_at(piece)) for piece in _weighed_pieces(mix)]
    weighed = [(piece, wetted) for piece, wetted in found if wetted and _kept(piece, wetted)]
    rooms = {piece.room.pk: piece.room for piece, _wetted in weighed}
    airs = climates(
        rooms.values(),
        since=min((wetted for _piece, wetted in weighed), default=now),
        until=now,
        now=now,
        shop=shop,
    )
    pieces = [_dried(piece, wetted, airs[piece.room_id]) for piece, wetted in weighed]
    factors = [dried.factor for dried in pieces if dried.factor is not None]
    taken = mix.fits_taken.filter(what=TakenFigure.DRYING).select_related("by").first()
    return MixDrying(
        mix=mix,
        pieces=tuple(pieces),
        result=calibrate_drying(factors),
        taken=taken if taken and mix.drying_calibrated and taken.stands_in(mix) else None,
    )


def _weighed_pieces(mix: Mix) -> list[Piece]:
    pieces = Piece.objects.filter(
        pk__in=Weighing.objects.filter(piece__mix=mix, struck_at=None).values("piece")
    )
    related = pieces.select_related("room", "route", "mix", "job")
    return list(
        related.prefetch_related("route__steps", "marks", "weighings").order_by("-pk")[:MOST_PIECES]
    )


def _kept(piece: Piece, wetted: dt.datetime) -> list[Weighing]:
    return standing_weighings(list(piece.weighings.all()), wetted)


def _dried(piece: Piece, wetted: dt.datetime, climate: Climate) -> DriedPiece:
    kept = _kept(piece, wetted)
    record = record_of(kept, wetted, piece.route.weigh_percent)
    factor, why_not = None, ""
    if record.dry_at is None:
        why_not = _("not weighed dry yet")
    elif len(kept) < LEAST_WEIGHINGS:
        why_not = _("fewer than %(least)d weights") % {"least": LEAST_WEIGHINGS}
    else:
        factor = _factor(piece, wetted, kept, climate)
        why_not = "" if factor else _("its weights follow no drying course")
    return DriedPiece(piece, tuple(kept), wetted, record.dry_at, factor, why_not)


def _factor(
    piece: Piece, wetted: dt.datetime, kept: Sequence[Weighing], climate: Climate
) -> float | None:
    start, end = to_hours(wetted), to_hours(kept[-1].at)
    inside = climate.hours[(climate.hours > start) & (climate.hours < end)]
    hours = np.concatenate([[start], inside, [end]])
    try:
        found = piece_factor(
            Slab(piece.thickness_m, faces=2),
            Concrete(),
            hours,
            np.minimum(climate.celsius_at(hours), HOTTEST),
            known(climate.humidity_at(hours)),
            weighed=[to_hours(row.at) for row in kept],
            kg=[row.kg for row in kept],
        )
    except ValueError:  # too thin or too thick for the model
        return None
    return found.factor if found else None


@transaction.atomic
def take_drying(
    *, mix_id: int, version: int, basis: str, by: Person, now: dt.datetime, shop: Shop
) -> Mix:
    """The factor becomes the mix's: every date that rests on the model is reckoned anew.

    Raises
    ------
    Conflict
        The mix was saved, or a weight added or struck, since the person looked.
    Refused
        Fewer than three pieces tell.
    """
    mix = rows.locked(Mix, mix_id, version, {})
    seen = mix_drying(mix, now=now, shop=shop)
    if seen.basis != basis:
        raise Conflict(
            _("A weight was added or struck since you looked. Nothing is changed: look again."),
            version=mix.version,
            theirs={},
        )
    if not seen.result.calibrated:
        raise Refused(
            _("Fewer than %(least)d pieces tell. It stays an estimate, not calibrated.")
            % {"least": LEAST_PIECES}
        )
    figures = {"drying_factor": round(seen.result.factor, 3), "drying_calibrated": True}
    rows.put(mix, figures)
    FitTaken.objects.create(
        mix=mix, what=TakenFigure.DRYING, figures=figures, tests=seen.result.pieces, by=by
    )
    note_change(f"drying of {mix.name} from {seen.result.pieces} pieces")
    return mix


@transaction.atomic
def leave_drying(*, mix_id: int, version: int) -> Mix:
    """Back to the model as it is: an estimate, not calibrated."""
    mix = rows.locked(Mix, mix_id, version, {})
    rows.put(mix, {"drying_factor": 1.0, "drying_calibrated": False})
    note_change(f"drying of {mix.name}: the model's own")
    return mix
