"""What a worker does of a planning run: read the shop, search, keep the best, say how it goes."""

from __future__ import annotations

import datetime as dt
import logging
from collections.abc import Iterator

from celery.exceptions import SoftTimeLimitExceeded
from django.utils import timezone

from jobs.models import PlanRun
from jobs.planning.holding import what_holds
from jobs.planning.problem import Plan, told_moved, visits_missed
from jobs.planning.replan import moves, replans
from jobs.planning.search import Found, Spend
from jobs.planning.sound import sound
from jobs.services import plan_runs
from jobs.services.plan_aim import aimed, late_slots, missed
from jobs.services.plan_mix import raw_of
from jobs.services.plan_ranges import ranges_of
from jobs.services.plan_read import PlanRead, read_shop
from jobs.services.plan_room import with_pins_named
from jobs.services.plan_runs import Diary, NoLongerOurs
from jobs.services.plan_shown import Reasons, Shown, shown_of, with_reasons
from jobs.services.plan_stored import as_json
from jobs.services.plan_words import HELD_BY

log = logging.getLogger("curewright.plan")

# Some 100 s for forty jobs on two cores, 25 s for twelve, and more for their late dates. Counted
# in tries and in the solver's own time, so that the same facts give the same plan; the clock only
# ends what a slow machine would draw out.
SPEND = Spend(rounds=12, neighbourhoods=2, work=0.05)
LONGEST = 200.0  # seconds
STOPPED = "Stopped: the best plan found until then."
ENDED = "Ended after {minutes:.1f} minutes, before all was tried: the best plan found until then."


def plan_shop(run_id: int, spend: Spend = SPEND, now: dt.datetime | None = None) -> PlanRun | None:
    """Does nothing where another took the run, or it is over: messages may come twice."""
    run = plan_runs.claim(run_id, now or timezone.now())
    if run is None:
        return None
    try:
        work_at(run, spend, now)
    except NoLongerOurs:
        log.info("Run %s was given up while it was worked at.", run_id)
    except SoftTimeLimitExceeded:
        plan_runs.failed(run, "It took too long before a first plan was found. Plan again.")
    except Exception as error:
        log.exception("Run %s failed.", run_id)
        kind = type(error).__name__
        plan_runs.failed(run, f"The planner stumbled ({kind}). Nothing was changed. Plan again.")
    run.refresh_from_db()
    return run


def work_at(run: PlanRun, spend: Spend, now: dt.datetime | None) -> None:
    read = read_shop(now)
    PlanRun.objects.filter(pk=run.pk).update(
        edition=read.edition, planned_from=read.filled.starts_at
    )
    diary = Diary(run)
    best, words = search(read, diary, replans(read.problem, read.known, spend))
    if not words:
        best, words = search_late(read, diary, best, spend)
    diary.write()
    best, broken = sound(read.problem, best)
    for rule in broken:
        log.error("What was found breaks a rule and is left out: %s", rule)
    best = read.filled.whole(with_pins_named(read, best))
    shown = explained(read, best)
    found = {"shown": as_json(shown), "raw": as_json(raw_of(read, best))}
    plan_runs.ready(run, found, words)


def search(read: PlanRead, diary: Diary, plans: Iterator[tuple[Plan, Found]]) -> tuple[Plan, str]:
    best: Plan | None = None
    rounds = 0
    try:
        for plan, found in plans:
            rounds += 1
            best = plan
            if not diary.note({**numbers(read, plan, found), "rounds": rounds}):
                return best, STOPPED
            if diary.seconds > LONGEST:
                return best, ENDED.format(minutes=diary.seconds / 60)
    except SoftTimeLimitExceeded:
        if best is None:
            raise
        return best, ENDED.format(minutes=diary.seconds / 60)
    if best is None:
        raise RuntimeError("no plan at all")
    return best, ""


def search_late(read: PlanRead, diary: Diary, best: Plan, spend: Spend) -> tuple[Plan, str]:
    """Once more, from there, aimed at the late dates; the better of the two, judged by those."""
    late = late_slots(read, best)
    problem = aimed(read, best, late)
    if problem is None:
        return best, ""
    found, words = best, ""
    said = {**diary.entries[-1], "by": "aimed"}
    try:
        for plan, _ in replans(problem, best, spend):
            found = plan
            if not diary.note(said):
                words = STOPPED
                break
            if diary.seconds > LONGEST:
                words = ENDED.format(minutes=diary.seconds / 60)
                break
    except SoftTimeLimitExceeded:
        words = ENDED.format(minutes=diary.seconds / 60)
    if missed(read, found, late_slots(read, found)) >= missed(read, best, late):
        return best, words
    diary.note({**said, **lateness(read, found), "proved": False})
    return found, words


def numbers(read: PlanRead, plan: Plan, found: Found) -> dict[str, object]:
    """How good a plan is, as the page shows it while it is searched."""
    return {**lateness(read, plan), "by": found.by, "proved": found.proved}


def lateness(read: PlanRead, plan: Plan) -> dict[str, object]:
    late = [
        plan.finish[job.name] - job.due
        for job in read.problem.jobs
        if job.weight and plan.finish.get(job.name, 0) > job.due
    ]
    installs = visits_missed(read.problem, plan)
    return {
        "late_hours": round(sum(late) * read.slot_hours, 1),
        "late": len(late),
        "install_hours": round(sum(installs.values()) * read.slot_hours, 1),
        "installs": len(installs),
        "moved": len(told_moved(read.problem, plan.finish)),
        "planned": len(plan.finish),
    }


def explained(read: PlanRead, plan: Plan) -> Shown:
    held = {
        job: (each.key, each.words or HELD_BY.get(each.key, ""))
        for job, each in what_holds(read.problem, plan).items()
    }
    why = {}
    if read.known is not None:
        why = {move.job: move.why for move in moves(read.problem, read.known, plan)}
    ranges, chances = ranges_of(read, plan)
    shown = shown_of(read, plan, read.known)
    return with_reasons(shown, Reasons(held, why, ranges, chances), read.shop)
