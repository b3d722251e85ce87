"""How full the shop is, day by day: tables, racks, stations, and each person's hours.

Read from the problem as stated and a plan of it; all in slots, which the caller knows in hours.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from jobs.planning.problem import Key, Person, Plan, Problem, Shop, Step, Window

Slots = np.ndarray[Any, np.dtype[Any]]  # a value for each slot


@dataclass(frozen=True)
class PlaceDay:
    """A place on one day. `share` is of its room over all hours, since concrete cures at night."""

    share: float
    busy: int  # slots in which anything is there
    peak: int  # the most that is there at one time, in the unit of its room
    room: int


@dataclass(frozen=True)
class PersonDay:
    used: int  # slots at work
    there: int  # slots in a shift and not away


@dataclass(frozen=True)
class Loads:
    """A row for each of `days`, the slots at which they begin (the first never before 0)."""

    days: tuple[int, ...]
    places: dict[str, tuple[PlaceDay, ...]]
    people: dict[str, tuple[PersonDay, ...]]

    def used(self) -> tuple[int, ...]:
        """Slots of work of all people together, by day."""
        return tuple(sum(row[day].used for row in self.people.values()) for day in self.indices)

    def there(self) -> tuple[int, ...]:
        return tuple(sum(row[day].there for row in self.people.values()) for day in self.indices)

    @property
    def indices(self) -> range:
        return range(len(self.days))


def loads(problem: Problem, plan: Plan) -> Loads:
    shop = problem.shop
    days = days_of(shop)
    room = {place.name: place.room for place in shop.places}
    standing = {name: np.zeros(shop.horizon, dtype=np.int64) for name in room}
    for name, begin, end, amount in what_stands(problem, plan):
        standing[name][max(0, begin) : max(0, end)] += amount
    working = {person.name: np.zeros(shop.horizon, dtype=bool) for person in shop.people}
    for name, begin, end in who_works(problem, plan):
        working[name][max(0, begin) : max(0, end)] = True
    open_hours = np.zeros(shop.horizon, dtype=bool)
    for shift in shop.shifts:
        open_hours[max(0, shift.begin) : max(0, shift.end)] = True
    return Loads(
        tuple(day.begin for day in days),
        {
            name: tuple(place_day(row[slice(*day)], room[name]) for day in days)
            for name, row in standing.items()
        },
        {
            person.name: person_days(working[person.name], here(person, open_hours), days)
            for person in shop.people
        },
    )


def days_of(shop: Shop) -> list[Window]:
    """Whole days as far as the plan reaches; what is past is not counted."""
    edges = [*(slot for slot in shop.day_starts if slot < shop.horizon), shop.horizon]
    return [Window(max(0, begin), end) for begin, end in pairwise(edges) if end > 0]


def what_stands(problem: Problem, plan: Plan) -> Iterator[tuple[str, int, int, int]]:
    """Place, begin, end and amount of all that stands or is done there."""
    for key, step in events(problem, plan):
        begin = plan.starts[key]
        for name in step.uses:
            yield name, begin, begin + step.slots, 1
    for piece in problem.pieces:
        for number, hold in enumerate(piece.holds):
            at = plan.held.get((piece.code, number))
            first, last = Key(piece.code, hold.first), Key(piece.code, hold.last)
            if at is None or first not in plan.starts or last not in plan.starts:
                continue
            begin = plan.starts[first] + (piece.steps[hold.first].slots if hold.from_end else 0)
            yield at, begin, plan.starts[last] + piece.steps[hold.last].slots, hold.amount


def who_works(problem: Problem, plan: Plan) -> Iterator[tuple[str, int, int]]:
    for key, step in events(problem, plan):
        begin = plan.starts[key]
        for name in plan.people.get(key, ()):
            yield name, begin, begin + step.slots


def events(problem: Problem, plan: Plan) -> Iterator[tuple[Key, Step]]:
    """What is done together counts once."""
    seen: set[str] = set()
    for piece in problem.pieces:
        for number, step in enumerate(piece.steps):
            key = Key(piece.code, number)
            if key not in plan.starts or (step.together and step.together in seen):
                continue
            seen.add(step.together)
            yield key, step


def place_day(row: Slots, room: int) -> PlaceDay:
    return PlaceDay(
        float(row.sum()) / (room * len(row)), int(np.count_nonzero(row)), int(row.max()), room
    )


def person_days(working: Slots, there: Slots, days: Sequence[Window]) -> tuple[PersonDay, ...]:
    return tuple(
        PersonDay(int(working[slice(*day)].sum()), int(there[slice(*day)].sum())) for day in days
    )


def here(person: Person, open_hours: Slots) -> Slots:
    slots = open_hours.copy()
    for away in person.absences:
        slots[max(0, away.begin) : max(0, away.end)] = False
    return slots
