"""Customers, jobs and pieces: made, changed, closed and called off."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any, TypeVar

from django.db import IntegrityError, transaction
from django.utils import timezone

from jobs.models import Batch, Customer, Job, Mark, Piece
from jobs.services.errors import Conflict, Refused
from jobs.services.locking import lock_batches_of
from jobs.services.phones import digits_of
from jobs.services.promises import refuse_bad_promise
from jobs.services.section_faults import fault_of
from jobs.services.standing import standing_of
from shop import measures
from shop.models import Shop
from shop.services.changed import note_change
from shop.services.settings import the_shop

Row = TypeVar("Row", Customer, Job, Piece)

GONE = "This was removed by somebody else meanwhile. Nothing was saved."


def save_customer(
    *, values: dict[str, Any], customer_id: int | None = None, version: int | None = None
) -> Customer:
    """`values` are the model's own fields; the phone's digits are kept beside it."""
    with transaction.atomic():
        customer = _locked(Customer, customer_id, version) if customer_id else Customer()
        _put(customer, values | {"phone_digits": digits_of(values.get("phone", customer.phone))})
    return customer


def save_job(
    *,
    values: dict[str, Any],
    new_customer: dict[str, Any] | None = None,
    job_id: int | None = None,
    version: int | None = None,
) -> Job:
    """`new_customer`, if given, is made with the job and becomes its customer."""
    try:
        with transaction.atomic():
            job = _locked(Job, job_id, version) if job_id else Job()
            number = values.get("number", job.number).upper()
            renumbered = bool(job.pk and number != job.number)
            if renumbered:
                _refuse_renumbering(job)
            if new_customer:
                values = values | {"customer": save_customer(values=new_customer)}
            take_job(job, values)
            job.save()
            if renumbered:
                _recode(job)
            note_change(f"job {job.number} saved")
    except IntegrityError as error:
        raise Refused(
            f"There is a job {job.number} already. Choose another number.", field="number"
        ) from error
    return job


def take_job(job: Job, values: dict[str, Any]) -> None:
    """By the rules of every job, not saved yet."""
    refuse_bad_promise(job, values)
    _take(job, values | {"number": values.get("number", job.number).upper()})


def _refuse_renumbering(job: Job) -> None:
    if Mark.objects.filter(piece__job=job).exists():
        raise Refused(
            f"The codes of job {job.number} are written on its forms, so its number stays.",
            field="number",
        )


def _recode(job: Job) -> None:
    for piece in job.pieces.all():
        piece.code = f"{job.number}-{piece.letter}"
        piece.save(update_fields=["code"])


def suggested_number() -> str:
    """One more than the highest number that is only digits."""
    numbers = Job.objects.filter(number__regex=r"^[0-9]+$").values_list("number", flat=True)
    return str(max((int(number) for number in numbers), default=100) + 1)


def suggested_letter(job: Job) -> str:
    """The next of A … Z, AA … AZ, BA … after the last one in use."""
    used = sorted(job.pieces.values_list("letter", flat=True), key=lambda text: (len(text), text))
    if not used:
        return "A"
    number = 0
    for letter in used[-1]:
        number = number * 26 + ord(letter) - ord("A") + 1
    letters = ""
    number += 1
    while number:
        number, place = divmod(number - 1, 26)
        letters = chr(ord("A") + place) + letters
    return letters


def save_piece(
    *,
    job_id: int,
    values: dict[str, Any],
    piece_id: int | None = None,
    version: int | None = None,
) -> Piece:
    try:
        with transaction.atomic():
            job = _open_job(job_id)
            lock_batches_of(job.pieces.filter(pk__in=[piece_id] if piece_id else []))
            piece = _locked(Piece, piece_id, version) if piece_id else Piece(job=job)
            take_piece(piece, values, job)
            piece.save()
            note_change(f"piece {piece.code} saved")
    except IntegrityError as error:
        raise Refused(
            f"This job has a piece {piece.letter} already. Choose another letter.",
            field="letter",
        ) from error
    return piece


def take_piece(piece: Piece, values: dict[str, Any], job: Job) -> None:
    """By the rules of every piece, not saved yet; job, batch and piece are locked."""
    refuse_ended(job)
    _refuse_thick_coat(piece, values)
    if piece.pk:
        _refuse_reworking(piece, values)
        _leave_other_mix(piece, values)
        _refuse_impossible_section(piece, values)
    letter = values.get("letter", piece.letter)
    _take(piece, values | {"code": f"{job.number}-{letter}"})


def _open_job(job_id: int) -> Job:
    job = Job.objects.select_for_update().filter(pk=job_id).first()
    if job is None:
        raise Refused(GONE)
    refuse_ended(job)
    return job


def refuse_ended(job: Job) -> None:
    if job.closed_at or job.called_off:
        raise Refused(f"Job {job.number} is no longer open. Open it again first.")


def _refuse_reworking(piece: Piece, values: dict[str, Any]) -> None:
    """What marks hold on to stays: the code on the form, the steps of the route, the mix cast."""
    if not piece.marks.exists():
        return
    fixed = {
        "letter": "its code is written on its form",
        "route": "its steps are marked by this route",
        "mix": "it was cast in this mix",
    }
    for field, reason in fixed.items():
        if field in values and values[field] != getattr(piece, field):
            raise Refused(f"{piece.code} has marks already: {reason}.", field=field)


def coat_fault(coat: float | None, thickness: float | None, shop: Shop) -> str:
    """Why a slab cannot have that face coat; empty where it can, or where one is not known."""
    if coat is None or thickness is None or coat <= thickness:
        return ""
    words = (measures.words(value, "length", shop) for value in (coat, thickness))
    return "A face coat of {} is thicker than the whole slab, {}.".format(*words)


def _refuse_thick_coat(piece: Piece, values: dict[str, Any]) -> None:
    coat = values.get("coat_m", piece.coat_m)
    thickness = values.get("thickness_m", piece.thickness_m)
    if coat > thickness:
        raise Refused(coat_fault(coat, thickness, the_shop()), field="coat_m")


OF_SECTION = ("shape", "thickness_m", "coat_m", "mix")


def _refuse_impossible_section(piece: Piece, values: dict[str, Any]) -> None:
    """Another thickness or mix must still go with the section that was entered."""
    shape = values.get("shape", piece.shape)
    asked = any(name in values and values[name] != getattr(piece, name) for name in OF_SECTION)
    if not shape or not asked:
        return
    face = values.get("thickness_m", piece.thickness_m)
    coat = values.get("coat_m", piece.coat_m)
    density = values.get("mix", piece.mix).density
    if fault := fault_of(shape, face=face, coat=coat, density=density, shop=the_shop()):
        raise Refused(
            f"{piece.code} has a section that does not go with this: {fault.message} "
            "Change its section first.",
            field="thickness_m",
        )


def _leave_other_mix(piece: Piece, values: dict[str, Any]) -> None:
    """A batch is one mix: a piece that changes its mix waits for a cast of its own."""
    if piece.batch and "mix" in values and values["mix"].pk != piece.batch.mix_id:
        left = piece.batch
        piece.batch = None
        piece.save(update_fields=["batch"])
        _drop_empty({left.pk})


def _drop_empty(batch_ids: Iterable[int | None]) -> None:
    left = [pk for pk in batch_ids if pk is not None]
    unused = {"pieces": None, "marks": None, "runs": None, "photos": None}
    Batch.objects.filter(pk__in=left, **unused).delete()


def delete_piece(*, piece_id: int) -> str:
    with transaction.atomic():
        lock_batches_of(Piece.objects.filter(pk=piece_id))
        piece = Piece.objects.select_for_update().filter(pk=piece_id).first()
        if piece is None:
            raise Refused(GONE)
        if piece.marks.exists():
            raise Refused(f"{piece.code} has marks, and what was done to it stays on record.")
        code, batch_id = piece.code, piece.batch_id
        piece.delete()
        _drop_empty({batch_id})
        note_change(f"piece {code} deleted")
    return code


def delete_job(*, job_id: int) -> str:
    with transaction.atomic():
        job = _locked(Job, job_id, None)
        if Mark.objects.filter(piece__job=job).exists():
            raise Refused(
                f"Job {job.number} has marks, so it stays on record. Call it off instead."
            )
        if job.notices.exists():
            raise Refused(
                f"The customer of job {job.number} was told a day, so it stays on record. "
                "Call it off instead."
            )
        lock_batches_of(job.pieces.all())
        batches = set(job.pieces.values_list("batch_id", flat=True))
        number = job.number
        job.delete()
        _drop_empty(batches)
        note_change(f"job {number} deleted")
    return number


def delete_customer(*, customer_id: int) -> str:
    with transaction.atomic():
        customer = _locked(Customer, customer_id, None)
        if customer.jobs.exists():
            raise Refused(f"{customer.name} has jobs, so the name stays on record.")
        name = customer.name
        customer.delete()
    return name


def close_job(*, job_id: int, now: dt.datetime | None = None) -> Job:
    """Done with: it leaves the board and the floor, and stays findable."""
    return _switch(job_id, "closed", closed_at=now or timezone.now())


def reopen_job(*, job_id: int) -> Job:
    return _switch(job_id, "opened again", closed_at=None)


def call_off_job(*, job_id: int) -> Job:
    """Its pieces leave the casts that are set; nothing that was marked is lost."""
    with transaction.atomic():
        job = _switch(job_id, "called off", called_off=True)
        lock_batches_of(job.pieces.all())
        pieces = job.pieces.exclude(batch=None).prefetch_related("marks")
        uncast = [piece for piece in pieces if not standing_of(piece.marks.all()).done]
        Piece.objects.filter(pk__in=[piece.pk for piece in uncast]).update(batch=None)
        _drop_empty({piece.batch_id for piece in uncast})
    return job


def restore_job(*, job_id: int) -> Job:
    return _switch(job_id, "taken up again", called_off=False)


def _switch(job_id: int, what: str, **fields: Any) -> Job:
    with transaction.atomic():
        job = _locked(Job, job_id, None)
        _put(job, fields)
        note_change(f"job {job.number} {what}")
    return job


def _locked(model: type[Row], pk: int, version: int | None) -> Row:
    row = model._default_manager.select_for_update().filter(pk=pk).first()
    return as_seen(row, version)


def as_seen(row: Row | None, version: int | None) -> Row:
    """The row, where it is still there and still as it was when it was looked at."""
    if row is None:
        raise Refused(GONE)
    if version is not None and row.version != version:
        raise Conflict(
            "Somebody else saved this while you were typing. Nothing of yours is saved yet: "
            "look at both, then save again.",
            version=row.version,
            theirs={},
        )
    return row


def _put(row: Customer | Job | Piece, values: dict[str, Any]) -> None:
    _take(row, values)
    row.save()


def _take(row: Customer | Job | Piece, values: dict[str, Any]) -> None:
    for name, value in values.items():
        setattr(row, name, value)
    row.version = row.version + 1 if row.pk else 1
