"""How soon rescues of short promises are found, and how many of those that long searches find.

python -m tools.bench_rescue [seeds] [late jobs] [seconds]: ten seeds, the three jobs of each that
are late by least, and 60 s for each change, if nothing else is said. Every customer was told the
day that is due. `first` is one round over all changes; `all` the rounds that go on behind the
page; `long` goes on with other draws, and ever more of them, until the seconds are over. What a
search finds is deterministic. Seconds are of the processor, so that others at work on the machine
count for less; its load is printed.
"""

from __future__ import annotations

import os
import sys
import time
from dataclasses import replace

from jobs.planning.check import broken_rules
from jobs.planning.generate import SIZES, Size, random_shop
from jobs.planning.problem import Plan, Problem
from jobs.planning.rescue import Change, Effort, Tried, changes, rescues
from jobs.planning.search import Spend, plans
from jobs.planning.warm import warm_up

FIRST_PLAN = Spend(rounds=8, neighbourhoods=0)


def main() -> None:
    seeds, late, seconds = (
        int(sys.argv[number]) if len(sys.argv) > number else default
        for number, default in ((1, 10), (2, 3), (3, 60))
    )
    warm_up()
    for name in ("12 jobs", "40 jobs"):
        print(f"{name}; load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
        print("seed   job  late  changes   first  in s    all  in s   long   which")
        sums = [0, 0, 0]
        slowest = 0.0
        for seed in range(seeds):
            problem, known, short = shop(SIZES[name], seed)
            for job in short[:late]:
                found, took = rescued(problem, known, job, seed, seconds)
                sums = [a + b for a, b in zip(sums, found, strict=True)]
                slowest = max(slowest, took)
        print(
            f"first {sums[0]}, all {sums[1]} of the {sums[2]} that are known to help "
            f"({sums[1] / max(1, sums[2]):.0%}; goal 90 %); slowest first round {slowest:.1f} s "
            "(goal 2 s)\n",
            flush=True,
        )


def shop(size: Size, seed: int) -> tuple[Problem, Plan, list[str]]:
    problem = random_shop(size, seed)
    *_, (plan, _) = plans(problem, FIRST_PLAN)
    jobs = tuple(replace(job, told=job.due) for job in problem.jobs)
    late = {job.name: plan.finish.get(job.name, 0) - job.due for job in jobs}
    short = sorted((name for name in late if late[name] > 0), key=lambda name: late[name])
    return replace(problem, jobs=jobs, move_cost=1000), plan, short


def rescued(
    problem: Problem, known: Plan, job: str, seed: int, seconds: float
) -> tuple[tuple[int, int, int], float]:
    begun = time.process_time()
    tried = changes(problem, known, job)
    first: dict[str, Tried] = {}
    last: dict[str, Tried] = {}
    took = 0.0
    for each in rescues(problem, known, job, tried):
        check(each)
        last[each.change.words] = each
        if len(first) < len(tried):
            first[each.change.words] = each
            took = time.process_time() - begun
    whole = time.process_time() - begun
    helps = {words for words, each in last.items() if each.holds}
    longer = {
        change.words
        for change in tried
        if change.words in helps
        or (not last[change.words].settled and helps_at_last(problem, known, job, change, seconds))
    }
    row = (sum(each.holds for each in first.values()), len(helps), len(longer))
    due = next(each.due for each in problem.jobs if each.name == job)
    print(
        f"{seed:4} {job:>5} {known.finish[job] - due:5} {len(tried):8} "
        f"{row[0]:7} {took:5.1f} {row[1]:6} {whole:5.0f} {row[2]:6}   "
        + ", ".join(sorted(each.change.key for each in last.values() if each.holds))
        + "".join(f"; not found: {words}" for words in sorted(longer - helps)),
        flush=True,
    )
    return row, took


def helps_at_last(problem: Problem, known: Plan, job: str, change: Change, seconds: float) -> bool:
    begun = time.process_time()
    seed = 1
    while time.process_time() - begun < seconds:
        seed += 1
        for each in rescues(problem, known, job, [change], Effort(rounds=9, seed=seed)):
            check(each)
            if each.holds:
                return True
            if time.process_time() - begun > seconds:
                break
    return False


def check(each: Tried) -> None:
    if each.plan is not None and broken_rules(each.change.problem, each.plan):
        raise SystemExit(f"a plan breaks the rules: {each.change.words}")


if __name__ == "__main__":
    main()
