"""A stored shop filled for the planner, listed, and its steps by their keys."""

from __future__ import annotations

from jobs.planning.fill import (
    Draft,
    Filled,
    fill,
    plan_facts,
)
from jobs.planning.problem import Key, Plan, Step
from jobs.planning.search import Spend, plans
from tests.jobs.planning.invented import NOW

LISTED = Spend(rounds=0, neighbourhoods=0, whole_work=0.0)


def filled(*drafts: Draft) -> Filled:
    return fill(plan_facts(NOW), drafts)


def listed(made: Filled) -> Plan:
    plan, _ = next(plans(made.problem, LISTED))
    return made.whole(plan)


def steps_of(made: Filled, code: str) -> dict[str, Step]:
    """By their keys; of work in parts the first."""
    piece = next(piece for piece in made.problem.pieces if piece.code == code)
    found: dict[str, Step] = {}
    for number, step in enumerate(piece.steps):
        found.setdefault(made.steps[Key(code, number)].step_key, step)
    return found
