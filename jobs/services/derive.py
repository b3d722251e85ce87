"""From facts to outlooks, by the engine. Pure: nothing is read or written here."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from curing import timeline
from curing.climate import Climate
from jobs.models import Job, Mark, Piece, PromiseState
from jobs.services.facts import Facts
from jobs.services.film import film_dates, late_dates
from jobs.services.how_sure import (
    ReadyRange,
    Sureness,
    all_ready,
    day_chances,
    likely_step,
    sureness,
)
from jobs.services.latest_cast import latest_cast_of
from jobs.services.lifting import ways_of
from jobs.services.outlook import (
    PLAN,
    TRUSTED,
    DayChance,
    JobOutlook,
    PieceOutlook,
    StepOutlook,
    Tone,
    WaitOutlook,
)
from jobs.services.reasons import doubt_words, plan_reason, reason_of
from jobs.services.route_steps import (
    PieceStep,
    engine_sealer,
    leaving_key,
    piece_steps,
)
from jobs.services.shape import carried_kg
from jobs.services.standing import Standing, standing_of
from jobs.services.verdict import verdict_of
from shop.localtime import from_hours, settle, to_hours
from shop.models import JudgedOn, StepKind
from shop.services.materials import curve_of

# The drawing goes pale with the concrete: half by how far it has cured, half by how dry it is.
PALE_AT_EQUIVALENT_HOURS = 72.0
PALE_AT_DRYING_HOURS = 48.0
TONES = 48
INSTALL_DATE = "install date"


def derive_jobs(facts: Facts) -> list[JobOutlook]:
    return [derive_job(facts, job) for job in facts.jobs]


def derive_job(facts: Facts, job: Job) -> JobOutlook:
    found = [_derived(facts, job, piece) for piece in job.pieces.all()]
    pieces = tuple(piece for piece, _ in found)
    promised_at = facts.promise_moment(job)
    slowest = max(pieces, key=_readiness_order, default=None)
    ready = _job_range(found, slowest, promised_at)
    ready_at = ready.likely
    own_at = ready.late if facts.shop.judged_on == JudgedOn.LATE else ready_at
    planned = facts.planned.get(job.pk)
    verdict = verdict_of(facts, pieces, promised_at, ready, planned)
    if verdict.state == PromiseState.KEPT:
        planned = None
    install = getattr(job, "install", None)
    waiting = slowest.governing_step if slowest else None
    return JobOutlook(
        job_id=job.pk,
        number=job.number,
        title=job.title,
        state=verdict.state,
        spare_hours=verdict.spare_hours,
        promised_at=promised_at,
        promised_on=job.promised_on,
        ready_at=ready_at,
        holding_on=holding_day(facts, job, verdict.at),
        slowest=slowest.code if slowest else "",
        governs=waiting.governs if waiting else "",
        reason=plan_reason(facts, pieces, planned, promised_at)
        if planned and verdict.decided_by == PLAN
        else reason_of(facts, slowest, pieces, _doubt(facts, verdict.state, ready, promised_at)),
        latest_cast=min((p.latest_cast for p in pieces if p.latest_cast), default=None),
        pieces=pieces,
        install_at=install.starts_at if install else None,
        install_too_early=bool(
            install
            and verdict.state != PromiseState.KEPT
            and slowest
            and (own_at is None or install.starts_at < own_at)
        ),
        told_on=facts.told.get(job.pk),
        derived_at=facts.now,
        ready_early=ready.early,
        ready_late=ready.late,
        chance=verdict.chance,
        judged_on=facts.shop.judged_on,
        days=_days(facts, job, found),
        planned_at=planned.leaves_at if planned else None,
        planned_late=planned.late if planned else None,
        planned_chance=planned.chance if planned else None,
        planned_held=planned.held_words if planned else "",
        decided_by=verdict.decided_by,
    )


def _doubt(facts: Facts, state: str, ready: ReadyRange, promised_at: dt.datetime | None) -> str:
    in_time = ready.likely and promised_at and ready.likely <= promised_at
    if state != PromiseState.SHORT or not in_time or ready.likely is None:
        return ""
    return doubt_words(facts, ready.likely, ready.late, ready.chance)


def _days(
    facts: Facts, job: Job, found: Sequence[tuple[PieceOutlook, Sureness | None]]
) -> tuple[DayChance, ...]:
    draws = [sure.ready for _, sure in found if sure is not None]
    if len(draws) < len(found) or not draws:
        return ()
    by = job.promised_by or facts.shop.leave_by
    zone = facts.shop.zone
    return day_chances(
        all_ready(draws), lambda day: settle(dt.datetime.combine(day, by), zone), zone
    )


def _job_range(
    found: Sequence[tuple[PieceOutlook, Sureness | None]],
    slowest: PieceOutlook | None,
    promised_at: dt.datetime | None,
) -> ReadyRange:
    """Of all pieces together."""
    draws = [sure.ready for _, sure in found if sure is not None]
    if len(draws) < len(found) or not draws:
        at = slowest.ready_at if slowest else None
        return ReadyRange(at, at, at, None)
    return ReadyRange.of(all_ready(draws), promised_at)


def _readiness_order(piece: PieceOutlook) -> float:
    return math.inf if piece.ready_at is None else piece.ready_at.timestamp()


def holding_day(facts: Facts, job: Job, ready_at: dt.datetime | None) -> dt.date | None:
    """The day that can be told: the promised one while it holds, else the first that does."""
    if ready_at is None:
        return None
    promised_at = facts.promise_moment(job)
    if promised_at and ready_at <= promised_at:
        return job.promised_on
    local = ready_at.astimezone(facts.shop.zone)
    day = local.date()
    if local.time() > (job.promised_by or facts.shop.leave_by):
        day = _next_working_day(facts, day)
    return max(day, job.promised_on) if job.promised_on else day


def _next_working_day(facts: Facts, after: dt.date) -> dt.date:
    midnight = dt.datetime.combine(after + dt.timedelta(days=1), dt.time(), facts.shop.zone)
    start, _ = facts.shifts.first_fit(to_hours(midnight), 0.0)
    if not math.isfinite(start):
        return after + dt.timedelta(days=1)
    return from_hours(start).astimezone(facts.shop.zone).date()


def derive_piece(facts: Facts, job: Job, piece: Piece) -> PieceOutlook:
    """Without its range, which takes longer: for what only asks when a step may be done."""
    return _derived(facts, job, piece, with_range=False)[0]


def _derived(
    facts: Facts, job: Job, piece: Piece, *, with_range: bool = True
) -> tuple[PieceOutlook, Sureness | None]:
    standing = standing_of(piece.marks.all())
    steps = piece_steps(piece, facts.shop, facts.gate_of(piece))
    climate = facts.climate_of(piece.room_id)
    now = to_hours(facts.now)
    done = {key: to_hours(at) for key, at in standing.finished_at().items()}
    cast_key = steps[0].engine.key if steps else "cast"
    cast_mark = standing.done.get(cast_key)
    cast = to_hours(cast_mark.happened_at) if cast_mark else planned_cast(facts, piece)
    arguments = engine_arguments(facts, piece, steps)
    milestones = (
        timeline.derive(cast=cast, done=done, now=now, **arguments)
        if steps and math.isfinite(cast)
        else ()
    )
    reckoned = ready_hours(milestones, steps)
    sure, ready_range = None, ReadyRange(None, _moment(reckoned), None, None)
    if with_range and milestones:
        timed = {**arguments, "cast": cast, "done": done, "now": now}
        sure = sureness(facts, piece, timed, ready_key=leaving_key(steps))
        ready_range = ReadyRange.of(sure.ready, facts.promise_moment(job))
    ready = to_hours(ready_range.likely) if ready_range.likely else math.inf
    age = (
        float(climate.equivalent_age(cast, now, piece.mix.activation_energy)) if cast_mark else None
    )
    curve = arguments["curve"]
    latest = None
    if with_range and not cast_mark and steps:
        latest = latest_cast_of(facts, job, piece, arguments, steps)
    film = film_dates(milestones, sure.of if sure else None, steps, piece, climate)
    late_film = late_dates(film, sure.of if sure else None, steps, piece, climate)
    outlook = PieceOutlook(
        piece_id=piece.pk,
        code=piece.code,
        name=piece.name,
        job_number=job.number,
        room_id=piece.room_id,
        room=piece.room.name,
        mix=piece.mix.name,
        sealer=piece.sealer.name,
        area_m2=piece.area_m2,
        weight_kg=round(carried_kg(piece), 2),
        weight=job.weight,
        batch_id=piece.batch_id,
        cast_at=cast_mark.happened_at if cast_mark else None,
        cast_planned=piece.batch.planned_for if piece.batch and not cast_mark else None,
        cast_assumed=None if cast_mark else _moment(cast),
        steps=tuple(
            _ranged(_step(milestone, step, standing, _agreed(job, step)), sure)
            for milestone, step in zip(milestones, steps, strict=True)
        )
        if milestones
        else (),
        ready_at=ready_range.likely,
        latest_cast=latest,
        on_hold=standing.hold.reason if standing.hold else "",
        equivalent_age=None if age is None else round(age, 3),
        strength_mpa=None if age is None else round(float(curve.at(age)), 3),
        placeholder=piece.mix.placeholder,
        measured_until=_moment(climate.last_measured) if climate.last_measured else None,
        air_stale=climate.stale,
        air_gap_hours=round(_gap_hours(climate, cast, now), 2) if cast_mark else 0.0,
        measured_share=_measured_share(climate, cast, ready),
        tones=_tones(
            climate,
            cast=cast,
            ready=ready,
            milestones=milestones,
            steps=steps,
            activation_energy=piece.mix.activation_energy,
        ),
        handle_at=film[0],
        light_use_at=film[1],
        full_use_at=film[2],
        ways=ways_of(piece, facts.shop, climate, cast),
        ready_early=ready_range.early,
        ready_late=ready_range.late,
        chance=ready_range.chance,
        handle_late=late_film[0],
        light_use_late=late_film[1],
        full_use_late=late_film[2],
    )
    return outlook, sure


def _ranged(step: StepOutlook, sure: Sureness | None) -> StepOutlook:
    if sure is None or step.done:
        return step
    ranged = likely_step(step, sure)
    agreed = step.workable
    if step.held_by != INSTALL_DATE or agreed is None:
        return ranged
    # The site expects it then, and not before.
    early, likely, late = (
        at and max(at, agreed) for at in (ranged.early, ranged.likely, ranged.late)
    )
    finish = likely and likely + dt.timedelta(hours=step.labour_hours)
    held_by = step.held_by if likely == agreed else ranged.held_by
    return replace(
        ranged,
        workable=likely, finish=finish, held_by=held_by, early=early, likely=likely, late=late,
    )  # fmt: skip


def engine_arguments(facts: Facts, piece: Piece, steps: Sequence[PieceStep]) -> dict[str, Any]:
    return {
        "steps": tuple(step.engine for step in steps),
        "climate": facts.climate_of(piece.room_id),
        "curve": curve_of(piece.mix),
        "shifts": facts.shifts,
        "activation_energy": piece.mix.activation_energy,
        "sealer": engine_sealer(piece.sealer),
        "coating_climate": facts.coating_climate,
    }


def planned_cast(facts: Facts, piece: Piece) -> float:
    """When an uncast piece is taken to be cast: as planned, but not in the past; else at the
    first moment somebody is there to do it."""
    now = to_hours(facts.now)
    if piece.batch and to_hours(piece.batch.planned_for) >= now:
        return to_hours(piece.batch.planned_for)
    return facts.shifts.first_fit(now, 0.0)[0]


def ready_hours(milestones: Sequence[timeline.Milestone], steps: Sequence[PieceStep]) -> float:
    """May leave the shop: the first moment the delivery can start, or did."""
    for milestone, step in zip(milestones, steps, strict=False):
        if step.kind == StepKind.DELIVER:
            return milestone.workable
    return milestones[-1].finish if milestones else math.inf


def _moment(hours: float | None) -> dt.datetime | None:
    return from_hours(hours) if hours is not None and math.isfinite(hours) else None


def _agreed(job: Job, step: PieceStep) -> dt.datetime | None:
    """An install waits for the day the site expects it, ready or not."""
    install = getattr(job, "install", None)
    return install.starts_at if install and step.kind == StepKind.INSTALL else None


def _step(
    milestone: timeline.Milestone,
    step: PieceStep,
    standing: Standing,
    agreed: dt.datetime | None,
) -> StepOutlook:
    mark: Mark | None = standing.done.get(milestone.key)
    workable, finish = _moment(milestone.workable), _moment(milestone.finish)
    held_by = milestone.held_by
    if agreed and not mark and workable and workable < agreed:
        workable, finish = agreed, agreed + dt.timedelta(hours=step.engine.labour_hours)
        held_by = INSTALL_DATE
    return StepOutlook(
        key=milestone.key,
        name=milestone.name,
        kind=step.kind,
        earliest=_moment(milestone.earliest),
        workable=workable,
        finish=finish,
        governs=milestone.governs,
        held_by=held_by,
        waits=tuple(
            WaitOutlook(wait.criterion, until, wait.needed, wait.unit, _demolds(wait, step))
            for wait in milestone.waits
            if (until := _moment(wait.until)) is not None
        ),
        note=milestone.note,
        people=step.people,
        labour_hours=round(step.engine.labour_hours, 3),
        wets=step.engine.wets,
        done_at=mark.happened_at if mark else None,
        done_by=mark.by.name if mark else "",
        mark_id=mark.pk if mark else None,
        marked_early=bool(mark and mark.early_before),
        outcome=mark.outcome if mark else "",
    )


def _demolds(wait: timeline.Wait, step: PieceStep) -> int:
    return step.demolds if wait.criterion == TRUSTED else 0


def _gap_hours(climate: Climate, cast: float, now: float) -> float:
    return sum(max(0.0, min(end, now) - max(start, cast)) for start, end in climate.gaps)


def _measured_share(climate: Climate, cast: float, ready: float) -> float:
    if not (math.isfinite(cast) and math.isfinite(ready) and ready > cast):
        return 0.0
    return round(float(climate.measured_share(cast, ready)), 3)


def _tones(
    climate: Climate,
    *,
    cast: float,
    ready: float,
    milestones: Sequence[timeline.Milestone],
    steps: Sequence[PieceStep],
    activation_energy: float,
) -> tuple[Tone, ...]:
    if not milestones or not (math.isfinite(cast) and math.isfinite(ready)) or ready <= cast:
        return ()
    times = np.linspace(cast, ready, TONES)
    cured = np.minimum(
        1.0, climate.equivalent_age(cast, times, activation_energy) / PALE_AT_EQUIVALENT_HOURS
    )
    dry = np.zeros_like(times)
    for milestone, step in zip(milestones, steps, strict=True):
        if step.kind == StepKind.DEMOLD or step.engine.wets:
            after = times >= milestone.finish
            hours = climate.drying_hours(milestone.finish, np.maximum(times, milestone.finish))
            dry = np.where(after, np.minimum(1.0, hours / PALE_AT_DRYING_HOURS), dry)
    levels = 0.5 * cured + 0.5 * dry
    return tuple(
        Tone(from_hours(float(time)), round(float(level), 3))
        for time, level in zip(times, levels, strict=True)
    )
