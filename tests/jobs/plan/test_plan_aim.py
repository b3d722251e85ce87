"""Where promises are judged on the late date, a plan is aimed at it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from jobs.models import PlanRun
from jobs.planning.check import broken_rules
from jobs.planning.problem import visit_ends
from jobs.planning.replan import replans
from jobs.planning.search import Spend
from jobs.services import plan_runs
from jobs.services.plan_aim import aimed, late_slots, missed
from jobs.services.plan_read import PlanRead, read_shop
from jobs.services.plan_runs import Diary
from jobs.services.plan_work import lateness, search, search_late
from shop.models import JudgedOn, Role, Shop
from tests.factories import make_person
from tests.jobs.planning.invented import NOW, invent

pytestmark = pytest.mark.django_db
QUICK = Spend(rounds=2, neighbourhoods=0, whole_work=0.0)


def running() -> PlanRun:
    run = plan_runs.ask(make_person(Role.OWNER), now=NOW)
    claimed = plan_runs.claim(run.pk, NOW)
    assert claimed is not None
    return claimed


def read_judged_on(judged_on: str) -> PlanRead:
    Shop.objects.update(judged_on=judged_on)
    return read_shop(NOW)


@pytest.mark.parametrize("seed", range(3))
def test_what_is_taken_misses_no_more_than_before_and_breaks_no_rule(seed: int) -> None:
    invent(seed)
    read = read_judged_on(JudgedOn.LATE)
    diary = Diary(running())
    first, _ = search(read, diary, replans(read.problem, None, QUICK))
    late = late_slots(read, first)
    found, words = search_late(read, diary, first, QUICK)
    assert words == ""
    assert broken_rules(read.problem, found) == []
    assert missed(read, found, late_slots(read, found)) <= missed(read, first, late)


def test_jobs_are_due_sooner_by_what_their_late_date_lies_behind() -> None:
    invent(0)
    read = read_judged_on(JudgedOn.LATE)
    plan, _ = search(read, Diary(running()), replans(read.problem, None, QUICK))
    promised = next(job for job in read.problem.jobs if job.weight and job.due > 0)
    end = plan.finish[promised.name]
    late = {job: float(finish) for job, finish in plan.finish.items()}

    problem = aimed(read, plan, late | {promised.name: max(promised.due, end) + 7.5})
    assert problem is not None
    due = next(job.due for job in problem.jobs if job.name == promised.name)
    behind = max(promised.due, end) + 7.5 - end
    assert promised.due - due == min(144, int(behind) + 1)
    far = aimed(read, plan, late | {promised.name: float("inf")})
    assert far is not None
    assert promised.due - next(j.due for j in far.jobs if j.name == promised.name) == min(
        144, promised.due
    )


def test_where_promises_are_judged_on_the_likely_date_the_plan_stays() -> None:
    invent(0)
    read = read_judged_on(JudgedOn.LIKELY)
    diary = Diary(running())
    plan, _ = search(read, diary, replans(read.problem, None, QUICK))
    assert search_late(read, diary, plan, QUICK) == (plan, "")


def test_a_plan_that_leaves_a_told_job_out_is_no_better_than_one_that_is_late() -> None:
    invent(0)
    read = read_judged_on(JudgedOn.LATE)
    plan, _ = search(read, Diary(running()), replans(read.problem, None, QUICK))
    name = min(plan.finish)
    jobs = tuple(
        replace(job, told=plan.finish[name]) if job.name == name else job
        for job in read.problem.jobs
    )
    problem = replace(read.problem, jobs=jobs)
    read = replace(read, filled=replace(read.filled, problem=problem))
    after = {**plan.finish, name: plan.finish[name] + 1}
    without = {other: end for other, end in plan.finish.items() if other != name}
    late = {other: float(end) for other, end in plan.finish.items()}
    moved = missed(read, replace(plan, finish=after), late)
    left_out = missed(read, replace(plan, finish=without), late)
    assert moved < left_out


def test_a_plan_that_misses_a_day_agreed_with_a_site_is_worse() -> None:
    invent(0)
    read = read_judged_on(JudgedOn.LATE)
    plan, _ = search(read, Diary(running()), replans(read.problem, None, QUICK))
    late = {name: float(end) for name, end in plan.finish.items()}
    name, end = next(iter(visit_ends(read.problem, plan).items()))

    def set_for(slot: int) -> PlanRead:
        jobs = (
            replace(job, visit=slot, visit_weight=2) if job.name == name else job
            for job in read.problem.jobs
        )
        problem = replace(read.problem, jobs=tuple(jobs))
        return replace(read, filled=replace(read.filled, problem=problem))

    *kept, behind = missed(set_for(end), plan, late)
    assert missed(set_for(end - 3), plan, late) == (*kept, behind + 2 * 3)
    # And while it is searched the page is told so.
    kept_day, missed_day = lateness(set_for(end), plan), lateness(set_for(end - 3), plan)
    more = {"installs": kept_day["installs"] + 1, "install_hours": kept_day["install_hours"] + 1.5}
    assert missed_day == {**kept_day, **more}
