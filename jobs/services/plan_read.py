"""The shop as the planner sees it: its problem, the plan that stands, and the way back to jobs."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

from django.db import transaction

from jobs.models import Job
from jobs.planning.fill import Filled, fill, known_plan
from jobs.planning.problem import Plan, Problem
from jobs.services.plan_facts import PlanFacts, plan_facts
from shop.models import Shop, StepKind
from shop.services.settings import the_shop


@dataclass(frozen=True)
class PlanRead:
    filled: Filled
    shop: Shop
    jobs: tuple[Job, ...]
    promised: Callable[[Job], dt.datetime | None]
    known: Plan | None
    edition: int
    facts: PlanFacts

    @property
    def problem(self) -> Problem:
        return self.filled.problem

    @cached_property
    def slot_hours(self) -> float:
        return (self.filled.moment(1) - self.filled.moment(0)).total_seconds() / 3600

    @cached_property
    def _leaving(self) -> dict[str, int]:
        found: dict[str, int] = {}
        for piece in self.problem.pieces:
            step = piece.steps[piece.counted.step]
            if step.skill == StepKind.DELIVER and step.began is None:
                found[piece.job] = max(found.get(piece.job, 0), step.slots)
        return found

    @cached_property
    def delivered(self) -> frozenset[str]:
        """Jobs of which every piece has left."""
        ahead = {
            piece.job
            for piece in self.problem.pieces
            if piece.steps[piece.counted.step].began is None
        }
        return frozenset(job.name for job in self.problem.jobs) - ahead

    def leaving(self, job: str) -> int:
        """Slots of its delivery, which may begin when its day is up: the plan counts to its end."""
        return self._leaving.get(job, 0)


def read_shop(now: dt.datetime | None = None, *, lock: bool = True) -> PlanRead:
    """All that a plan rests on, read at one moment."""
    with transaction.atomic():
        shop = the_shop()
        if lock:  # rebuilds take the same row: no edition is counted while the facts are read
            shop = Shop.objects.select_for_update().get(pk=1)
        facts = plan_facts(now)
    filled = fill(facts)
    return PlanRead(
        filled=filled,
        shop=shop,
        jobs=facts.facts.jobs,
        promised=facts.facts.promise_moment,
        known=known_plan(filled, facts),
        edition=shop.edition,
        facts=facts,
    )
