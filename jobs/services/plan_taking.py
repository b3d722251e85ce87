"""Taking a proposal, all of it or some jobs: from then on it is the plan that stands."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable
from typing import Any

from django.db import transaction
from django.utils import timezone

from jobs.models import InstallDate, JobPlanned, Piece, PlanAccepted, PlannedStep, PlanRun, RunState
from jobs.planning.problem import Key, Plan, Problem
from jobs.services.errors import Refused
from jobs.services.plan_before import before_of
from jobs.services.plan_casts import PlannedCast, lock_pieces, refuse_passed, set_casts
from jobs.services.plan_mix import Raw, mixed, plan_from, refuse_broken, spoken
from jobs.services.plan_read import PlanRead, read_shop
from jobs.services.plan_shown import JobDate, Shown, leaves_at
from jobs.services.plan_stored import from_json
from shop.models import Person, Shop
from shop.services.changed import note_change

NOT_THERE = "This proposal was taken or put aside already. Look at the plan as it stands now."


def take(
    *,
    run_id: int,
    by: Person,
    jobs: Collection[str] | None = None,
    installs: bool = False,
    now: dt.datetime | None = None,
) -> PlanAccepted:
    """`jobs` by number; None for all that the proposal has. `installs` sets install days for jobs
    that have none."""
    now = now or timezone.now()
    with transaction.atomic():
        Shop.objects.select_for_update().get(pk=1)
        run = PlanRun.objects.select_for_update().filter(pk=run_id, about=None).first()
        if run is None or run.state != RunState.READY or not run.found:
            raise Refused(NOT_THERE)
        raw: Raw = from_json(Raw, run.found["raw"])
        shown: Shown = from_json(Shown, run.found["shown"])
        chosen = _chosen(shown, jobs, run.found.get("taken", []))
        accepted = write(
            read_shop(raw.starts_at),
            raw,
            chosen,
            by=by,
            run=run,
            dates=shown.jobs,
            whole=jobs is None,
            installs=installs,
            now=now,
        )
        _close(run, shown, chosen, whole=jobs is None)
    return accepted


def _chosen(shown: Shown, jobs: Collection[str] | None, taken: Collection[str]) -> set[str]:
    planned = {job.number for job in shown.jobs if job.leaves}
    if jobs is None:
        return planned - set(taken)
    if not jobs:
        raise Refused("Tick at least one job to take, or take all.", field="jobs")
    if gone := set(jobs) - planned:
        raise Refused(f"The proposal has no date for {spoken(gone)}.", field="jobs")
    if again := set(jobs) & set(taken):
        raise Refused(f"{spoken(again)} was taken already.", field="jobs")
    return set(jobs)


def _close(run: PlanRun, shown: Shown, chosen: Collection[str], *, whole: bool) -> None:
    assert run.found is not None
    taken = {*run.found.get("taken", []), *chosen}
    if whole or {job.number for job in shown.moving if job.leaves} <= taken:
        run.state = RunState.TAKEN
    run.found = {**run.found, "taken": sorted(taken)}
    run.save(update_fields=["state", "found"])


def write(
    read: PlanRead,
    raw: Raw,
    chosen: Collection[str],
    *,
    by: Person,
    now: dt.datetime,
    run: PlanRun | None = None,
    dates: Iterable[JobDate] = (),
    whole: bool = False,
    installs: bool = False,
    words: str = "",
) -> PlanAccepted:
    """Checked against the shop as it is, written, and kept so that it can be undone."""
    new = plan_from(raw, read)
    problem, mix = mixed(read, read.known, new, chosen)
    got = {piece.job for piece in problem.pieces} & set(chosen)
    if not got:
        raise Refused("Nothing of this can be taken any more. Plan again.", field="stale")
    refuse_broken(read, problem, mix, got)
    ahead = _ahead(read, problem, mix, got)
    piece_ids = {pk for key in ahead if (pk := read.filled.steps[key].piece_id) is not None}
    gone = _planned_no_more(problem, read) if whole else set()
    pieces = lock_pieces(piece_ids | gone)
    casts = _casts(read, problem, mix, got)
    refuse_passed(casts, pieces, now)
    job_ids = {job.pk for job in read.jobs if job.number in got}
    before = before_of(piece_ids | gone, pieces, job_ids)
    pins = {
        (row.piece_id, row.step_key): row.pinned_by_id
        for row in PlannedStep.objects.filter(piece__in=piece_ids, pinned=True)
    }
    PlannedStep.objects.filter(piece__in=piece_ids | gone).delete()
    PlannedStep.objects.bulk_create(_rows(read, problem, mix, ahead, pins))
    before["after"]["batches"] = {
        str(pk): at.isoformat() for pk, at in set_casts(casts, pieces, by).items()
    }
    before["after"]["pieces"] = {
        str(pk): batch
        for pk, batch in Piece.objects.filter(pk__in=piece_ids).values_list("pk", "batch_id")
    }
    if installs:
        before["after"]["installs"] = _set_installs(read, problem, mix, got, by)
    _keep_dates(read, mix, got, {date.number: date for date in dates}, now)
    note_change("plan taken")
    return PlanAccepted.objects.create(
        run=run, by=by, words=(words or _words(got, whole))[:300], before=before
    )


def _words(jobs: Collection[str], whole: bool) -> str:
    many = f"{len(jobs)} job{'s' if len(jobs) > 1 else ''}"
    return f"The whole plan, {many}" if whole else f"The plan of {spoken(jobs)}"


def _ahead(read: PlanRead, problem: Problem, mix: Plan, chosen: Collection[str]) -> list[Key]:
    return [
        key
        for piece in problem.pieces
        if piece.job in chosen
        for number, step in enumerate(piece.steps)
        if step.began is None and (key := Key(piece.code, number)) in read.filled.steps
    ]


def _planned_no_more(problem: Problem, read: PlanRead) -> set[int]:
    """Pieces that the proposal has no place for: what stood of them would be untrue."""
    kept = {piece.code for piece in problem.pieces}
    return {
        ref.piece_id
        for key, ref in read.filled.steps.items()
        if key.piece not in kept and ref.piece_id is not None
    }


def _casts(
    read: PlanRead, problem: Problem, mix: Plan, chosen: Collection[str]
) -> list[PlannedCast]:
    groups: dict[str, list[Key]] = defaultdict(list)
    mine = set()
    for piece in problem.pieces:
        for number, step in enumerate(piece.steps):
            key = Key(piece.code, number)
            if step.began is None and read.filled.steps[key].kind == "cast":
                name = step.together or f"\n{piece.code}"
                groups[name].append(key)
                if piece.job in chosen:
                    mine.add(name)
    return [
        PlannedCast(
            tuple(pk for key in groups[name] if (pk := read.filled.steps[key].piece_id)),
            read.filled.moment(mix.starts[groups[name][0]]),
        )
        for name in sorted(mine)
    ]


def _rows(
    read: PlanRead, problem: Problem, mix: Plan, ahead: Collection[Key], pins: dict[Any, Any]
) -> Iterable[PlannedStep]:
    """A row a step; work that takes more than a shift is one, from its first part to its last,
    which may be other people's on another day."""
    pieces = {piece.code: piece for piece in problem.pieces}
    rows: dict[tuple[int, str], PlannedStep] = {}
    for key in ahead:
        piece, ref = pieces[key.piece], read.filled.steps[key]
        if ref.piece_id is None:
            continue
        step, begin = piece.steps[key.step], mix.starts[key]
        ends = read.filled.moment(begin + step.slots)
        name = (ref.piece_id, ref.step_key)
        if name in rows:
            rows[name].ends_at = ends
            again = read.filled.moment(begin).isoformat()
            rows[name].parts.append([again, list(mix.people.get(key, ()))])
            continue
        held = [
            at
            for number, hold in enumerate(piece.holds)
            if hold.first <= key.step <= hold.last and (at := mix.held.get((piece.code, number)))
        ]
        rows[name] = PlannedStep(
            piece_id=ref.piece_id,
            step_key=ref.step_key,
            name=ref.name,
            starts_at=read.filled.moment(begin),
            ends_at=ends,
            people=list(mix.people.get(key, ())),
            place=(held[0] if held else ", ".join(step.uses))[:40],
            pinned=name in pins,
            pinned_by_id=pins.get(name),
        )
    return rows.values()


def _set_installs(
    read: PlanRead, problem: Problem, mix: Plan, chosen: Collection[str], by: Person
) -> dict[str, int]:
    """A day for each job that is installed and has none; those that were agreed stay."""
    ids = {job.number: job.pk for job in read.jobs}
    found: dict[int, tuple[dt.datetime, float, int]] = {}
    for piece in problem.pieces:
        for number, step in enumerate(piece.steps):
            key = Key(piece.code, number)
            if piece.job not in chosen or step.began is not None:
                continue
            if read.filled.steps[key].kind == "install":
                at = read.filled.moment(mix.starts[key])
                hours = max(0.25, step.slots * read.slot_hours)
                this = (at, hours, step.crew)
                found[ids[piece.job]] = min(found.get(ids[piece.job], this), this)
    has = set(InstallDate.objects.filter(job__in=found).values_list("job_id", flat=True))
    made = InstallDate.objects.bulk_create(
        InstallDate(
            job_id=job_id, starts_at=at, hours=hours, people=max(1, crew), set_by=by,
            note="as planned",
        )
        for job_id, (at, hours, crew) in found.items()
        if job_id not in has
    )  # fmt: skip
    return {str(row.pk): row.version for row in made}


def _keep_dates(
    read: PlanRead,
    mix: Plan,
    chosen: Collection[str],
    dates: dict[str, JobDate],
    now: dt.datetime,
) -> None:
    ids = {job.number: job.pk for job in read.jobs}
    rows = []
    for job in chosen:
        leaves = leaves_at(read, mix, job)
        if leaves is None or job not in ids:
            continue
        date = dates.get(job)
        rows.append(
            JobPlanned(
                job_id=ids[job],
                leaves_at=leaves,
                early=date.early if date else None,
                likely=date.likely if date else None,
                late=date.late if date else None,
                chance=date.chance if date else None,
                held_by=date.held_by if date else "",
                held_words=(date.held_words if date else "")[:200],
                derived_at=now,
            )
        )
    fields = ["leaves_at", "early", "likely", "late", "chance", "held_by", "held_words"]
    JobPlanned.objects.bulk_create(
        rows,
        update_conflicts=True,
        unique_fields=["job"],
        update_fields=[*fields, "derived_at"],
    )
