"""Invented shops by seed, for tests and the bench: the same seed, the same shop."""

from __future__ import annotations

import random
from dataclasses import dataclass
from typing import NamedTuple

from jobs.planning.problem import Hold, Job, Lag, Person, Piece, Place, Problem, Shop, Step, Window

DAY = 48  # slots
OPENS, CLOSES = 14, 32  # 7:00 to 16:00
SKILLS = ("form", "cast", "grind", "seal", "move")


@dataclass(frozen=True)
class Size:
    jobs: int
    pieces: int
    tables: int
    people: int
    bays: int
    days: int


SMALL = Size(jobs=4, pieces=12, tables=3, people=3, bays=1, days=45)
MIDDLE = Size(jobs=12, pieces=45, tables=4, people=4, bays=1, days=110)
LARGE = Size(jobs=40, pieces=160, tables=7, people=7, bays=2, days=200)
SIZES = {"4 jobs": SMALL, "12 jobs": MIDDLE, "40 jobs": LARGE}


def random_shop(size: Size, seed: int, tightness: float = 0.8) -> Problem:
    """Due dates are spread over `tightness` of the time that tables and people need in all."""
    draw = random.Random(f"shop {seed} {size}")  # noqa: S311 - invented shops, no secret
    days = range(size.days)
    shop = Shop(
        horizon=size.days * DAY,
        day_starts=tuple(day * DAY for day in days),
        shifts=tuple(Window(d * DAY + OPENS, d * DAY + CLOSES) for d in days if d % 7 < 5),
        people=people(draw, size),
        places=(
            *(
                Place(f"table {n + 1}", draw.choice((24, 32, 32, 40)), "table")
                for n in range(size.tables)
            ),
            Place("rack", 6 * size.tables, "rack"),
            Place("wet bay", size.bays, "wet bay"),
            Place("booth", 1, "booth"),
            Place("mixer", 1, "mixer"),
            Place("truck", 1, "truck"),
        ),
        settle=4,
    )
    widths = [place.room for place in shop.places if place.name.startswith("table")]
    cure = tuple(draw.randint(26, 40) for _ in days)  # 13 to 20 h, by the day's air
    drying = tuple(draw.randint(48, 144) for _ in days)
    rows = shares(draw, size)
    pieces: list[Piece] = []
    for job, pieces_of_job in enumerate(rows):
        name = str(200 + job)
        matched = pieces_of_job > 1 and draw.random() < 0.4
        run = min(pieces_of_job, 2) if matched else 0
        for index in range(pieces_of_job):
            area = min(draw.choice((8, 12, 16, 20, 24, 30)), max(widths))
            if index < run:
                area = min(area, sorted(widths)[-run])
            code = f"{name}-{chr(65 + index)}"
            together = f"run {name}" if index < run else ""
            pieces.append(a_piece(draw, shop, Ask(code, name, area, together), (cure, drying)))
    load = max(
        sum(40 for _ in pieces) / size.tables / (DAY / 2),
        sum(step.slots * step.crew for piece in pieces for step in piece.steps[:-1])
        / (size.people * (CLOSES - OPENS)),
    )
    span = (load * 7 / 5 + 8) * DAY
    jobs = tuple(
        Job(
            str(200 + job),
            due=int(draw.uniform(0.25, 1.0) * span * tightness) // DAY * DAY + CLOSES,
            weight=draw.choice((1, 1, 2, 3)),
        )
        for job in range(size.jobs)
    )
    return Problem(shop, jobs, tuple(pieces))


def people(draw: random.Random, size: Size) -> tuple[Person, ...]:
    rows = [
        Person("person 1", frozenset(SKILLS)),
        Person("person 2", frozenset(("form", "cast", "move", "seal"))),
        Person("person 3", frozenset(("cast", "grind", "move"))),
    ]
    for number in range(3, size.people):
        skills = frozenset(draw.sample(SKILLS[:4], 2)) | {"move"}
        day = draw.randrange(5, 20)
        absences = (Window(day * DAY, (day + draw.randint(1, 3)) * DAY),)
        rows.append(Person(f"person {number + 1}", skills, absences))
    return tuple(rows)


def shares(draw: random.Random, size: Size) -> list[int]:
    rows = [1] * size.jobs
    while sum(rows) < size.pieces:
        index = draw.randrange(size.jobs)
        if rows[index] < 7:
            rows[index] += 1
    return rows


class Ask(NamedTuple):
    code: str
    job: str
    area: int
    together: str


def a_piece(
    draw: random.Random, shop: Shop, ask: Ask, lags: tuple[tuple[int, ...], tuple[int, ...]]
) -> Piece:
    code, job, area, together = ask
    cure, drying = lags
    tables = tuple(
        place.name for place in shop.places if place.name.startswith("table") and place.room >= area
    )
    heavy = 2 if area < 24 else 3
    steps = [
        Step("form", draw.randint(4, 10), 1, "form", lag=Lag(2, (), 4 * DAY)),
        Step(
            "cast",
            5 if together else draw.randint(3, 6),
            2,
            "cast",
            uses=("mixer",),
            air="dust",
            lag=Lag(by_day=cure, why="cure"),
            together=together,
        ),
        Step(
            "demold",
            draw.randint(1, 2),
            min(heavy, 2),
            "move",
            lag=Lag(draw.choice((0, 24)), why="strength"),
        ),
        Step(
            "grind",
            draw.randint(2, 7),
            1,
            "grind",
            uses=("wet bay",),
            lag=Lag(by_day=drying, why="drying"),
        ),
        Step(
            "coat 1",
            draw.randint(1, 2),
            1,
            "seal",
            uses=("booth",),
            air="coat",
            lag=Lag(8, (), 40, "recoat"),
        ),
        Step("coat 2", 1, 1, "seal", uses=("booth",), air="coat", lag=Lag(48, why="sealer cure")),
    ]
    if draw.random() < 0.4:
        del steps[5]
        steps[4] = Step(
            "coat", 2, 1, "seal", uses=("booth",), air="coat", lag=Lag(48, why="sealer cure")
        )
    steps.append(Step("deliver", 6, 2, "move", uses=("truck",), together=f"deliver {job}"))
    last = len(steps) - 1
    return Piece(
        code,
        job,
        tuple(steps),
        (
            Hold(tables, 0, 2, amount=area),
            Hold(("rack",), 2, last, from_end=True),
        ),
    )
