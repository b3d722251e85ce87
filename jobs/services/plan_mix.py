"""A stored plan brought back to the shop as it is, and its mix with the one that stands."""

from __future__ import annotations

import datetime as dt
import logging
from collections.abc import Collection
from dataclasses import dataclass, replace

from jobs.planning.check import broken_rules, jobs_named
from jobs.planning.problem import Key, Piece, Plan, Problem
from jobs.services.errors import Refused
from jobs.services.plan_read import PlanRead

log = logging.getLogger("curewright.plan")


@dataclass(frozen=True)
class Raw:
    """A plan by codes and moments, which mean the same to a problem that is filled anew."""

    starts_at: dt.datetime
    steps: tuple[tuple[str, int, dt.datetime, tuple[str, ...]], ...]
    held: tuple[tuple[str, int, str], ...]
    finish: tuple[tuple[str, dt.datetime], ...]


def raw_of(read: PlanRead, plan: Plan) -> Raw:
    moment = read.filled.moment
    return Raw(
        starts_at=read.filled.starts_at,
        steps=tuple(
            (key.piece, key.step, moment(slot), plan.people.get(key, ()))
            for key, slot in sorted(plan.starts.items())
        ),
        held=tuple((code, number, name) for (code, number), name in sorted(plan.held.items())),
        finish=tuple((job, moment(slot)) for job, slot in sorted(plan.finish.items())),
    )


def plan_from(raw: Raw, read: PlanRead) -> Plan:
    slot = read.filled.slot
    return Plan(
        starts={Key(code, step): slot(at) for code, step, at, _ in raw.steps},
        people={Key(code, step): tuple(people) for code, step, _, people in raw.steps},
        held={(code, number): name for code, number, name in raw.held},
        finish={job: slot(at) for job, at in raw.finish},
    )


def mixed(
    read: PlanRead, old: Plan | None, new: Plan, chosen: Collection[str]
) -> tuple[Problem, Plan]:
    """The new plan of the chosen jobs beside what stands of the others. Pieces of which neither
    says anything are left out of problem and plan."""
    problem, old = read.problem, old or Plan({}, {}, {}, {})
    kept: list[Piece] = []
    mix = Plan({}, {}, {}, {})
    for piece in problem.pieces:
        source = new if piece.job in chosen else old
        keys = [Key(piece.code, number) for number in range(len(piece.steps))]
        ahead = [key for key, step in zip(keys, piece.steps, strict=True) if step.began is None]
        if not all(key in source.starts for key in ahead):
            continue
        kept.append(piece)
        for key, step in zip(keys, piece.steps, strict=True):
            begun = step.began is not None
            mix.starts[key] = step.began if step.began is not None else source.starts[key]
            mix.people[key] = step.by if begun else source.people.get(key, ())
        for number, hold in enumerate(piece.holds):
            at = hold.at or source.held.get((piece.code, number))
            if at:
                mix.held[piece.code, number] = at
    names = {piece.job for piece in kept}
    codes = {piece.code for piece in kept}
    whole = names - {piece.job for piece in problem.pieces if piece.code not in codes}
    whole -= read.filled.undated
    for piece in kept:
        if piece.job in whole:
            end = mix.starts[piece.counted] + piece.steps[piece.counted.step].slots
            mix.finish[piece.job] = max(mix.finish.get(piece.job, end), end)
    jobs = tuple(job for job in problem.jobs if job.name in names)
    return replace(problem, pieces=tuple(kept), jobs=jobs), mix


def refuse_broken(read: PlanRead, problem: Problem, mix: Plan, chosen: Collection[str]) -> None:
    """Only what the chosen jobs break is told: what stands may be wrong of itself already."""
    beside: set[str] = set()
    alone: set[str] = set()
    for rule in broken_rules(problem, mix):
        named = jobs_named(problem, rule)
        mine = named & set(chosen)
        if not mine:
            continue
        log.info("A plan is not taken: %s", rule)
        others = named - set(chosen)
        beside |= others
        if not others:
            alone |= mine
    if alone:
        raise Refused(
            f"{spoken(alone)} no longer {'fits' if len(alone) == 1 else 'fit'} in as planned: "
            "something has changed in the shop since. Nothing was changed. Plan again.",
            field="stale",
        )
    if beside:
        raise Refused(
            f"This needs people or places that {spoken(beside)} "
            f"{'has' if len(beside) == 1 else 'have'} where "
            f"{'it stands' if len(beside) == 1 else 'they stand'} now. "
            f"Take {spoken(beside)} along, or leave both.",
            field="jobs",
        )


def spoken(jobs: Collection[str]) -> str:
    names = sorted(jobs)
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
