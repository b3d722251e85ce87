"""Every plan on the way keeps the rules, none is worse than the one before, and all can be had again.

CUREWRIGHT_PLAN_SHOPS sets how many random shops are planned (20 if it says nothing).
"""

from __future__ import annotations

import os
from dataclasses import replace

import pytest

from jobs.planning.check import broken_rules
from jobs.planning.faults import sift
from jobs.planning.problem import cost_of, told_moved
from jobs.planning.search import Spend, plans, search
from jobs.planning.tasks import compile_tasks
from tests.jobs.planning.shops import eventful_shop

SHOPS = int(os.environ.get("CUREWRIGHT_PLAN_SHOPS", "20"))
QUICK = Spend(rounds=2, neighbourhoods=1, work=0.01, whole_work=0.02)


@pytest.mark.parametrize("seed", range(SHOPS))
def test_plans_of_random_shops_keep_every_rule_and_get_no_worse(seed: int) -> None:
    problem = eventful_shop(seed)
    before = None
    for plan, found in plans(problem, QUICK):
        assert broken_rules(problem, plan) == []
        if not found.schedule.left_out:
            assert found.schedule.cost == cost_of(problem, plan)
        assert before is None or found.schedule.cost <= before
        before = found.schedule.cost


def test_the_same_facts_give_the_same_plan() -> None:
    problem = eventful_shop(3)
    first, second = (list(plans(problem, QUICK)) for _ in range(2))
    assert [plan for plan, _ in first] == [plan for plan, _ in second]


def test_a_known_plan_is_where_the_search_begins() -> None:
    tasks = compile_tasks(sift(eventful_shop(5))[0])
    *_, found = search(tasks, QUICK)
    again = next(search(tasks, QUICK, found.schedule))
    assert again.schedule.cost == found.schedule.cost


def test_told_dates_stay_where_a_plan_that_keeps_them_is_as_good() -> None:
    """Told at what is known to be possible, nothing has to move, however dear delay is elsewhere."""
    problem = eventful_shop(7)
    *_, (plan, _) = plans(problem, QUICK)
    told = tuple(replace(job, told=plan.finish[job.name]) for job in problem.jobs)
    again = replace(problem, jobs=told, move_cost=100_000)
    *_, (kept, _) = plans(again, QUICK)
    assert told_moved(again, kept.finish) == ()
