"""What replanning does to dates that were told, and how soon a new job can be promised.

python -m tools.bench_replan [seeds]: ten a size, if nothing else is said. Each shop is planned,
every customer told the promised day or, if the plan is later, the plan's; then somebody is away
for three days of the second week. `free` plans again from the same start as if nothing had been
told. Budgets are deterministic, so the figures do not depend on the machine, the seconds do.
"""

from __future__ import annotations

import os
import sys
import time
from collections import Counter
from dataclasses import replace

from jobs.planning.adapt import adapt
from jobs.planning.check import broken_rules
from jobs.planning.generate import CLOSES, DAY, SIZES, Size, random_shop
from jobs.planning.lists import earliest_due_first
from jobs.planning.problem import Job, Plan, Problem, Window, cost_of, told_moved
from jobs.planning.replan import moves, replans
from jobs.planning.search import Spend, search
from jobs.planning.tasks import compile_tasks, plan_of

FIRST = Spend(rounds=12, neighbourhoods=0)
AGAIN = Spend(rounds=8, neighbourhoods=0, seed=2)


def main() -> None:
    seeds = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    for name, size in SIZES.items():
        print(f"{name}, {size.pieces} pieces; load {os.getloadavg()[0]:.1f}")
        print("seed   told  late before   listed again       free replan   told dates kept       s")
        table = [replanned(size, seed) for seed in range(seeds)]
        sums = [sum(column) for column in zip(*table, strict=True)]
        told, _, _, _, free_moved, free_late, moved, late, _ = sums
        print(
            f"moved {moved} of {told} ({moved / max(1, told):.0%}; goal 25 %), free {free_moved}; "
            f"late {late / max(1, free_late):.2f} of a free replan's (goal 1.15)\n",
            flush=True,
        )


def replanned(size: Size, seed: int) -> tuple[float, ...]:
    known, problem = a_plan_told(size, seed)
    changed = without_somebody(problem, seed)
    free = compile_tasks(replace(changed, move_cost=0))
    listed = plan_of(free, earliest_due_first(free))
    *_, found = search(free, AGAIN, adapt(free, known))
    begun = time.perf_counter()
    *_, (plan, _) = replans(changed, known, AGAIN)
    took = time.perf_counter() - begun
    if broken_rules(changed, plan):
        raise SystemExit("a plan breaks the rules")
    row: list[float] = [len(problem.jobs), cost_of(problem, known.finish)]
    for each in (listed, plan_of(free, found.schedule), plan):
        row += [len(told_moved(changed, each.finish)), cost_of(changed, each.finish)]
    row.append(took)
    said = "".join(f"{a:8.0f} moved {b:6.0f}" for a, b in zip(row[2:8:2], row[3:8:2], strict=True))
    print(f"{seed:4} {row[0]:6.0f} {row[1]:12.0f} {said} {took:7.1f}", flush=True)
    late = [move for move in moves(changed, known, plan) if move.breaks_told]
    if late:
        why = Counter(move.key for move in late)
        print("       ", ", ".join(f"{key} {count}" for key, count in why.most_common()))
        print("       ", "; ".join(f"{move.job}: {move.why}" for move in late[:3]))
    return tuple(row)


def a_plan_told(size: Size, seed: int) -> tuple[Plan, Problem]:
    problem = random_shop(size, seed)
    tasks = compile_tasks(problem)
    *_, found = search(tasks, FIRST)
    plan = plan_of(tasks, found.schedule)
    jobs = tuple(replace(job, told=told_of(problem, job, plan)) for job in problem.jobs)
    return plan, replace(problem, jobs=jobs)


def told_of(problem: Problem, job: Job, plan: Plan) -> int:
    day = problem.shop.day_of(plan.finish[job.name] - 1)
    return max(job.due, problem.shop.day_starts[day] + CLOSES)


def without_somebody(problem: Problem, seed: int) -> Problem:
    people = list(problem.shop.people)
    index, day = seed % len(people), 7 + seed % 3
    away = Window(day * DAY, (day + 3) * DAY)
    people[index] = replace(people[index], absences=(*people[index].absences, away))
    return replace(problem, shop=replace(problem.shop, people=tuple(people)))


if __name__ == "__main__":
    main()
