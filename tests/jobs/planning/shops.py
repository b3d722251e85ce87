"""Small shops for tests: whole ones by seed, and a bare one to which a test adds what it is about."""

from __future__ import annotations

import random
from dataclasses import replace

from jobs.planning.generate import DAY, Size, random_shop
from jobs.planning.problem import (
    Hold,
    Job,
    Lag,
    Person,
    Piece,
    Place,
    Problem,
    Shop,
    Step,
    Window,
)

TINY = Size(jobs=3, pieces=5, tables=2, people=3, bays=1, days=40)


def bare_shop(days: int = 10, people: int = 2, **changes: object) -> Shop:
    """Every day from slot 14 to slot 32, everybody able to do everything asked by no skill."""
    shop = Shop(
        horizon=days * DAY,
        day_starts=tuple(day * DAY for day in range(days)),
        shifts=tuple(Window(day * DAY + 14, day * DAY + 32) for day in range(days)),
        people=tuple(Person(f"person {n}", frozenset({"cast"})) for n in range(people)),
        places=(
            Place("small table", 10),
            Place("large table", 30),
            Place("booth"),
            Place("rack", 4),
        ),
    )
    return replace(shop, **changes)


def one_job(shop: Shop, *pieces: Piece, due: int = 0) -> Problem:
    return Problem(shop, (Job("1", due=due),), pieces)


def piece(code: str, *steps: Step, holds: tuple[Hold, ...] = (), job: str = "1") -> Piece:
    return Piece(code, job, steps, holds)


def eventful_shop(seed: int) -> Problem:
    """A random shop with work under way, a pin, told dates and somebody away."""
    problem = random_shop(TINY, seed)
    draw = random.Random(seed)
    first, *others = problem.pieces
    people = tuple(person.name for person in problem.shop.people)
    formed = replace(first.steps[0], began=-20, by=people[:1])
    cast = replace(first.steps[1], together="", began=-6, by=people[:2])
    under_way = replace(
        first,
        steps=(formed, cast, *first.steps[2:]),
        holds=(replace(first.holds[0], at=first.holds[0].places[-1]), *first.holds[1:]),
    )
    day = draw.randrange(7, 12)
    pinned = others[-1]
    pin = replace(pinned.steps[0], pin=(day if day % 7 < 5 else day + 2) * DAY + 15)
    others[-1] = replace(pinned, steps=(pin, *pinned.steps[1:]))
    # The one it was to be cast with goes its own way.
    others = [
        replace(
            each,
            steps=tuple(
                replace(step, together="") if step.together == f"run {first.job}" else step
                for step in each.steps
            ),
        )
        for each in others
    ]
    jobs = tuple(replace(job, told=job.due + draw.choice((0, 96))) for job in problem.jobs)
    away = replace(
        problem.shop.people[1], absences=(Window(draw.randrange(0, 400), draw.randrange(401, 600)),)
    )
    shop = replace(problem.shop, people=(problem.shop.people[0], away, *problem.shop.people[2:]))
    return Problem(shop, jobs, (under_way, *others), move_cost=200)


def lag(least: int = 0, greatest: int | None = None) -> Lag:
    return Lag(least, (), greatest)


def like(problem: Problem, job: str) -> tuple[Piece, ...]:
    """Another customer asks for what this job is."""
    return tuple(
        replace(
            each,
            code=f"new-{each.code}",
            job="new",
            steps=tuple(
                replace(step, together=step.together and f"new {step.together}")
                for step in each.steps
            ),
        )
        for each in problem.pieces
        if each.job == job
    )
