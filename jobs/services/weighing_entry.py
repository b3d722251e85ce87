"""Weights of drying pieces: added under the piece's lock, once for each client key; struck."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from jobs.models import Piece, Weighing
from jobs.services.corrections import TAKE_BACK
from jobs.services.errors import Refused
from jobs.services.locking import locked_piece
from jobs.services.route_steps import piece_steps, wetted_at
from jobs.services.shape import weight_kg
from jobs.services.standing import standing_of
from jobs.services.weighing import standing_weighings
from shop.measures import words
from shop.models import DryingRule, Person, Role, Shop
from shop.services.changed import note_change
from shop.services.settings import the_shop
from shop.templatetags.measures import moment

CLOCK_SKEW = dt.timedelta(minutes=2)
SAME_MINUTE = dt.timedelta(minutes=1)
# A piece dries by a few percent in all: this far from the weight before it, or from the reckoned
# one, is a slip of the finger, another piece or the wrong unit. Common practice, no source.
HALF, TWICE, GAINED = 0.5, 2.0, 1.01


class Unlikely(Refused):
    """Taken all the same when the person says that they looked again."""


@transaction.atomic
def add_weighing(
    *,
    piece_id: int,
    kg: float,
    by: Person,
    client_key: uuid.UUID,
    at: dt.datetime | None = None,
    sure: bool = False,
    now: dt.datetime | None = None,
) -> Weighing:
    """A weight of a piece that dries by weighing, since its last wetting.

    Raises
    ------
    Unlikely
        A weight far from what this piece can weigh, and `sure` is not said.
    Refused
        Nothing waits for it, it lies before the last wetting or in the future, or there is one
        of that minute already.
    """
    now = now or timezone.now()
    at = at or now
    locked_piece(piece_id)
    known = Weighing.objects.filter(client_key=client_key).select_related("piece", "by").first()
    if known:
        return known
    piece = _loaded(piece_id)
    shop = the_shop()
    _refuse_not_waiting(piece, shop)
    _refuse_bad_time(piece, at, now)
    if not sure:
        _ask_again(piece, kg, at, shop)
    made = Weighing.objects.create(piece=piece, at=at, kg=kg, by=by, client_key=client_key)
    note_change(f"{piece.code}: weighed")
    return made


@transaction.atomic
def strike_weighing(*, weighing_id: int, by: Person, now: dt.datetime | None = None) -> Weighing:
    """One's own within ten minutes; after that the owner."""
    now = now or timezone.now()
    piece_id = Weighing.objects.filter(pk=weighing_id).values_list("piece_id", flat=True).first()
    if piece_id is None:
        raise Refused(_("There is no such weight."))
    piece = locked_piece(piece_id)
    weighing = Weighing.objects.select_related("piece").get(pk=weighing_id)
    if weighing.struck_at:
        return weighing
    if not may_strike(weighing, by, now):
        raise Refused(
            _(
                "A weight can be taken back for ten minutes by who entered it. "
                "Ask the owner to strike it."
            )
        )
    weighing.struck_at, weighing.struck_by = now, by
    weighing.save(update_fields=["struck_at", "struck_by"])
    note_change(f"{piece.code}: weight struck")
    return weighing


def may_strike(weighing: Weighing, person: Person, now: dt.datetime) -> bool:
    own = weighing.by_id == person.pk and now - weighing.recorded_at <= TAKE_BACK
    return weighing.struck_at is None and (own or person.role == Role.OWNER)


def _loaded(piece_id: int) -> Piece:
    related = Piece.objects.select_related("job", "route", "mix", "sealer")
    return related.prefetch_related("route__steps", "marks", "weighings").get(pk=piece_id)


def _refuse_not_waiting(piece: Piece, shop: Shop) -> None:
    if piece.route.drying_rule != DryingRule.WEIGHING:
        raise Refused(
            _("%(code)s does not dry by weighing: its route counts drying another way.")
            % {"code": piece.code}
        )
    if wetted_at(piece) is None:
        raise Refused(
            _("%(code)s is still in its form. Weigh it after it is demolded.")
            % {"code": piece.code}
        )
    done = standing_of(piece.marks.all()).done
    steps = piece_steps(piece, shop)
    if not any(one.engine.weighed and one.engine.key not in done for one in steps):
        raise Refused(_("No step of %(code)s waits for drying any more.") % {"code": piece.code})


def _refuse_bad_time(piece: Piece, at: dt.datetime, now: dt.datetime) -> None:
    wetted = wetted_at(piece)
    if at > now + CLOCK_SKEW:
        raise Refused(
            _("%(when)s has not come yet. Enter a weight when it is read.") % {"when": moment(at)},
            field="happened_at",
        )
    if wetted and at < wetted:
        raise Refused(
            _(
                "%(code)s was wetted or demolded after that, %(when)s. "
                "Only weights since then show how it dries."
            )
            % {"code": piece.code, "when": moment(wetted)},
            field="happened_at",
        )
    if any(abs(row.at - at) < SAME_MINUTE for row in _standing(piece)):
        raise Refused(
            _("There is a weight of %(when)s already. If that one is wrong, strike it first.")
            % {"when": moment(at)},
            field="happened_at",
        )


def _standing(piece: Piece) -> Sequence[Weighing]:
    return standing_weighings(list(piece.weighings.all()), wetted_at(piece))


def _ask_again(piece: Piece, kg: float, at: dt.datetime, shop: Shop) -> None:
    earlier = [row for row in _standing(piece) if row.at <= at]
    expected = earlier[-1].kg if earlier else weight_kg(piece)
    facts = {
        "code": piece.code,
        "now": words(kg, "scale", shop),
        "before": words(expected, "scale", shop),
    }
    if not HALF * expected <= kg <= TWICE * expected:
        said = (
            _("%(now)s, but %(code)s weighed %(before)s before.")
            if earlier
            else _("%(now)s, but %(code)s is reckoned at %(before)s.")
        )
        ask = _("Is it this piece, and the right unit? Look at the scale again.")
        raise Unlikely(f"{said % facts} {ask}", field="sure")
    if earlier and kg > GAINED * expected:
        said = _("%(code)s weighs %(now)s, more than the %(before)s before.") % facts
        ask = _(
            "A drying piece gets lighter: was it wetted, or the scale not at zero? "
            "Look at the scale again."
        )
        raise Unlikely(f"{said} {ask}", field="sure")
