"""What stood before a plan was taken, and bringing it back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.utils import timezone

from jobs.models import Batch, InstallDate, JobPlanned, Piece, PlanAccepted, PlannedStep
from jobs.services.errors import Refused
from jobs.services.plan_also import also_of, take_back
from jobs.services.plan_casts import begun, drop_empty, lock_pieces
from jobs.services.plan_stored import as_json
from shop.models import Mix, Person, Room, Shop
from shop.services.changed import note_change
from shop.services.settings import the_shop

STEP = (
    "piece_id", "step_key", "name", "starts_at", "ends_at", "people", "parts", "place", "pinned",
    "pinned_by_id",
)  # fmt: skip
BATCH = ("id", "mix_id", "room_id", "planned_for", "note", "pinned", "planned_by_id", "version")
DATE = (
    "job_id", "leaves_at", "early", "likely", "late", "chance", "held_by", "held_words",
    "derived_at",
)  # fmt: skip
MOMENTS = {"starts_at", "ends_at", "planned_for", "leaves_at", "early", "likely", "late"}
MOMENTS |= {"derived_at"}


def before_of(
    piece_ids: Collection[int], pieces: dict[int, Piece], job_ids: Collection[int]
) -> dict[str, Any]:
    steps = list(PlannedStep.objects.filter(piece__in=piece_ids).values(*STEP))
    batches = {piece.batch_id for piece in pieces.values() if piece.batch_id}
    # Others that stand in the same casts: taken out of them, they would not find back.
    beside = dict(Piece.objects.filter(batch__in=batches).values_list("pk", "batch_id"))
    own = {pk: piece.batch_id for pk, piece in pieces.items()}
    return {
        "steps": [_plain(row) for row in steps],
        "pieces": {str(pk): batch for pk, batch in {**beside, **own}.items()},
        "batches": [_plain(row) for row in Batch.objects.filter(pk__in=batches).values(*BATCH)],
        "dates": [_plain(row) for row in JobPlanned.objects.filter(job__in=job_ids).values(*DATE)],
        "jobs": sorted(job_ids),
        "planned": sorted(piece_ids),
        "after": {
            "batches": {},
            "installs": {},
            "pieces": {},
            "pins": [[row["piece_id"], row["step_key"]] for row in steps if row["pinned"]],
        },
    }


def _plain(row: dict[str, Any]) -> dict[str, Any]:
    return {name: as_json(value) for name, value in row.items()}


def _read(row: dict[str, Any]) -> dict[str, Any]:
    return {
        name: dt.datetime.fromisoformat(value) if name in MOMENTS and value else value
        for name, value in row.items()
    }


def newest() -> PlanAccepted | None:
    """The one that can be undone: what was taken before it only once it is undone itself."""
    return PlanAccepted.objects.filter(undone_at=None).select_related("by").first()


def keep_with(
    accepted: PlanAccepted, *, also: list[dict[str, Any]], pins: Collection[PlannedStep]
) -> None:
    """What came with this plan beside it: its own pins stand in no one's way when it is undone."""
    after = accepted.before["after"]
    after["pins"] += [[row.piece_id, row.step_key] for row in pins]
    after["pinned"] = list(
        Batch.objects.filter(pieces__in=[row.piece_id for row in pins], pinned=True)
        .values_list("pk", flat=True)
        .distinct()
    )
    accepted.before["also"] = also
    accepted.save(update_fields=["before"])


@dataclass(frozen=True)
class Undone:
    """`back` names what was taken back beside the plan, `left` what was not, and why."""

    accepted: PlanAccepted
    back: list[str]
    left: list[str]


def undo(*, accepted_id: int, by: Person, now: dt.datetime | None = None) -> Undone:
    now = now or timezone.now()
    with transaction.atomic():
        Shop.objects.select_for_update().get(pk=1)
        accepted = PlanAccepted.objects.select_for_update().filter(pk=accepted_id).first()
        if accepted is None or accepted.undone_at:
            raise Refused("This was undone already. Look at the plan as it stands now.")
        latest = newest()
        if latest is None or latest.pk != accepted.pk:
            raise Refused("Something was taken after this. Undo that first.")
        before = accepted.before
        ids = {int(pk) for pk in before["pieces"]} | set(before["planned"])
        pieces = lock_pieces(ids)
        _refuse_changed(before, pieces)
        _bring_back(before, pieces, by)
        also = also_of(before, now.astimezone(the_shop().zone).date())
        take_back(also)
        accepted.undone_at, accepted.undone_by = now, by
        accepted.save(update_fields=["undone_at", "undone_by"])
        note_change("plan undone")
    return Undone(
        accepted,
        back=[each.words for each in also if not each.left],
        left=[f"{each.words} ({each.left})" for each in also if each.left],
    )


def _refuse_changed(before: dict[str, Any], pieces: dict[int, Piece]) -> None:
    after = before["after"]
    set_for = {int(pk): dt.datetime.fromisoformat(at) for pk, at in after["batches"].items()}
    if cast := begun(set_for.keys()):
        raise Refused(
            f"{cast[0].code} was cast as planned meanwhile, so the plan before it cannot come "
            "back. Plan again instead."
        )
    known = {(piece, key) for piece, key in after["pins"]}
    pins = PlannedStep.objects.filter(piece__in=before["planned"], pinned=True).select_related(
        "piece"
    )
    for row in pins:
        if (row.piece_id, row.step_key) not in known:
            raise Refused(
                f"{row.piece.code} {row.name} was pinned since. Take the pin out first, then undo."
            )
    found = {batch.pk: batch for batch in Batch.objects.filter(pk__in=set_for)}
    for pk, at in set_for.items():
        by_hand = pk in found and found[pk].pinned and pk not in after.get("pinned", [])
        if pk not in found or found[pk].planned_for != at or by_hand:
            codes = ", ".join(sorted(p.code for p in pieces.values() if p.batch_id == pk))
            raise Refused(
                f"A cast that the plan set{f' ({codes})' if codes else ''} was changed since by "
                "hand. Undoing would throw that away: move it by hand, or plan again."
            )
    for key, batch_id in after["pieces"].items():
        piece = pieces.get(int(key))
        if piece is not None and piece.batch_id != batch_id:
            raise Refused(
                f"{piece.code} was put into another cast since. Undoing would throw that away."
            )
    installs = {int(pk): version for pk, version in after["installs"].items()}
    now = dict(InstallDate.objects.filter(pk__in=installs).values_list("pk", "version"))
    if any(pk in now and now[pk] != version for pk, version in installs.items()):
        raise Refused("An install day that came with the plan was moved since. Plan again instead.")


def _bring_back(before: dict[str, Any], pieces: dict[int, Piece], by: Person) -> None:
    PlannedStep.objects.filter(piece__in=before["planned"]).delete()
    PlannedStep.objects.bulk_create(
        PlannedStep(**_read(row)) for row in before["steps"] if row["piece_id"] in pieces
    )
    InstallDate.objects.filter(pk__in=before["after"]["installs"]).delete()
    there = {batch.pk: batch for batch in Batch.objects.filter(pk__in=_ids(before["batches"]))}
    mixes = set(Mix.objects.values_list("pk", flat=True))
    rooms = set(Room.objects.values_list("pk", flat=True))
    for row in map(_read, before["batches"]):
        if row["mix_id"] not in mixes or row["room_id"] not in rooms:
            raise Refused("The mix or the room of a cast that stood before is gone. Plan again.")
        now = there.get(row["id"])
        version = (now.version if now else row["version"]) + 1
        if now is None or any(getattr(now, name) != row[name] for name in BATCH[1:-1]):
            Batch(**{**row, "version": version}).save()
    standing = set(
        Batch.objects.filter(pk__in=_ids(before["batches"])).values_list("pk", flat=True)
    )
    for key, batch_id in before["pieces"].items():
        if int(key) in pieces and (batch_id is None or batch_id in standing):
            Piece.objects.filter(pk=int(key)).update(batch=batch_id)
    drop_empty([int(pk) for pk in before["after"]["batches"] if int(pk) not in standing])
    JobPlanned.objects.filter(job__in=before["jobs"]).delete()
    JobPlanned.objects.bulk_create(JobPlanned(**_read(row)) for row in before["dates"])


def _ids(rows: list[dict[str, Any]]) -> list[int]:
    return [row["id"] for row in rows]
