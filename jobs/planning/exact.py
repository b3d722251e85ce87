"""The cheapest plan by constraints: all of it, to proof, or some events with the rest fixed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from jobs.planning.constraints import Model
from jobs.planning.tasks import Schedule, Tasks


@dataclass(frozen=True)
class Budget:
    """In the solver's own deterministic seconds, so that the same facts give the same plan."""

    work: float
    workers: int = 1
    seed: int = 1
    all_at_once: bool = False  # workers without an order among them: quicker, not repeatable


@dataclass(frozen=True)
class Answer:
    schedule: Schedule | None
    proved: bool  # nothing better with what is fixed fixed
    bound: int
    impossible: bool = False


def solve(tasks: Tasks, free: Iterable[int], known: Schedule, budget: Budget) -> Answer:
    """The best starts of the groups in `free`, all others staying as in `known`.

    `known` is a whole plan without fault: it is the hint, and what bounds the time looked at.
    """
    a, out = tasks.arrays, set(known.left_out)
    events = [v for v in range(len(a.event)) if a.event[v].group in set(free) - out]
    return solve_events(tasks, events, known, budget)


def solve_events(
    tasks: Tasks, events: Iterable[int], known: Schedule, budget: Budget, reach: int = 0
) -> Answer:
    """The best starts of these events alone; with `reach`, none further from the known than that.

    The answer's proof and bound then hold for no more than that.
    """
    return solved(Model(tasks, events, known, reach), budget)


def optimum(tasks: Tasks, known: Schedule, budget: Budget) -> Answer:
    return solve(tasks, range(len(tasks.groups)), known, budget)


def solved(model: Model, budget: Budget) -> Answer:
    from ortools.sat.python import cp_model  # a second that most processes never need

    solver = cp_model.CpSolver()
    solver.parameters.max_deterministic_time = budget.work
    solver.parameters.num_workers = budget.workers
    solver.parameters.random_seed = budget.seed
    # Probing takes longer here than the search it is to help, and symmetries are few.
    solver.parameters.cp_model_probing_level = 0
    solver.parameters.symmetry_level = 0
    if budget.workers > 1 and not budget.all_at_once:
        solver.parameters.interleave_search = True
    status = solver.solve(model.model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Answer(None, False, model.base, status == cp_model.INFEASIBLE)
    return Answer(
        model.read(solver),
        status == cp_model.OPTIMAL,
        model.base + round(solver.best_objective_bound),
    )
