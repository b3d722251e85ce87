"""What a cast or an install would do to the promises, before anybody saves it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass

from django.utils import timezone

from jobs.models import Batch, InstallDate, Job, JobPlanned, PromiseState
from jobs.services.chances import in_words
from jobs.services.derive import derive_job
from jobs.services.errors import Refused
from jobs.services.facts import Facts, load_facts
from jobs.services.outlook import JobOutlook
from jobs.services.reasons import clock, ready_words
from jobs.services.standing import standing_of
from shop.measures import hours_words
from shop.models import Room


@dataclass(frozen=True)
class Effect:
    number: str
    title: str
    before_state: str
    before_hours: float | None
    state: str
    hours: float | None
    ready: str
    chance_before: float | None
    chance: float | None
    latest_cast: dt.datetime | None
    governs: str
    reason: str
    sentence: str


def cast_effect(
    *,
    piece_ids: Collection[int],
    room_id: int,
    planned_for: dt.datetime,
    now: dt.datetime | None = None,
) -> list[Effect]:
    now = now or timezone.now()
    facts, planned = _concrete(load_facts(now, _numbers_of(piece_ids)))
    before = {job.pk: derive_job(facts, job) for job in facts.jobs}
    room = Room.objects.get(pk=room_id)
    for job in facts.jobs:
        for piece in job.pieces.all():
            if piece.pk in piece_ids and not standing_of(piece.marks.all()).done:
                piece.batch = Batch(mix=piece.mix, room=room, planned_for=planned_for)
                piece.room = room
    return [
        _effect(facts, before[job.pk], derive_job(facts, job), "cast", planned.get(job.pk))
        for job in facts.jobs
    ]


def install_effect(
    *, job_id: int, starts_at: dt.datetime, now: dt.datetime | None = None
) -> Effect:
    numbers = Job.objects.filter(pk=job_id).values_list("number", flat=True)
    facts, planned = _concrete(load_facts(now, numbers))
    if not facts.jobs:
        raise Refused("This job was removed meanwhile.")
    job = facts.jobs[0]
    before = derive_job(facts, job)
    job.install = InstallDate(job=job, starts_at=starts_at)
    return _effect(facts, before, derive_job(facts, job), "install", planned.get(job.pk))


def _concrete(facts: Facts) -> tuple[Facts, dict[int, JobPlanned]]:
    """Without the plan, which follows only once this is saved, and the plan beside it."""
    return facts.concrete_alone(), facts.planned


def _numbers_of(piece_ids: Collection[int]) -> list[str]:
    return list(
        Job.objects.filter(pieces__in=piece_ids).values_list("number", flat=True).distinct()
    )


def _effect(
    facts: Facts, before: JobOutlook, after: JobOutlook, what: str, planned: JobPlanned | None
) -> Effect:
    sentence = (
        _install_sentence(facts, after)
        if what == "install"
        else _cast_sentence(facts, before, after)
    )
    if planned is not None and after.state != PromiseState.KEPT:
        sentence += (
            " That is by the concrete alone: the plan, by which it leaves "
            f"{clock(planned.leaves_at, facts)}, follows once this is saved."
        )
    return Effect(
        number=after.number,
        title=after.title,
        before_state=before.state,
        before_hours=before.spare_hours,
        state=after.state,
        hours=after.spare_hours,
        ready=ready_words(after, facts),
        chance_before=before.chance,
        chance=after.chance,
        latest_cast=before.latest_cast,
        governs=after.governs,
        reason=after.reason,
        sentence=sentence,
    )


def _cast_sentence(facts: Facts, before: JobOutlook, after: JobOutlook) -> str:
    latest = f"; latest cast {clock(before.latest_cast, facts)}" if before.latest_cast else ""
    if after.promised_at is None:
        return f"{after.number} has no promise; ready {ready_words(after, facts)}."
    day = after.promised_at.astimezone(facts.shop.zone)
    named = f"{after.number}, promised {day:%a} {day.day} {day:%b},"
    hours = hours_words(after.spare_hours or 0.0)
    how = "" if after.chance is None else f", {in_words(after.chance)} to keep it"
    if after.state == PromiseState.SHORT:
        return f"This cast makes {named} short by {hours}{how}{latest}."
    if after.state == PromiseState.TIGHT:
        return f"This cast keeps {named} but tight: {hours} to spare{how}{latest}."
    return f"This cast keeps {named} with {hours} to spare{how}{latest}."


def _install_sentence(facts: Facts, after: JobOutlook) -> str:
    if not after.pieces:
        return f"{after.number} has no pieces yet: nothing says when it is ready."
    ready = ready_words(after, facts)
    if after.ready_at is None:
        return f"{after.number} is ready {ready}: nobody can say that this install is in time."
    if after.install_doubtful:
        return (
            f"{after.number} is ready {ready}: likely in time for this install, but not by the "
            "late time."
        )
    if after.install_too_early:
        ready = clock(after.ready_at, facts)
        return f"{after.number} is not ready before {ready}: this install would stand without it."
    if after.promised_at and after.install_at and after.install_at > after.promised_at:
        return (
            f"{after.number} is ready {ready}, but the install lies after the promised "
            f"{clock(after.promised_at, facts)}: the customer must be told."
        )
    return f"{after.number} is ready {ready}, in time for this install."
