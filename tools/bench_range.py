"""How quick a plan's range is, how far behind the plan dates lie, whether the late one is kept.

    python -m tools.bench_range [shops] [truths]

Shops are invented, by seed 0, 1, 2 ...; plans are lists by due date and what the search makes of
them. The truth of each is drawn by another generator and carried out by `tools.carried_out`.
"""

from __future__ import annotations

import os
import sys
import time
from dataclasses import replace

import numpy as np

from jobs.planning.course import Wait
from jobs.planning.generate import DAY, MIDDLE, SMALL, random_shop
from jobs.planning.lists import earliest_due_first
from jobs.planning.moment import MEND, OVER, TICKS
from jobs.planning.problem import Plan, Problem
from jobs.planning.search import Spend, plans
from jobs.planning.simulate import NO_DOUBT, Doubt, Sampled, carried_out, sampled
from jobs.planning.tasks import compile_tasks, plan_of
from tools.carried_out import Chances, carry_out

SAMPLES = 2000
Numbers = tuple[float, ...]


def main() -> None:
    shops = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    truths = int(sys.argv[2]) if len(sys.argv) > 2 else 60
    sampled(*listed(random_shop(SMALL, 999)), Doubt(), 10, 1)
    print(f"12 jobs, 45 pieces, {SAMPLES} samples, {os.cpu_count()} cores")
    print("seconds of the clock and of all cores; days after the plan, mean of the jobs")
    print("seed  steps  exact  all s  cpu s  carried out  load  early  likely  late  plan")
    rows: dict[str, list[Numbers]] = {"list": [], "searched": []}
    for seed in range(shops):
        problem = random_shop(MIDDLE, seed)
        rows["list"].append(timed(seed, "list", problem, listed(problem)[1]))
        rows["searched"].append(timed(seed, "searched", problem, searched(problem)))
    for name, made in rows.items():
        wall, cpu, only, load, *days = np.mean(made, axis=0)
        print(
            f"mean {'':13} {wall:6.2f} {cpu:6.2f} {only:12.3f} {load:5.1f}"
            f" {days[0]:6.2f} {days[1]:7.2f} {days[2]:5.2f}  {name}",
            flush=True,
        )
    kept, jobs = coverage(max(20, 2 * shops), truths)
    print(f"late date (90 %) kept in {kept:.1%} of {jobs} jobs of simulated shops", flush=True)


def listed(problem: Problem) -> tuple[Problem, Plan]:
    tasks = compile_tasks(problem)
    return problem, plan_of(tasks, earliest_due_first(tasks))


def searched(problem: Problem) -> Plan:
    return [plan for plan, _ in plans(problem, Spend(rounds=4, neighbourhoods=1))][-1]


def timed(seed: int, name: str, problem: Problem, plan: Plan) -> Numbers:
    bare = sampled(problem, plan, NO_DOUBT, 1, 1)
    exact = (bare.begun[0] == bare.path.starts * TICKS).all()
    load = os.getloadavg()[0]
    begun, cpu = time.perf_counter(), time.process_time()
    got = sampled(problem, plan, Doubt(), SAMPLES, 1)
    wall, cpu = time.perf_counter() - begun, time.process_time() - cpu
    only = time.process_time()
    carried_out(got.course, got.drawn)
    only = time.process_time() - only
    finish = [np.quantile(got.finish(job), (0.1, 0.5, 0.9)) for job in got.path.jobs]
    plans_own = np.array([[plan.finish[job]] for job in got.path.jobs])
    days = ((np.array(finish) - plans_own) / DAY).mean(axis=0)
    print(
        f"{seed:4} {len(got.path.steps):6} {'yes' if exact else 'NO':>6} {wall:6.2f} {cpu:6.2f}"
        f" {only:12.3f} {load:5.1f} {days[0]:6.2f} {days[1]:7.2f} {days[2]:5.2f}  {name}",
        flush=True,
    )
    return wall, cpu, only, load, *days.tolist()


def coverage(shops: int, truths: int) -> tuple[float, int]:
    draw = np.random.default_rng(2026)
    doubt = Doubt(work=0.3, wait=0.1, shared_wait=0.2)
    kept: list[bool] = []
    for seed in range(shops):
        problem, plan = listed(random_shop(replace(SMALL, pieces=8), seed))
        got = sampled(problem, plan, doubt, SAMPLES, seed)
        late = {job: float(np.quantile(got.finish(job), 0.9)) for job in got.path.jobs}
        for _ in range(truths):
            kept += truth_keeps(problem, plan, got, late, truth_of(got, doubt, draw))
    return float(np.mean(kept)), len(kept)


def truth_keeps(
    problem: Problem, plan: Plan, got: Sampled, late: dict[str, float], truth: Chances
) -> list[bool]:
    """For each job, whether it is through by its late date."""
    ends = carry_out(replace(problem, shop=got.path.shop), plan, truth)
    through = dict.fromkeys(late, 0)
    for piece in problem.pieces:
        through[piece.job] = max(through[piece.job], ends[piece.counted][1])
    return [through[job] <= at * TICKS for job, at in late.items()]


def truth_of(got: Sampled, doubt: Doubt, draw: np.random.Generator) -> Chances:
    """What comes true, from the stated doubt; the rules are the sampled course's."""
    course, path = got.course, got.path
    alike: dict[tuple[int, ...], float] = {}
    lengths: dict[Wait, tuple[tuple[int, ...], float]] = {}
    for arc in path.arcs:
        factor = 1.0
        if arc.lag.by_day:
            if arc.lag.by_day not in alike:
                alike[arc.lag.by_day] = draw.lognormal(0.0, doubt.shared_wait)
            factor = alike[arc.lag.by_day] * draw.lognormal(0.0, doubt.wait)
        lengths[arc.wait] = (arc.lag.by_day or (arc.lag.least,), factor)

    def wait(code: str, step: int, since: int, day: int) -> int:
        by_day, factor = lengths[Wait(code, step, since)]
        return round(by_day[min(day, len(by_day) - 1)] * TICKS * factor)

    return Chances(
        work={
            keys[0]: round(step.slots * TICKS * draw.lognormal(0.0, doubt.work))
            for keys, step in zip(path.keys, path.steps, strict=True)
        },
        wait=wait,
        release={keys[0]: int(course.event.release[v]) for v, keys in enumerate(path.keys)},
        over=int(course.rule[OVER]),
        mend=int(course.rule[MEND]),
    )


if __name__ == "__main__":
    main()
