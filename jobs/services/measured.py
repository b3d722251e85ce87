"""A finished piece's thickness and weight as somebody measured them, against what is reckoned."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from jobs.models import Measured, Piece
from jobs.services.errors import Refused
from jobs.services.locking import locked_piece
from jobs.services.shape import weight_kg
from shop.measures import words
from shop.models import Person, Role, Shop
from shop.services.changed import note_change
from shop.services.settings import the_shop
from shop.templatetags.measures import moment

CLOCK_SKEW = dt.timedelta(minutes=2)
THINNEST, THICKEST = 0.003, 1.0  # m
LIGHTEST, HEAVIEST = 0.01, 5000.0  # kg
# Beyond this it is another piece or the wrong unit. Common practice, no source.
HALF, TWICE = 0.5, 2.0


class Unlikely(Refused):
    """Taken all the same when the person says that they looked again."""


@dataclass(frozen=True)
class Against:
    """A measurement beside what is reckoned [m, kg]; off: (measured - reckoned) / reckoned."""

    row: Measured
    thickness_m: float
    kg: float

    @property
    def thickness_off(self) -> float | None:
        measured = self.row.thickness_m
        return None if measured is None else measured / self.thickness_m - 1

    @property
    def kg_off(self) -> float | None:
        return None if self.row.kg is None else self.row.kg / self.kg - 1


def against(piece: Piece, rows: Iterable[Measured]) -> list[Against]:
    """In order of time, struck ones too. The weight is reckoned from the fresh unit weight."""
    reckoned = weight_kg(piece)
    return [
        Against(row, piece.thickness_m, reckoned)
        for row in sorted(rows, key=lambda r: (r.at, r.pk))
    ]


@transaction.atomic
def add_measured(
    *,
    piece_id: int,
    by: Person,
    client_key: uuid.UUID,
    thickness_m: float | None = None,
    kg: float | None = None,
    at: dt.datetime | None = None,
    sure: bool = False,
    now: dt.datetime | None = None,
) -> Measured:
    """The same key again gives the first.

    Raises
    ------
    Unlikely
        Far from what is reckoned, and `sure` is not said.
    Refused
        Nothing was measured, out of any piece's range, or at a time that has not come.
    """
    now = now or timezone.now()
    locked_piece(piece_id)
    known = Measured.objects.filter(client_key=client_key).first()
    if known:
        return known
    shop = the_shop()
    _refuse(thickness_m, kg, at or now, now, shop)
    piece = Piece.objects.select_related("mix").get(pk=piece_id)
    if not sure:
        _ask_again(piece, thickness_m, kg, shop)
    if kg is not None:
        note_change(f"{piece.code}: weighed when finished")
    return Measured.objects.create(
        piece=piece,
        thickness_m=thickness_m,
        kg=kg,
        at=at or now,
        by=by,
        client_key=client_key,
    )


def _refuse(
    thickness: float | None, kg: float | None, at: dt.datetime, now: dt.datetime, shop: Shop
) -> None:
    if thickness is None and kg is None:
        raise Refused(_("Enter a thickness, a weight, or both."), field="thickness")
    if thickness is not None and not THINNEST <= thickness <= THICKEST:
        ends = [words(end, "length", shop) for end in (THINNEST, THICKEST)]
        said = _("A piece is from %(least)s to %(most)s thick.")
        raise Refused(said % dict(zip(("least", "most"), ends, strict=True)), field="thickness")
    if kg is not None and not LIGHTEST <= kg <= HEAVIEST:
        most = words(HEAVIEST, "weight", shop)
        said = _("A piece weighs something, and at most %(most)s.")
        raise Refused(said % {"most": most}, field="weight")
    if at > now + CLOCK_SKEW:
        raise Refused(
            _("%(when)s has not come yet. When was it measured?") % {"when": moment(at)}, field="at"
        )


def _ask_again(piece: Piece, thickness: float | None, kg: float | None, shop: Shop) -> None:
    pairs = (
        (
            thickness,
            piece.thickness_m,
            "length",
            _("%(now)s thick, but %(code)s was to be %(was)s."),
        ),
        (kg, weight_kg(piece), "scale", _("%(now)s, but %(code)s is reckoned at %(was)s.")),
    )
    for measured, reckoned, kind, said in pairs:
        if measured is None or HALF * reckoned <= measured <= TWICE * reckoned:
            continue
        facts = {
            "now": words(measured, kind, shop),
            "was": words(reckoned, kind, shop),
            "code": piece.code,
        }
        ask = _("Is it this piece, and the right unit? Look again, and say so below if it is.")
        raise Unlikely(f"{said % facts} {ask}", field="sure")


@transaction.atomic
def strike_measured(*, measured_id: int, by: Person, now: dt.datetime | None = None) -> Measured:
    """By who entered it, or the owner. It stays, and counts no more."""
    rows = Measured.objects.select_related("piece").select_for_update(of=("self",))
    row = rows.filter(pk=measured_id).first()
    if row is None:
        raise Refused(_("There is no such measurement."))
    if row.struck_at:
        return row
    if not may_strike(row, by):
        raise Refused(_("Only who entered a measurement, or the owner, strikes it."))
    row.struck_at, row.struck_by = now or timezone.now(), by
    row.save(update_fields=["struck_at", "struck_by"])
    if row.kg is not None:
        note_change(f"{row.piece.code}: finished weight struck")
    return row


def may_strike(row: Measured, person: Person) -> bool:
    own = row.by_id == person.pk or person.role == Role.OWNER
    return row.struck_at is None and own
