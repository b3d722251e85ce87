"""Taking marks back, holding and releasing pieces, and giving a casting up for lost."""

from __future__ import annotations

import datetime as dt
import uuid

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from jobs.models import Mark, Piece
from jobs.services.errors import OutOfOrder, Refused
from jobs.services.locking import known_mark, locked_piece
from jobs.services.standing import Standing, standing_of
from shop.models import Person, Role
from shop.services.changed import note_change

TAKE_BACK = dt.timedelta(minutes=10)


def strike(
    *,
    mark_id: int,
    by: Person,
    client_key: uuid.UUID,
    reason: str = "",
    now: dt.datetime | None = None,
) -> Mark:
    """Take a mark back: one's own within ten minutes; after that the owner, with a reason."""
    now = now or timezone.now()
    with transaction.atomic():
        piece_id = Mark.objects.values_list("piece_id", flat=True).filter(pk=mark_id).first()
        if piece_id is None:
            raise Refused(_("There is no such mark."))
        piece = locked_piece(piece_id)
        known = known_mark(client_key)
        if known:
            return known
        mark = Mark.objects.select_related("by").get(pk=mark_id)
        _refuse_strike(piece, mark, by, reason.strip(), now)
        struck = Mark.objects.create(
            piece=piece,
            kind=Mark.Kind.STRUCK,
            happened_at=now,
            by=by,
            reason=reason.strip()[:300],
            client_key=client_key,
            strikes=mark,
        )
        note_change(f"{piece.code}: {mark.step_name or mark.kind} struck")
    return struck


def _refuse_strike(piece: Piece, mark: Mark, by: Person, reason: str, now: dt.datetime) -> None:
    if Mark.objects.filter(strikes=mark).exists():
        raise Refused(_("This mark is struck already."))
    if mark.kind == Mark.Kind.STRUCK:
        raise Refused(_("A striking is not struck: mark the step again."))
    standing = standing_of(piece.marks.select_related("by"))
    last = standing.last
    counts = mark.pk in {done.pk for done in standing.done.values()}
    if last and counts and last.pk != mark.pk:
        raise OutOfOrder(
            _("%(code)s: %(step)s was marked after it. Take that back first.")
            % {"code": piece.code, "step": last.step_name}
        )
    fresh = mark.by_id == by.pk and now - mark.recorded_at <= TAKE_BACK
    if fresh:
        return
    if by.role != Role.OWNER:
        raise Refused(
            _(
                "A mark can be taken back for ten minutes by who made it. "
                "Ask the owner to strike it."
            )
        )
    if not reason:
        raise Refused(_("Write why this mark is struck."), field="reason")


def hold(
    *,
    piece_id: int,
    by: Person,
    reason: str,
    client_key: uuid.UUID,
    now: dt.datetime | None = None,
) -> Mark:
    return _on_piece(Mark.Kind.HOLD, piece_id, by=by, reason=reason, client_key=client_key, now=now)


def release(
    *,
    piece_id: int,
    by: Person,
    client_key: uuid.UUID,
    reason: str = "",
    now: dt.datetime | None = None,
) -> Mark:
    return _on_piece(
        Mark.Kind.RELEASE, piece_id, by=by, reason=reason, client_key=client_key, now=now
    )


def recast(
    *,
    piece_id: int,
    by: Person,
    reason: str,
    client_key: uuid.UUID,
    now: dt.datetime | None = None,
) -> Mark:
    """The casting is lost: what was marked stays on record, and the piece waits for casting."""
    return _on_piece(
        Mark.Kind.RECAST, piece_id, by=by, reason=reason, client_key=client_key, now=now
    )


def _on_piece(
    kind: Mark.Kind,
    piece_id: int,
    *,
    by: Person,
    reason: str,
    client_key: uuid.UUID,
    now: dt.datetime | None,
) -> Mark:
    now = now or timezone.now()
    with transaction.atomic():
        piece = locked_piece(piece_id)
        known = known_mark(client_key)
        if known:
            return known
        standing = standing_of(piece.marks.select_related("by"))
        _refuse_on_piece(kind, piece, standing, reason.strip())
        mark = Mark.objects.create(
            piece=piece,
            kind=kind,
            happened_at=now,
            by=by,
            reason=reason.strip()[:300],
            client_key=client_key,
        )
        if kind == Mark.Kind.RECAST:
            Piece.objects.filter(pk=piece.pk).update(batch=None)
        note_change(f"{piece.code}: {kind.label}")
    return mark


def _refuse_on_piece(kind: Mark.Kind, piece: Piece, standing: Standing, reason: str) -> None:
    if kind == Mark.Kind.RELEASE:
        if standing.hold is None:
            raise Refused(_("%(code)s is not on hold.") % {"code": piece.code})
        return
    if not reason:
        raise Refused(_("Write why, so that the next person knows."), field="reason")
    if kind == Mark.Kind.HOLD and standing.hold:
        raise Refused(
            _("%(code)s is on hold already: %(reason)s")
            % {"code": piece.code, "reason": standing.hold.reason}
        )
    if kind == Mark.Kind.RECAST and not standing.done:
        raise Refused(
            _("%(code)s is not cast, so there is no casting to lose.") % {"code": piece.code}
        )
