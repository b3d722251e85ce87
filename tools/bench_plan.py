"""How good plans are after so many seconds, as a ratio to listing by due date.

python -m tools.bench_plan [seeds] [seconds] [jobs]: ten seeds a size and 30 seconds each, every
size, if nothing else is said. Seconds are the clock's, on two cores: what else the machine does
makes the figures worse, so its load is printed. The generator's seeds are 0, 1, 2 ... The last
column holds the cost at 10 s against the least that any run has found for the seed (KNOWN, by the
invented shops as they are now; a cheaper one is named, to be entered there).
"""

from __future__ import annotations

import os
import sys
import time

from jobs.planning.check import broken_rules
from jobs.planning.generate import SIZES, random_shop
from jobs.planning.problem import Problem
from jobs.planning.search import Spend, search
from jobs.planning.tasks import compile_tasks, plan_of

MARKS = (1, 2, 5, 10, 30)
AGAINST_KNOWN = 10
UNENDING = Spend(neighbourhoods=100_000)
KNOWN: dict[str, dict[int, int]] = {
    "4 jobs": {0: 0, 1: 396, 2: 0, 3: 540, 4: 72, 5: 108, 6: 264, 7: 0, 8: 0, 9: 0},  # proved
    "12 jobs": {0: 0, 1: 0, 2: 75, 3: 0, 4: 0, 5: 0, 6: 0, 7: 48, 8: 0, 9: 0},
    "40 jobs": {0: 84, 1: 0, 2: 0, 3: 0, 4: 0, 5: 0, 6: 0, 7: 0, 8: 0, 9: 0},
}


def main() -> None:
    seeds = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else float(MARKS[-1])
    only = sys.argv[3] if len(sys.argv) > 3 else ""
    warm_up()
    for name, size in SIZES.items():
        if only and not name.startswith(f"{only} "):
            continue
        load = f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores"
        print(f"{name}, {size.pieces} pieces; {load}")
        marks = "".join(f"{mark:>7} s" for mark in MARKS)
        print(f"seed  steps  by due date  first s  {marks}   of known")
        sums = [0.0] * (len(MARKS) + 1)
        for seed in range(seeds):
            listed, first, costs, proved, events = run(random_shop(size, seed), seconds)
            sums = [a + b for a, b in zip(sums, (listed, *costs), strict=True)]
            ratios = "".join(f"{cost / max(1, listed):9.3f}" for cost in costs)
            known = against_known(KNOWN[name].get(seed), costs)
            end = f"  proved after {proved:.1f} s" if proved else ""
            print(f"{seed:4} {events:6} {listed:12} {first:8.2f} {ratios} {known}{end}", flush=True)
        ratios = "".join(f"{cost / max(1.0, sums[0]):9.3f}" for cost in sums[1:])
        print(f" sum        {sums[0]:12.0f}          {ratios}\n", flush=True)


def against_known(known: int | None, costs: list[int]) -> str:
    if known is None or costs[-1] < known:
        return f"best now {costs[-1]}"
    at_mark = costs[MARKS.index(AGAINST_KNOWN)]
    return f"{at_mark / known:9.2f}" if known else f"{at_mark:9}"


def warm_up() -> None:
    """Compiled code is loaded, or compiled, once; a worker does so when it starts."""
    tasks = compile_tasks(random_shop(SIZES["12 jobs"], 999))
    for _ in search(tasks, Spend(rounds=1, neighbourhoods=1, work=0.001)):
        pass


def run(problem: Problem, seconds: float) -> tuple[int, float, list[int], float, int]:
    begun = time.perf_counter()
    tasks = compile_tasks(problem)
    track: list[tuple[float, int]] = []
    proved = 0.0
    best = None
    for found in search(tasks, UNENDING):
        best = found.schedule
        track.append((time.perf_counter() - begun, best.cost))
        if found.proved:
            proved = track[-1][0]
        if track[-1][0] > seconds:
            break
    if best is None or broken_rules(problem, plan_of(tasks, best)):
        raise SystemExit("a plan breaks the rules")
    listed = track[0][1]
    costs = [min([listed, *(cost for at, cost in track if at <= mark)]) for mark in MARKS]
    return listed, track[0][0], costs, proved, len(tasks.steps)


if __name__ == "__main__":
    main()
