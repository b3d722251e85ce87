"""Marks: what somebody did, when. Added under the piece's lock, once for each client key."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from jobs.models import Batch, Job, Mark, Outcome, Piece
from jobs.services.corrections import hold, recast, release, strike
from jobs.services.derive import derive_piece
from jobs.services.errors import AlreadyMarked, OutOfOrder, Refused, TooEarly
from jobs.services.facts import Facts, load_facts
from jobs.services.locking import known_mark, lock_batches_of, locked_piece
from jobs.services.outlook import StepOutlook
from jobs.services.reasons import clock
from jobs.services.standing import Standing, standing_of
from jobs.services.trust import record_demold
from shop.localtime import to_hours
from shop.models import Person, StepKind
from shop.services.changed import note_change

__all__ = ["hold", "mark_batch_cast", "mark_done", "recast", "release", "strike"]

CLOCK_SKEW = dt.timedelta(minutes=2)
# The app shows whole minutes: nobody is early who marks in the minute that was shown.
SAME_MINUTE = dt.timedelta(minutes=1)


@dataclass(frozen=True)
class Entry:
    """What somebody enters with a mark."""

    by: Person
    client_key: uuid.UUID
    happened_at: dt.datetime
    reason: str
    outcome: str = ""


def mark_done(
    *,
    piece_id: int,
    step_key: str,
    by: Person,
    client_key: uuid.UUID,
    happened_at: dt.datetime | None = None,
    reason: str = "",
    outcome: str = "",
    now: dt.datetime | None = None,
) -> Mark:
    """`outcome` says of a demold how the piece came out; it may be left open."""
    now = now or timezone.now()
    with transaction.atomic():
        lock_batches_of(Piece.objects.filter(pk=piece_id))
        piece = locked_piece(piece_id)
        known = known_mark(client_key)
        if known:
            return known
        entry = Entry(by, client_key, happened_at or now, reason.strip(), outcome)
        mark = _done(piece, step_key, entry, now)
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
            raise Refused(_("This cast was called off meanwhile. Look at the list again."))
        pieces = list(Piece.objects.select_for_update().filter(batch=batch).order_by("pk"))
        keys = {piece.pk: uuid.uuid5(client_key, str(piece.pk)) for piece in pieces}
        known = list(Mark.objects.filter(client_key__in=keys.values()))
        if known:
            return known
        entries = {pk: Entry(by, key, water_in or now, reason.strip()) for pk, key in keys.items()}
        marks = _cast_all(entries, now)
        if not marks:
            raise Refused(_("Every piece of this batch is marked as cast already."))
        note_change(f"cast of {len(marks)} pieces")
    return marks


def _cast_all(entries: dict[int, Entry], now: dt.datetime) -> list[Mark]:
    numbers = Job.objects.filter(pieces__in=entries).values_list("number", flat=True).distinct()
    facts = load_facts(now, list(numbers))
    marks = []
    for job in facts.jobs:
        for piece in job.pieces.all():
            standing = standing_of(piece.marks.all())
            if piece.pk not in entries or standing.done:
                continue
            _refuse_held(piece, standing)
            step = derive_piece(facts, job, piece).steps[0]
            marks.append(_record(facts, piece, step, standing, entries[piece.pk]))
    return marks


def _refuse_held(piece: Piece, standing: Standing) -> None:
    if standing.hold:
        raise Refused(
            _("%(code)s is on hold (%(reason)s). Release it before it is marked.")
            % {"code": piece.code, "reason": standing.hold.reason}
        )


def _done(piece: Piece, step_key: str, entry: Entry, now: dt.datetime) -> Mark:
    facts, loaded = _loaded(piece, now)
    standing = standing_of(loaded.marks.all())
    outlook = derive_piece(facts, loaded.job, loaded)
    step = next((step for step in outlook.steps if step.key == step_key), None)
    if step is None:
        raise Refused(
            _("The route of %(code)s has no such step any more. Reload the page.")
            % {"code": piece.code}
        )
    _refuse_held(loaded, standing)
    _refuse_out_of_order(facts, loaded, outlook.steps, step, standing)
    _refuse_outcome(step, entry.outcome)
    return _record(facts, loaded, step, standing, entry)


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
            _(
                "%(code)s: %(first)s is not marked yet and comes before %(step)s. "
                "Mark %(first)s first."
            )
            % {"code": piece.code, "first": missing.name, "step": step.name}
        )


def _record(
    facts: Facts,
    piece: Piece,
    step: StepOutlook,
    standing: Standing,
    entry: Entry,
) -> Mark:
    _refuse_bad_time(facts, piece, standing, entry.happened_at)
    early_before = _early_before(step, entry.happened_at, facts)
    if early_before and not entry.reason:
        raise TooEarly(
            f"{piece.code} {step.name}: not before {clock(early_before, facts)} "
            f"({step.held_by_words if early_before != step.earliest else step.governs_words}). "
            "If it is done all the same, write why.",
            earliest=early_before,
            governs=step.governs,
        )
    mark = Mark.objects.create(
        piece=piece,
        kind=Mark.Kind.DONE,
        step_key=step.key,
        step_name=step.name,
        happened_at=entry.happened_at,
        by=entry.by,
        reason=entry.reason[:300],
        early_before=early_before,
        outcome=entry.outcome,
        batch_id=piece.batch_id if step.kind == StepKind.CAST else None,
        client_key=entry.client_key,
    )
    if step.kind == StepKind.DEMOLD:
        record_demold(mark, piece, _age_at(facts, piece, standing, entry.happened_at), facts.shop)
    return mark


def _age_at(facts: Facts, piece: Piece, standing: Standing, at: dt.datetime) -> float:
    """Equivalent age [h at 20 °C] in the room's air, from water-in to `at`."""
    first = next(iter(standing.done.values()), None)
    if first is None or at <= first.happened_at:
        return 0.0
    climate, energy = facts.climate_of(piece.room_id), piece.mix.activation_energy
    return float(climate.equivalent_age(to_hours(first.happened_at), to_hours(at), energy))


def _refuse_outcome(step: StepOutlook, outcome: str) -> None:
    if outcome and step.kind != StepKind.DEMOLD:
        raise Refused(_("Only a demold comes out clean, soft, chipped or broken."))
    if outcome and outcome not in Outcome.values:
        raise Refused(
            _("A piece comes out clean, soft, chipped or broken. Choose one of them."),
            field="outcome",
        )


def _refuse_bad_time(
    facts: Facts, piece: Piece, standing: Standing, happened_at: dt.datetime
) -> None:
    if happened_at > facts.now + CLOCK_SKEW:
        raise Refused(
            _("%(when)s has not come yet. Mark a step when it is done.")
            % {"when": clock(happened_at, facts)},
            field="happened_at",
        )
    last = standing.last
    if last and happened_at < last.happened_at:
        raise Refused(
            _("%(code)s %(step)s is marked for %(when)s: the next step cannot lie before it.")
            % {
                "code": piece.code,
                "step": last.step_name,
                "when": clock(last.happened_at, facts),
            },
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
