"""Why a step is later in one plan than in another: what would be in its way at the time it had.

Followed back from a job's end: a step that waits for one that has moved sends the question on.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

from jobs.planning.problem import Key, Lag, Piece, Plan, Problem, Step


class Reason(NamedTuple):
    """`key` is fact, pin, hours, wait, away, people, place, air or choice."""

    key: str
    words: str
    by: Key | None = None  # the step that is in the way, or that it is over with


class Later:
    """The new plan of a problem beside the old one, which may be of an older problem."""

    def __init__(self, problem: Problem, old: Plan, new: Plan) -> None:
        self.problem, self.old, self.new = problem, old, new
        self.piece = {piece.code: piece for piece in problem.pieces}
        self.events: dict[str, Key] = {}  # what several pieces go through together, once
        for key in new.starts:
            name = self.step(key).together or f"{key.piece}\n{key.step}"
            self.events.setdefault(name, key)
        self.by_person: dict[str, list[Key]] = defaultdict(list)
        self.by_place: dict[str, list[Key]] = defaultdict(list)
        for key in self.events.values():
            for name in new.people.get(key, ()):
                self.by_person[name].append(key)
            for name in self.step(key).uses:
                self.by_place[name].append(key)
        self.room = {place.name: place.room for place in problem.shop.places}

    def step(self, key: Key) -> Step:
        return self.piece[key.piece].steps[key.step]

    def said(self, key: Key) -> str:
        return f"{key.piece} {self.step(key).name}"

    def span(self, key: Key) -> tuple[int, int]:
        begin = self.new.starts[key]
        return begin, begin + self.step(key).slots

    def why(self, key: Key) -> Reason:
        """What is in the way, and what that goes back to if it has itself moved."""
        seen: set[Key] = set()
        first = reason = self.traced(key, seen)
        while reason.by is not None and reason.by not in seen and self.is_later(reason.by):
            reason = self.traced(reason.by, seen)
        if reason is first or reason.key == "choice":
            return first
        return Reason(reason.key, f"{first.words}, since {reason.words}", reason.by)

    def traced(self, key: Key, seen: set[Key]) -> Reason:
        while True:
            seen.add(key)
            onward = [each for each in self.pushed_by(key) if each not in seen]
            if not onward:
                return self.reason(key)
            key = onward[0]

    def is_later(self, key: Key) -> bool:
        return key in self.old.starts and self.new.starts[key] > self.old.starts[key]

    def pushed_by(self, key: Key) -> Iterator[Key]:
        """Steps that have moved and without which this one could not be when it was."""
        step, was = self.step(key), self.old.starts.get(key)
        if was is None or step.began is not None:
            return
        for member in self.members(key):
            for before, lag in waits(self.piece[member.piece], member.step):
                source = Key(member.piece, before)
                if self.is_later(source) and self.span(source)[1] + self.least(source, lag) > was:
                    yield source
        # A step may not be long before the next: it was held back for that one's sake.
        for member in self.members(key):
            piece = self.piece[member.piece]
            for number in range(member.step + 1, len(piece.steps)):
                for before, lag in waits(piece, number):
                    after = Key(member.piece, number)
                    if before == member.step and lag.greatest is not None and self.is_later(after):
                        gap = self.new.starts[after] - was - step.slots
                        if gap > lag.greatest:
                            yield after

    def members(self, key: Key) -> Iterator[Key]:
        yield key
        name = self.step(key).together
        if name:
            for piece in self.problem.pieces:
                for number, step in enumerate(piece.steps):
                    other = Key(piece.code, number)
                    if step.together == name and other != key and other in self.new.starts:
                        yield other

    def least(self, source: Key, lag: Lag) -> int:
        return lag.after(self.problem.shop.day_of(max(0, self.new.starts[source])))

    def reason(self, key: Key) -> Reason:
        step, was = self.step(key), self.old.starts.get(key)
        name = self.said(key)
        if was is None:
            return Reason("choice", f"{name} is new in the plan")
        if step.began is not None:
            return Reason("fact", f"{name} was not done when it was planned")
        if step.pin is not None and step.pin > was:
            return Reason("pin", f"{name} is pinned to a later time")
        found = next(self.in_the_way(key, step, was), None)
        return found or Reason("choice", f"{name} makes room for other jobs")

    def in_the_way(self, key: Key, step: Step, was: int) -> Iterator[Reason]:
        name, end = self.said(key), was + step.slots
        shop = self.problem.shop
        if was < 0:
            yield Reason("fact", f"{name} was not done when it was planned")
        inside = [window for window in step.windows if window[0] <= was and end <= window[1]]
        shifts = [shift for shift in shop.shifts if shift.begin <= was and end <= shift.end]
        if (step.windows and not inside) or (step.crew and not shifts):
            yield Reason("hours", f"the shop or the site is closed when {name} was planned")
        for member in self.members(key):
            for before, lag in waits(self.piece[member.piece], member.step):
                source = Key(member.piece, before)
                if self.span(source)[1] + self.least(source, lag) > was:
                    waited = lag.why or "the wait"
                    yield Reason("wait", f"{waited} after {self.said(source)} takes longer")
        yield from self.people_in_the_way(key, step, (was, end))
        yield from self.places_in_the_way(key, step, (was, end))
        yield from self.air_in_the_way(key, step, (was, end))
        yield from self.holds_in_the_way(key, was)

    def people_in_the_way(self, key: Key, step: Step, span: tuple[int, int]) -> Iterator[Reason]:
        able = [
            person
            for person in self.problem.shop.people
            if not step.skill or step.skill in person.skills
        ]
        away = [person for person in able if any(meets(span, off) for off in person.absences)]
        busy: dict[str, Key] = {}
        for person in able:
            for other in self.by_person[person.name]:
                if other not in self.members(key) and meets(span, self.span(other)):
                    busy.setdefault(person.name, other)
        free = [each for each in able if each not in away and each.name not in busy]
        if len(free) >= step.crew:
            return
        planned = self.old.people.get(key, ())
        when = f"when {self.said(key)} was planned"
        # Who is away and was not to do it has not changed anything: what the others are at has.
        for person in away:
            if person.name in planned:
                yield Reason("away", f"{person.name} is away {when}")
        for name, other in sorted(busy.items(), key=lambda each: each[0] not in planned):
            yield Reason("people", f"{name} is at {self.said(other)} {when}", other)
        for person in away:
            yield Reason("away", f"{person.name} is away {when}")

    def places_in_the_way(self, key: Key, step: Step, span: tuple[int, int]) -> Iterator[Reason]:
        for place in step.uses:
            there = [
                other
                for other in self.by_place[place]
                if other not in self.members(key) and meets(span, self.span(other))
            ]
            if len(there) >= self.room[place]:
                yield Reason("place", f"{place} is taken by {self.said(there[0])}", there[0])

    def air_in_the_way(self, key: Key, step: Step, span: tuple[int, int]) -> Iterator[Reason]:
        settle = self.problem.shop.settle
        for other in self.events.values():
            air = self.step(other).air
            if not step.air or not air or air == step.air:
                continue
            begin, end = self.span(other)
            if step.air == "coat" and meets(span, (begin, end + settle)):
                yield Reason("air", f"dust from {self.said(other)} is in the air", other)
            if step.air == "dust" and meets((span[0], span[1] + settle), (begin, end)):
                yield Reason("air", f"{self.said(other)} wants air without dust", other)

    def holds_in_the_way(self, key: Key, was: int) -> Iterator[Reason]:
        for hold in self.piece[key.piece].holds:
            if hold.first != key.step or hold.from_end:
                continue
            for place in (hold.at,) if hold.at else hold.places:
                there = self.stands_at(place, was, key.piece)
                if there and sum(amount for _, _, amount in there) + hold.amount > self.room[place]:
                    code, until, _ = there[0]
                    yield Reason("place", f"{place} is taken by {code}", until)

    def stands_at(self, place: str, slot: int, but: str) -> list[tuple[str, Key, int]]:
        found = []
        for (code, number), at in self.new.held.items():
            if at != place or code == but:
                continue
            hold = self.piece[code].holds[number]
            begin = self.span(Key(code, hold.first))[1 if hold.from_end else 0]
            if begin <= slot < self.span(Key(code, hold.last))[1]:
                found.append((code, Key(code, hold.last), hold.amount))
        return found


def waits(piece: Piece, number: int) -> Iterator[tuple[int, Lag]]:
    """The steps that one of the piece's steps waits for."""
    if number:
        yield number - 1, piece.steps[number - 1].lag
    for after in piece.steps[number].after:
        yield after.step, after.lag


def meets(one: tuple[int, int], other: tuple[int, int]) -> bool:
    return one[0] < other[1] and other[0] < one[1]
