"""Setting casts and installs. Every change is checked against what another user saved meanwhile."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Sequence

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from jobs.models import Batch, InstallDate, Job, Mark, Piece
from jobs.services.effects import Effect, cast_effect, install_effect
from jobs.services.errors import Conflict, Refused
from jobs.services.facts import promise_moment
from jobs.services.locking import lock_batches
from jobs.services.standing import standing_of
from shop.models import Person, Room
from shop.services.changed import note_change
from shop.services.settings import the_shop

__all__ = [
    "Effect",
    "call_off_cast",
    "call_off_install",
    "cast_effect",
    "install_effect",
    "plan_cast",
    "refuse_bad_cast",
    "refuse_bad_install",
    "set_install",
    "several_mixes",
    "waiting_pieces",
]

# As long as somebody takes from choosing the present moment to saving it.
JUST_NOW = dt.timedelta(minutes=5)


def waiting_pieces() -> list[Piece]:
    """Pieces of open jobs that are not cast, in the order of their promises."""
    pieces = (
        Piece.objects.filter(job__closed_at__isnull=True, job__called_off=False)
        .select_related("job", "mix", "room", "batch")
        .prefetch_related("marks")
        .order_by("job__promised_on", "code")
    )
    return [piece for piece in pieces if not standing_of(piece.marks.all()).done]


def plan_cast(
    *,
    piece_ids: Collection[int],
    room_id: int,
    planned_for: dt.datetime,
    by: Person,
    note: str = "",
    batch_id: int | None = None,
    version: int | None = None,
    now: dt.datetime | None = None,
) -> Batch:
    now = now or timezone.now()
    with transaction.atomic():
        chosen = Piece.objects.filter(pk__in=piece_ids)
        lock_batches([batch_id, *chosen.values_list("batch_id", flat=True)])
        batch = _batch_to_change(batch_id, version)
        pieces = _castable(piece_ids)
        room = _room(room_id)
        refuse_bad_cast(pieces, planned_for, now)
        if batch is None:
            batch = Batch(mix=pieces[0].mix)
        batch.mix, batch.room, batch.planned_for = pieces[0].mix, room, planned_for
        batch.note, batch.planned_by, batch.pinned = note.strip(), by, True
        batch.version = batch.version + 1 if batch.pk else 1
        batch.save()
        _gather(batch, pieces, room)
        note_change(f"cast set for {', '.join(piece.code for piece in pieces)}")
    return batch


def _batch_to_change(batch_id: int | None, version: int | None) -> Batch | None:
    if batch_id is None:
        return None
    # Nothing joined: what another saved while this waited would be missing from it.
    batch = Batch.objects.select_for_update().filter(pk=batch_id).first()
    if batch is None:
        raise Refused("This cast was called off by somebody else meanwhile. Set it as a new one.")
    if version is not None and batch.version != version:
        raise _batch_conflict(batch)
    if Mark.objects.filter(piece__batch=batch, kind=Mark.Kind.DONE, struck_by=None).exists():
        raise Refused("Pieces of this cast are marked as cast already, so it can't be moved.")
    return batch


def _batch_conflict(batch: Batch) -> Conflict:
    who = batch.planned_by.name if batch.planned_by else "Somebody"
    local = batch.planned_for.astimezone(the_shop().zone)
    codes = ", ".join(batch.pieces.order_by("code").values_list("code", flat=True))
    when = f"{local:%a} {local.day} {local:%b} {local:%H:%M}"
    return Conflict(
        f"{who} changed this cast while you had it open. It now stands at {when} in "
        f"{batch.room.name} with {codes}. Save again to put yours in its place.",
        version=batch.version,
        theirs={"planned_for": when, "room": batch.room.name, "pieces": codes},
    )


def _castable(piece_ids: Collection[int]) -> list[Piece]:
    chosen = Piece.objects.filter(pk__in=piece_ids)
    # Locked first and read afterwards: jobs and mixes, too, as they are after the wait.
    list(chosen.select_for_update().order_by("pk").values_list("pk", flat=True))
    pieces = list(
        chosen.select_related("job", "mix", "batch").prefetch_related("marks").order_by("code")
    )
    if not pieces:
        raise Refused("Choose at least one piece to cast.", field="pieces")
    for piece in pieces:
        if standing_of(piece.marks.all()).done:
            raise Refused(f"{piece.code} is marked as cast already.", field="pieces")
        if piece.job.called_off or piece.job.closed_at:
            raise Refused(f"Job {piece.job.number} is no longer open.", field="pieces")
    mixes = {piece.mix.name for piece in pieces}
    if len(mixes) > 1:
        raise Refused(several_mixes(mixes), field="pieces")
    return pieces


def several_mixes(names: Collection[str]) -> str:
    """Why pieces of these mixes cannot be one cast."""
    return _(
        "A cast is of one mix, however many runs of the mixer it takes, and these pieces ask for "
        "%(mixes)s. Set a cast for each."
    ) % {"mixes": ", ".join(sorted(names))}


def _room(room_id: int) -> Room:
    room = Room.objects.filter(pk=room_id, in_use=True).first()
    if room is None:
        raise Refused("This room is no longer in use. Choose another.", field="room")
    return room


def refuse_bad_cast(
    pieces: Sequence[Piece], planned_for: dt.datetime, now: dt.datetime | None = None
) -> None:
    """What saving refuses of a time for these pieces, to be asked before anybody saves, too."""
    now = now or timezone.now()
    if planned_for < now - JUST_NOW:
        raise Refused(
            "This casting time has passed. If the pieces are cast, mark them on the floor; "
            "else choose a time to come.",
            field="planned_for",
        )
    shop = the_shop()
    for piece in pieces:
        promised_at = promise_moment(piece.job, shop)
        if promised_at and now < promised_at <= planned_for:
            local = promised_at.astimezone(shop.zone)
            raise Refused(
                f"{piece.code} would be cast after it is promised "
                f"({local:%a} {local.day} {local:%b} {local:%H:%M}). Cast it before, or have the "
                "office agree another date first.",
                field="planned_for",
            )


def _gather(batch: Batch, pieces: Sequence[Piece], room: Room) -> None:
    """Put these pieces into the batch, take others out, and drop batches left without any."""
    left = {piece.batch_id for piece in pieces if piece.batch_id} - {batch.pk}
    batch.pieces.exclude(pk__in=[piece.pk for piece in pieces]).update(batch=None)
    Piece.objects.filter(pk__in=[piece.pk for piece in pieces]).update(batch=batch, room=room)
    _drop_empty(left)


def _drop_empty(batch_ids: Collection[int]) -> None:
    unused = {"pieces": None, "marks": None, "runs": None, "photos": None}
    Batch.objects.filter(pk__in=batch_ids, **unused).delete()


def call_off_cast(*, batch_id: int, version: int | None, by: Person) -> list[Piece]:
    """The pieces go back to waiting; returns them, so that the owner can set the cast again."""
    with transaction.atomic():
        batch = _batch_to_change(batch_id, version)
        if batch is None:
            raise Refused("There is no such cast.")
        if batch.runs.filter(struck_at=None).exists():
            raise Refused(
                "A run of the mixer is opened for this cast. Strike it with a reason, on the page "
                "of the cast's runs, then call the cast off."
            )
        pieces = list(batch.pieces.order_by("code"))
        batch.pieces.update(batch=None)
        # Struck casts and runs, and photos, keep pointing at it.
        if batch.marks.exists() or batch.runs.exists() or batch.photos.exists():
            batch.version += 1
            batch.save(update_fields=["version"])
        else:
            batch.delete()
        note_change(f"cast called off by {by.name}")
    return pieces


def set_install(
    *,
    job_id: int,
    starts_at: dt.datetime,
    hours: float,
    people: int,
    by: Person,
    note: str = "",
    version: int | None = None,
    now: dt.datetime | None = None,
) -> InstallDate:
    """`version` is that of the install date the person saw; None if they saw none."""
    refuse_bad_install(starts_at, now)
    with transaction.atomic():
        job = Job.objects.select_for_update().filter(pk=job_id).first()
        if job is None:
            raise Refused("This job was removed meanwhile.")
        install = InstallDate.objects.select_related("set_by").filter(job=job).first()
        _refuse_moved_install(install, version)
        install = install or InstallDate(job=job, version=0)
        install.starts_at, install.hours, install.people = starts_at, hours, people
        install.note, install.set_by = note.strip(), by
        install.version += 1
        install.save()
        note_change(f"install of {job.number}")
    return install


def refuse_bad_install(starts_at: dt.datetime, now: dt.datetime | None = None) -> None:
    if starts_at < (now or timezone.now()) - JUST_NOW:
        raise Refused("This time has passed. Choose one to come.", field="starts_at")


def _refuse_moved_install(install: InstallDate | None, version: int | None) -> None:
    if install is None and version:
        raise Conflict(
            "Somebody called this install off while you had it open. "
            "Save again to set it with your values.",
            version=0,
            theirs={},
        )
    if install and install.version != version:
        who = install.set_by.name if install.set_by else "Somebody"
        local = install.starts_at.astimezone(the_shop().zone)
        when = f"{local:%a} {local.day} {local:%b} {local:%H:%M}"
        raise Conflict(
            f"{who} set this install to {when} while you had it open. "
            "Save again to put yours in its place.",
            version=install.version,
            theirs={"starts_at": when, "people": str(install.people)},
        )


def call_off_install(*, job_id: int, version: int | None, by: Person) -> None:
    with transaction.atomic():
        job = Job.objects.select_for_update().filter(pk=job_id).first()
        install = InstallDate.objects.select_related("set_by").filter(job=job).first()
        if install is None:
            raise Refused("This install was called off already.")
        _refuse_moved_install(install, version)
        install.delete()
        note_change(f"install called off by {by.name}")
