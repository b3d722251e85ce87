"""Taking what would make a short promise hold: the change, and the plan that goes with it."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db import transaction
from django.utils import timezone

from jobs.models import Job, Piece, PlannedStep, PlanRun
from jobs.services import plan_also, plan_before, plan_pins, plan_taking
from jobs.services.errors import Refused
from jobs.services.orders import save_piece
from jobs.services.plan_read import read_shop
from jobs.services.rescues import Act, Try, close, try_of
from shop.access import may
from shop.models import Person, Room, Sealer, Shop, StepKind
from shop.services.calendar import add_extra
from shop.services.changed import note_change
from shop.services.night_heat import keep_warm
from shop.services.setup import planned_air

Kept = dict[str, Any]  # as `plan_also` keeps it

# What the shop itself can do at once; the rest leads to where somebody else must be asked.
TAKEN_HERE = frozenset({"first", "before", "saturday", "warm", "sealer"})


def may_take(person: Person, kind: str) -> bool:
    return kind in TAKEN_HERE and may(person, "plan.make")


def take(*, job_id: int, run_id: int, key: str, by: Person, now: dt.datetime | None = None) -> str:
    """All of it or nothing; returns what was done, in words."""
    now = now or timezone.now()
    with transaction.atomic():
        Shop.objects.select_for_update().get(pk=1)
        job = Job.objects.select_for_update().get(pk=job_id)
        run = PlanRun.objects.select_for_update().filter(pk=run_id, about=job).first()
        if run is None or not run.found:
            raise Refused("This is not among what was found any more. Look again.")
        chosen = try_of(run, key)
        if not may_take(by, chosen.kind):
            raise Refused("Only the owner changes the plan: ask for this one to be taken.")
        done, also = carry_out(job, chosen)
        accept(run, job, chosen, also, by=by, now=now)
        close(run.pk)
        note_change(f"rescue of {job.number} taken")
    return f"{chosen.words} {done} The promise of {job.number} holds by the plan.".replace(
        "  ", " "
    )


def accept(
    run: PlanRun, job: Job, chosen: Try, also: list[Kept], *, by: Person, now: dt.datetime
) -> None:
    """The plan that was found, checked against the shop as it is with the change in it; what was
    changed beside it is kept with it, so that undoing takes that back too."""
    assert chosen.raw is not None
    read = read_shop(chosen.raw.starts_at)
    numbers = {number for number, _ in chosen.raw.finish} & set(read.filled.jobs)
    accepted = plan_taking.write(
        read,
        chosen.raw,
        numbers,
        by=by,
        now=now,
        run=run,
        whole=True,
        words=f"For {job.number}: {chosen.words}",
    )
    pins = pin_cast(chosen.act.pin, by) if chosen.act.pin else []
    plan_before.keep_with(accepted, also=also, pins=pins)


def pin_cast(code: str, by: Person) -> list[PlannedStep]:
    """The cast that was to come first, with all that are cast with it; else the next step."""
    rows = PlannedStep.objects.filter(piece__code=code).order_by("starts_at")
    piece = Piece.objects.select_related("route").get(code=code)
    keys = [row.step_key for row in rows]
    cast = next((key for key in keys if plan_pins.kind_of(piece, key) == StepKind.CAST), None)
    key = cast or (keys[0] if keys else "")
    row = next((row for row in rows if row.step_key == key), None)
    if row is None:
        return []
    return plan_pins.pin(code=code, step_key=key, seen=row.starts_at, pinned=True, by=by)


def carry_out(job: Job, chosen: Try) -> tuple[str, list[Kept]]:
    """In words, and what undoing has to take back."""
    act = chosen.act
    if act.hours:
        return open_hours(job, act)
    if act.room_id is not None and act.celsius is not None:
        return heat(act)
    if act.sealer_id is not None:
        return other_sealer(job, act.sealer_id)
    return ("Its cast is pinned." if act.pin else ""), []


def open_hours(job: Job, act: Act) -> tuple[str, list[Kept]]:
    rows = [
        add_extra(
            day=dt.date.fromisoformat(day),
            starts=dt.time.fromisoformat(starts),
            ends=dt.time.fromisoformat(ends),
            reason=f"for {job.number}",
        )
        for day, starts, ends in act.hours
    ]
    return "The hours are entered among the shop's extra hours.", plan_also.of_hours(rows)


def heat(act: Act) -> tuple[str, list[Kept]]:
    assert act.room_id is not None
    assert act.celsius is not None
    room = Room.objects.get(pk=act.room_id)
    nights = [dt.date.fromisoformat(night) for night in act.nights]
    was = planned_air(room)
    keep_warm(room_id=room.pk, celsius=act.celsius, weekdays={night.weekday() for night in nights})
    words = (
        f"The planned air of the {room.name.lower()} is raised on those nights of each week: set "
        "the heating, and set the air back afterwards."
    )
    return words, [plan_also.of_air(room, was)]


def other_sealer(job: Job, sealer_id: int) -> tuple[str, list[Kept]]:
    sealer = Sealer.objects.filter(pk=sealer_id, in_use=True).first()
    if sealer is None:
        raise Refused("This sealer is no longer in use. Look again.")
    changed: list[str] = []
    was: dict[int, int] = {}
    for piece in job.pieces.select_related("route").prefetch_related("marks", "route__steps"):
        if plan_also.coated(piece) or piece.sealer_id == sealer.pk:
            continue
        was[piece.pk] = piece.sealer_id
        save_piece(
            job_id=job.pk, piece_id=piece.pk, version=piece.version, values={"sealer": sealer}
        )
        changed.append(piece.code)
    if not changed:
        raise Refused("All its pieces have a coat on already. Look again.")
    words = f"{', '.join(changed)} {'is' if len(changed) == 1 else 'are'} to be sealed with it."
    return words, [plan_also.of_sealer(sealer, was)]
