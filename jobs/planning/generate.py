"""Invented shops by seed, for tests and the bench: the same seed, the same shop.

They are meant to be like a real one, with hours by the square foot as is common practice (no
source): form 0.15 to 0.35, cast 0.1 to 0.2, grind 0.05 to 0.4, coats 0.05 to 0.15; a third to a
half of the jobs cast in one run; 13 to 20 h to the demold by the day's air and other strengths in
proportion (a hone twice that age, a polish five times, the truck seven times); one to three days
to dry. Three people can do most things, the others two things each and carry.

Dates are those an owner gives who counts hours: jobs are booked one after the other, each given the
day on which the scarcest of tables, people, bay and air would be through with all before it if
nothing ever stood idle, and twelve days to three weeks from there (ten to fourteen days is the
least from cast to install, three weeks is comfortable; ten to eighteen days in the smallest, which
is seldom late). Things stand idle only in fact: so a list by due date is late with many, and a few
can't be kept by any plan. Looking only for a better order of the jobs leaves about half of a list's
lateness: how good a search looks beside a list is as much the dates' doing as its own.
"""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import dataclass, replace
from math import ceil
from typing import NamedTuple

from jobs.planning.problem import (
    After,
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

DAY = 48  # slots
OPENS, CLOSES = 14, 32  # 7:00 to 16:00
SETTLE = 4
BOOKED = 0.9  # the hours that the owner thinks a piece takes, by those it does
SKILLS = ("form", "cast", "grind", "seal", "move")
AREAS = (8, 12, 16, 20, 24, 30)  # ft2


@dataclass(frozen=True)
class Size:
    jobs: int
    pieces: int
    tables: int
    people: int
    bays: int  # wet bays, and pieces that the booth takes at a time
    days: int
    lead: tuple[int, int] = (12, 21)  # days from the turn to the customer


SMALL = Size(jobs=4, pieces=12, tables=3, people=3, bays=1, days=60, lead=(10, 18))
MIDDLE = Size(jobs=12, pieces=45, tables=4, people=4, bays=1, days=110)
LARGE = Size(jobs=40, pieces=160, tables=7, people=7, bays=2, days=200)
SIZES = {"4 jobs": SMALL, "12 jobs": MIDDLE, "40 jobs": LARGE}


def random_shop(size: Size, seed: int) -> Problem:
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
            Place("booth", size.bays, "booth"),
            Place("mixer", 1, "mixer"),
            Place("truck", 1, "truck"),
        ),
        settle=SETTLE,
    )
    widths = sorted(place.room for place in shop.places if place.kind == "table")
    air = Air(tuple(draw.randint(26, 40) for _ in days), tuple(draw.randint(48, 144) for _ in days))
    pieces: list[Piece] = []
    for job, pieces_of_job in enumerate(shares(draw, size)):
        name = str(200 + job)
        matched = pieces_of_job > 1 and draw.random() < 0.4
        run = min(pieces_of_job, 2) if matched else 0
        areas = [min(draw.choice(AREAS), widths[-1]) for _ in range(pieces_of_job)]
        areas[:run] = [min(area, widths[-run]) for area in areas[:run]]
        cast = hours(draw, sum(areas[:run]), 0.1, 0.2, crew=2)
        for index, area in enumerate(areas):
            ask = Ask(f"{name}-{chr(65 + index)}", name, area, cast if index < run else 0)
            pieces.append(a_piece(draw, shop, ask, air))
    return Problem(shop, tuple(jobs_of(draw, size, shop, pieces)), tuple(pieces))


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


def hours(draw: random.Random, area: int, least: float, most: float, crew: int = 1) -> int:
    """Slots for a crew, by hours of one person for a square foot."""
    return max(1, min(16, ceil(2 * area * draw.uniform(least, most) / crew)))


class Air(NamedTuple):
    cure: tuple[int, ...]  # slots to the demold, by the day of casting
    drying: tuple[int, ...]

    def aged(self, times: float, why: str) -> Lag:
        return Lag(by_day=tuple(int(each * times) for each in self.cure), why=why)


class Ask(NamedTuple):
    code: str
    job: str
    area: int
    cast: int  # slots, for a piece that is cast in its job's run


def a_piece(draw: random.Random, shop: Shop, ask: Ask, air: Air) -> Piece:
    area = ask.area
    tables = tuple(
        place.name for place in shop.places if place.kind == "table" and place.room >= area
    )
    many = len(shop.people) > 3
    builders = 2 if many and area > 16 else 1
    polished = draw.random() < 0.3
    cast = Step(
        "cast",
        ask.cast or hours(draw, area, 0.1, 0.2, crew=2),
        2,
        "cast",
        uses=("mixer",),
        air="dust",
        lag=air.aged(1, "cure"),
        together=f"run {ask.job}" if ask.cast else "",
    )
    film = Lag(draw.choice((DAY, 2 * DAY)), why="sealer cure")
    slots = hours(draw, area, 0.03, 0.06)
    coat = Step("coat", slots, 1, "seal", uses=("booth",), air="coat", lag=film)
    recoat = Lag(draw.randint(8, 16), (), DAY, "recoat")
    twice = replace(coat, name="coat 1", lag=recoat), replace(coat, name="coat 2")
    steps = (
        Step(
            "form",
            hours(draw, area, 0.15, 0.35, builders),
            builders,
            "form",
            lag=Lag(2, (), 4 * DAY),
        ),
        cast,
        Step("demold", draw.randint(1, 2), 3 if many and area > 20 else 2, "move"),
        Step(
            "grind",
            hours(draw, area, *((0.2, 0.4) if polished else (0.05, 0.2))),
            1,
            "grind",
            uses=("wet bay",),
            lag=Lag(by_day=air.drying, why="drying"),
            after=(After(1, air.aged(5 if polished else 2, "strength")),),
        ),
        *(twice if draw.random() < 0.7 else (coat,)),
        Step(
            "deliver",
            6,
            2,
            "move",
            uses=("truck",),
            together=f"deliver {ask.job}",
            after=(After(1, air.aged(7, "strength")),),
        ),
    )
    holds = (
        Hold(tables, 0, 2, amount=area),
        Hold(("rack",), 2, len(steps) - 1, from_end=True),
    )
    return Piece(ask.code, ask.job, steps, holds)


def jobs_of(draw: random.Random, size: Size, shop: Shop, pieces: list[Piece]) -> list[Job]:
    """Booked in turn, each with the date that hours alone would give."""
    room = capacity(shop)
    ahead: Counter[str] = Counter()
    events = set()
    rows = []
    for number in range(size.jobs):
        name = str(200 + number)
        days = max(ahead[kind] / room[kind] for kind in room) * 7 / 5
        lead = draw.uniform(*size.lead)
        due = int(BOOKED * days + lead) * DAY + CLOSES
        rows.append(Job(name, due, weight=draw.choice((1, 1, 2, 3))))
        for piece in pieces:
            for step in piece.steps if piece.job == name else ():
                if step.together not in events:
                    ahead.update(demand(step, size.bays))
                    events |= {step.together} - {""}
            ahead["table"] += 2 * piece.holds[0].amount * (piece.job == name)
    return rows


def capacity(shop: Shop) -> dict[str, float]:
    """What a working day offers of each, in slots; tables in square feet, each taken for two days
    by a piece; air that changes once a day from dust to coats."""
    open_hours = CLOSES - OPENS
    able = Counter(skill for person in shop.people for skill in person.skills)
    return {
        "table": sum(place.room for place in shop.places if place.kind == "table"),
        "air": next(place.room for place in shop.places if place.kind == "booth")
        * (open_hours - SETTLE),
        "people": len(shop.people) * open_hours,
        **{skill: able[skill] * open_hours for skill in SKILLS},
        **{
            place.name: place.room * open_hours
            for place in shop.places
            if place.kind in {"wet bay", "mixer", "truck"}
        },
    }


def demand(step: Step, bays: int) -> dict[str, int]:
    work = step.slots * step.crew
    air = {"dust": bays, "coat": 1}.get(step.air, 0) * step.slots
    return {"people": work, step.skill: work, "air": air, **dict.fromkeys(step.uses, step.slots)}
