"""Marks: what somebody did, when. Added under the piece's lock, once for each client key."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence

from django.db import transaction
from django.utils import timezone

from jobs.models import Batch, Mark, Piece
from jobs.services.derive import derive_piece
from jobs.services.errors import AlreadyMarked, OutOfOrder, Refused, TooEarly
from jobs.services.facts import Facts, load_facts
from jobs.services.outlook import StepOutlook
from jobs.services.reasons import clock
from jobs.services.standing import Standing, standing_of
from shop.models import Person, Role, StepKind
from shop.services.changed import note_change

TAKE_BACK = dt.timedelta(minutes=10)
CLOCK_SKEW = dt.timedelta(minutes=2)
# The app shows whole minutes: nobody is early who marks in the minute that was shown.
SAME_MINUTE = dt.timedelta(minutes=1)


def mark_done(
    *,
    piece_id: int,
    step_key: str,
    by: Person,
    client_key: uuid.UUID,
    happened_at: dt.datetime | None = None,
    reason: str = "",
    now: dt.datetime | None = None,
) -> Mark:
    now = now or timezone.now()
    with transaction.atomic():
        piece = _locked(piece_id)
        known = _known(client_key)
        if known:
            return known
        mark = _done(piece, step_key, by, client_key, happened_at or now, reason.strip(), now)
        note_change(f"{piece.code}: {mark.step_name}")
    return mark


def mark_batch_cast(
    *,
    batch_id: int,
    by: Person,
    client_key: uuid.UUID,
    water_in: dt.datetime | None = None,
    reason: str = "",
    now: dt.datetime | None = None,
) -> list[Mark]:
    """Every piece of the batch that is not cast yet, at one water-in time, or none of them."""
    now = now or timezone.now()
    with transaction.atomic():
        batch = Batch.objects.select_for_update().filter(pk=batch_id).first()
        if batch is None:
            raise Refused("This cast was called off meanwhile. Look at the list again.")
        pieces = list(Piece.objects.select_for_update().filter(batch=batch).order_by("pk"))
        keys = {piece.pk: uuid.uuid5(client_key, str(piece.pk)) for piece in pieces}
        known = list(Mark.objects.filter(client_key__in=keys.values()))
        if known:
            return known
        marks = _cast_all(pieces, keys, by, water_in or now, reason.strip(), now)
        if not marks:
            raise Refused("Every piece of this batch is marked as cast already.")
        note_change(f"cast of {len(marks)} pieces")
    return marks


def _cast_all(
    pieces: Sequence[Piece],
    keys: dict[int, uuid.UUID],
    by: Person,
    water_in: dt.datetime,
    reason: str,
    now: dt.datetime,
) -> list[Mark]:
    numbers = {piece.job.number for piece in _with_jobs(pieces)}
    facts = load_facts(now, numbers)
    marks = []
    for job in facts.jobs:
        for piece in job.pieces.all():
            standing = standing_of(piece.marks.all())
            if piece.pk not in keys or standing.done:
                continue
            if standing.hold:
                raise Refused(
                    f"{piece.code} is on hold ({standing.hold.reason}). Release it, or ask for it "
                    "to be taken out of this cast."
                )
            step = derive_piece(facts, job, piece).steps[0]
            marks.append(
                _record(facts, piece, step, standing, by, keys[piece.pk], water_in, reason)
            )
    return marks


def _with_jobs(pieces: Sequence[Piece]) -> list[Piece]:
    return list(Piece.objects.filter(pk__in=[p.pk for p in pieces]).select_related("job"))


def _locked(piece_id: int) -> Piece:
    piece = Piece.objects.select_for_update().filter(pk=piece_id).first()
    if piece is None:
        raise Refused("This piece was removed meanwhile. Look at the list again.")
    return piece


def _known(client_key: uuid.UUID) -> Mark | None:
    return Mark.objects.filter(client_key=client_key).select_related("by").first()


def _done(
    piece: Piece,
    step_key: str,
    by: Person,
    client_key: uuid.UUID,
    happened_at: dt.datetime,
    reason: str,
    now: dt.datetime,
) -> Mark:
    facts, loaded = _loaded(piece, now)
    standing = standing_of(loaded.marks.all())
    outlook = derive_piece(facts, loaded.job, loaded)
    step = next((step for step in outlook.steps if step.key == step_key), None)
    if step is None:
        raise Refused(f"The route of {piece.code} has no such step any more. Reload the page.")
    if standing.hold:
        raise Refused(
            f"{piece.code} is on hold ({standing.hold.reason}). Release it before it is marked."
        )
    _refuse_out_of_order(facts, loaded, outlook.steps, step, standing)
    return _record(facts, loaded, step, standing, by, client_key, happened_at, reason)


def _loaded(piece: Piece, now: dt.datetime) -> tuple[Facts, Piece]:
    number = Piece.objects.values_list("job__number", flat=True).get(pk=piece.pk)
    facts = load_facts(now, [number])
    loaded = next(p for p in facts.jobs[0].pieces.all() if p.pk == piece.pk)
    return facts, loaded


def _refuse_out_of_order(
    facts: Facts,
    piece: Piece,
    steps: Sequence[StepOutlook],
    step: StepOutlook,
    standing: Standing,
) -> None:
    if step.key in standing.done:
        mark = standing.done[step.key]
        raise AlreadyMarked(
            f"{piece.code} {step.name}: already marked by {mark.by.name}, "
            f"{clock(mark.happened_at, facts)}.",
            mark=mark,
        )
    missing = next(s for s in steps if s.key not in standing.done)
    if missing.key != step.key:
        raise OutOfOrder(
            f"{piece.code}: {missing.name} is not marked yet and comes before {step.name}. "
            f"Mark {missing.name} first."
        )


def _record(
    facts: Facts,
    piece: Piece,
    step: StepOutlook,
    standing: Standing,
    by: Person,
    client_key: uuid.UUID,
    happened_at: dt.datetime,
    reason: str,
) -> Mark:
    _refuse_bad_time(facts, piece, standing, happened_at)
    early_before = _early_before(step, happened_at, facts)
    if early_before and not reason:
        raise TooEarly(
            f"{piece.code} {step.name}: not before {clock(early_before, facts)} "
            f"({step.held_by_words if early_before != step.earliest else step.governs_words}). "
            "If it is done all the same, write why.",
            earliest=early_before,
            governs=step.governs,
        )
    return Mark.objects.create(
        piece=piece,
        kind=Mark.Kind.DONE,
        step_key=step.key,
        step_name=step.name,
        happened_at=happened_at,
        by=by,
        reason=reason[:300],
        early_before=early_before,
        batch_id=piece.batch_id if step.kind == StepKind.CAST else None,
        client_key=client_key,
    )


def _refuse_bad_time(
    facts: Facts, piece: Piece, standing: Standing, happened_at: dt.datetime
) -> None:
    if happened_at > facts.now + CLOCK_SKEW:
        raise Refused(
            f"{clock(happened_at, facts)} has not come yet. Mark a step when it is done.",
            field="happened_at",
        )
    last = standing.last
    if last and happened_at < last.happened_at:
        raise Refused(
            f"{piece.code} {last.step_name} is marked for {clock(last.happened_at, facts)}: "
            f"the next step cannot lie before it.",
            field="happened_at",
        )


def _early_before(step: StepOutlook, happened_at: dt.datetime, facts: Facts) -> dt.datetime | None:
    """When the step would have been due, where it was done before that; crew hours don't count."""
    if step.kind == StepKind.CAST:
        return None
    if step.earliest is None or happened_at < step.earliest - SAME_MINUTE:
        return step.earliest or facts.now + dt.timedelta(days=365)
    if step.held_by == "sealing air" and step.workable and happened_at < step.workable:
        return step.workable
    return None


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
            raise Refused("There is no such mark.")
        piece = _locked(piece_id)
        known = _known(client_key)
        if known:
            return known
        mark = Mark.objects.select_related("by").get(pk=mark_id)
        _refuse_strike(piece, mark, by, reason.strip(), now)
        struck = _add(piece, Mark.Kind.STRUCK, by, client_key, reason, now, strikes=mark)
        note_change(f"{piece.code}: {mark.step_name or mark.kind} struck")
    return struck


def _refuse_strike(piece: Piece, mark: Mark, by: Person, reason: str, now: dt.datetime) -> None:
    if Mark.objects.filter(strikes=mark).exists():
        raise Refused("This mark is struck already.")
    if mark.kind == Mark.Kind.STRUCK:
        raise Refused("A striking is not struck: mark the step again.")
    standing = standing_of(piece.marks.select_related("by"))
    last = standing.last
    if mark.kind == Mark.Kind.DONE and last and mark.pk in {m.pk for m in standing.done.values()}:
        if last.pk != mark.pk:
            raise OutOfOrder(
                f"{piece.code}: {last.step_name} was marked after it. Take that back first."
            )
    fresh = mark.by_id == by.pk and now - mark.recorded_at <= TAKE_BACK
    if fresh:
        return
    if by.role != Role.OWNER:
        raise Refused(
            "A mark can be taken back for ten minutes by who made it. Ask the owner to strike it."
        )
    if not reason:
        raise Refused("Write why this mark is struck.", field="reason")


def hold(
    *,
    piece_id: int,
    by: Person,
    reason: str,
    client_key: uuid.UUID,
    now: dt.datetime | None = None,
) -> Mark:
    return _on_piece(Mark.Kind.HOLD, piece_id, by, reason, client_key, now)


def release(
    *,
    piece_id: int,
    by: Person,
    client_key: uuid.UUID,
    reason: str = "",
    now: dt.datetime | None = None,
) -> Mark:
    return _on_piece(Mark.Kind.RELEASE, piece_id, by, reason, client_key, now)


def recast(
    *,
    piece_id: int,
    by: Person,
    reason: str,
    client_key: uuid.UUID,
    now: dt.datetime | None = None,
) -> Mark:
    """The casting is lost: what was marked stays on record, and the piece waits for casting."""
    return _on_piece(Mark.Kind.RECAST, piece_id, by, reason, client_key, now)


def _on_piece(
    kind: Mark.Kind,
    piece_id: int,
    by: Person,
    reason: str,
    client_key: uuid.UUID,
    now: dt.datetime | None,
) -> Mark:
    now = now or timezone.now()
    with transaction.atomic():
        piece = _locked(piece_id)
        known = _known(client_key)
        if known:
            return known
        standing = standing_of(piece.marks.select_related("by"))
        _refuse_on_piece(kind, piece, standing, reason.strip())
        mark = _add(piece, kind, by, client_key, reason, now)
        if kind == Mark.Kind.RECAST:
            Piece.objects.filter(pk=piece.pk).update(batch=None)
        note_change(f"{piece.code}: {kind.label}")
    return mark


def _refuse_on_piece(kind: Mark.Kind, piece: Piece, standing: Standing, reason: str) -> None:
    if kind == Mark.Kind.RELEASE:
        if standing.hold is None:
            raise Refused(f"{piece.code} is not on hold.")
        return
    if not reason:
        raise Refused("Write why, so that the next person knows.", field="reason")
    if kind == Mark.Kind.HOLD and standing.hold:
        raise Refused(f"{piece.code} is on hold already: {standing.hold.reason}")
    if kind == Mark.Kind.RECAST and not standing.done:
        raise Refused(f"{piece.code} is not cast, so there is no casting to lose.")


def _add(
    piece: Piece,
    kind: Mark.Kind,
    by: Person,
    client_key: uuid.UUID,
    reason: str,
    now: dt.datetime,
    strikes: Mark | None = None,
) -> Mark:
    return Mark.objects.create(
        piece=piece,
        kind=kind,
        happened_at=now,
        by=by,
        reason=reason.strip()[:300],
        client_key=client_key,
        strikes=strikes,
    )
