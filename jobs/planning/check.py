"""Whether a plan keeps every rule, told in words. Reads the problem as it was stated and shares no
code with what makes plans, so that a fault there cannot hide here."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator

from jobs.planning.problem import Key, Lag, Plan, Problem, Step

Span = tuple[int, int]
WORD = re.compile(r"[0-9A-Za-z]+(?:-[A-Za-z]+)?")


def broken_rules(problem: Problem, plan: Plan) -> list[str]:
    """Every rule the plan breaks; none, if it can be carried out as it stands."""
    rules = Rules(problem, plan)
    return [
        *rules.completeness(),
        *rules.times(),
        *rules.together(),
        *rules.waits(),
        *rules.crews(),
        *rules.double_booking(),
        *rules.standing_places(),
        *rules.rooms(),
        *rules.air(),
        *rules.dates(),
    ]


def jobs_named(problem: Problem, rule: str) -> set[str]:
    """The jobs of the pieces that a broken rule names."""
    jobs = {piece.code: piece.job for piece in problem.pieces}
    return {jobs[word] for word in WORD.findall(rule) if word in jobs}


def dated(rule: str) -> set[str]:
    """The job of which a rule says that its date is not the end of its pieces."""
    first, *rest = rule.split()
    return {rest[0]} if first == "job" else set()


class Rules:
    def __init__(self, problem: Problem, plan: Plan) -> None:
        self.problem, self.plan, self.shop = problem, plan, problem.shop
        self.left_out = {fault.about for fault in plan.faults}
        self.step: dict[Key, Step] = {}
        self.pieces = []
        for piece in problem.pieces:
            keys = [Key(piece.code, number) for number in range(len(piece.steps))]
            if keys and all(key in plan.starts for key in keys):
                self.pieces.append(piece)
                self.step.update(zip(keys, piece.steps, strict=True))
        # What several pieces go through together happens once.
        self.events: dict[str, Key] = {}
        for key, step in self.step.items():
            self.events.setdefault(step.together or f"{key.piece}\n{key.step}", key)

    def span(self, key: Key) -> Span:
        begin = self.plan.starts[key]
        return begin, begin + self.step[key].slots

    def said(self, key: Key) -> str:
        return f"{key.piece} {self.step[key].name} (step {key.step}, slot {self.plan.starts[key]})"

    def completeness(self) -> Iterator[str]:
        planned = {piece.code for piece in self.pieces}
        for piece in self.problem.pieces:
            named = piece.code in self.left_out or piece.job in self.left_out
            if piece.code not in planned and not named:
                yield f"{piece.code} is not planned and nothing says why"
        for key in self.plan.starts:
            if key not in self.step and key.piece in planned:
                yield f"{key.piece} has no step {key.step}"

    def times(self) -> Iterator[str]:
        for key, step in self.step.items():
            begin, end = self.span(key)
            if step.began is not None:
                if begin != step.began:
                    yield f"{self.said(key)}: it began at {step.began}"
                continue
            if step.pin is not None and begin != step.pin:
                yield f"{self.said(key)}: it is pinned to {step.pin}"
            if begin < 0 or end > self.shop.horizon:
                yield f"{self.said(key)}: outside the time that is planned"
            if step.crew and not inside((begin, end), self.shop.shifts):
                yield f"{self.said(key)}: not within one shift"
            if step.windows and not inside((begin, end), step.windows):
                yield f"{self.said(key)}: outside its windows"

    def together(self) -> Iterator[str]:
        for key, step in self.step.items():
            if not step.together:
                continue
            other = self.events[step.together]
            if self.plan.starts[key] != self.plan.starts[other]:
                yield f"{self.said(key)}: not at the same time as {self.said(other)}"
            if self.plan.people[key] != self.plan.people[other]:
                yield f"{self.said(key)}: not by the same people as {self.said(other)}"

    def waits(self) -> Iterator[str]:
        for piece in self.pieces:
            for number, step in enumerate(piece.steps):
                if step.began is not None:
                    continue
                asked = [(after.step, after.lag) for after in step.after]
                if number:
                    asked.append((number - 1, piece.steps[number - 1].lag))
                for earlier, lag in asked:
                    yield from self.wait(Key(piece.code, earlier), Key(piece.code, number), lag)

    def wait(self, before: Key, after: Key, lag: Lag) -> Iterator[str]:
        name = self.step[before].name
        gap = self.plan.starts[after] - self.span(before)[1]
        least = self.least(lag, self.plan.starts[before])
        if gap < least:
            yield f"{self.said(after)}: {gap} slots after {name}, {least} are needed"
        if lag.greatest is not None and gap > lag.greatest:
            yield f"{self.said(after)}: {gap} slots after {name}, {lag.greatest} at the most"

    def least(self, lag: Lag, begin: int) -> int:
        if not lag.by_day:
            return lag.least
        day = sum(1 for each in self.shop.day_starts if each <= begin) - 1
        return lag.by_day[min(max(day, 0), len(lag.by_day) - 1)]

    def crews(self) -> Iterator[str]:
        people = {person.name: person for person in self.shop.people}
        for key, step in self.step.items():
            names = self.plan.people[key]
            if step.began is not None:
                if set(names) != set(step.by):
                    yield f"{self.said(key)}: {', '.join(step.by)} began it"
                continue
            if len(names) != step.crew or len(set(names)) != len(names):
                yield f"{self.said(key)}: {len(set(names))} people, {step.crew} are needed"
            begin, end = self.span(key)
            for name in names:
                if name not in people:
                    yield f"{self.said(key)}: nobody is called {name}"
                    continue
                if step.skill and step.skill not in people[name].skills:
                    yield f"{self.said(key)}: {name} cannot do {step.skill}"
                if any(begin < away[1] and away[0] < end for away in people[name].absences):
                    yield f"{self.said(key)}: {name} is away"

    def double_booking(self) -> Iterator[str]:
        days: dict[str, list[tuple[int, int, Key]]] = defaultdict(list)
        for key in self.events.values():
            begin, end = self.span(key)
            for name in self.plan.people[key]:
                if end > begin:
                    days[name].append((begin, end, key))
        for name, spans in days.items():
            spans.sort()
            for index, (begin, _, key) in enumerate(spans):
                for _, end, other in spans[:index]:
                    facts = self.step[key].began is not None and self.step[other].began is not None
                    if end > max(begin, 0) and not facts:
                        yield f"{self.said(key)}: {name} is at {self.said(other)} then"

    def standing_places(self) -> Iterator[str]:
        names = {place.name for place in self.shop.places}
        for piece in self.pieces:
            for number, hold in enumerate(piece.holds):
                at = self.plan.held.get((piece.code, number))
                over = (
                    piece.steps[hold.last].began is not None
                    and self.span(Key(piece.code, hold.last))[1] <= 0
                )
                if at is None:
                    if not over:
                        yield f"{piece.code}: no place for what it holds from step {hold.first}"
                elif at not in ((hold.at,) if hold.at else hold.places) or at not in names:
                    yield f"{piece.code}: it may not stand at {at}"

    def rooms(self) -> Iterator[str]:
        taken: dict[str, list[tuple[int, int, int, bool, str]]] = defaultdict(list)
        for key in self.events.values():
            begin, end = self.span(key)
            for name in self.step[key].uses:
                taken[name].append((begin, end, 1, self.step[key].began is None, self.said(key)))
        for piece in self.pieces:
            for number, hold in enumerate(piece.holds):
                at = self.plan.held.get((piece.code, number))
                if at is None:
                    continue
                first, last = Key(piece.code, hold.first), Key(piece.code, hold.last)
                begin = self.span(first)[1 if hold.from_end else 0]
                mine = self.step[first].began is None
                taken[at].append((begin, self.span(last)[1], hold.amount, mine, piece.code))
        for place in self.shop.places:
            rows = taken[place.name]
            for slot in sorted({max(0, row[0]) for row in rows}):
                there = [row for row in rows if row[0] <= slot < row[1]]
                if sum(row[2] for row in there) > place.room and any(row[3] for row in there):
                    yield (
                        f"{place.name} has room for {place.room} and slot {slot} brings "
                        + ", ".join(row[4] for row in there)
                    )

    def air(self) -> Iterator[str]:
        dusty = [key for key in self.events.values() if self.step[key].air == "dust"]
        coats = [key for key in self.events.values() if self.step[key].air == "coat"]
        for dust in dusty:
            for coat in coats:
                if self.step[dust].began is not None and self.step[coat].began is not None:
                    continue
                begin, end = self.span(dust)
                start, stop = self.span(coat)
                if start < end + self.shop.settle and begin < stop and start < stop:
                    yield f"{self.said(coat)}: dust from {self.said(dust)}"

    def dates(self) -> Iterator[str]:
        planned = {piece.code for piece in self.pieces}
        for job in self.problem.jobs:
            pieces = [piece for piece in self.problem.pieces if piece.job == job.name]
            ends = [self.span(piece.counted)[1] for piece in pieces if piece.code in planned]
            said = self.plan.finish.get(job.name)
            whole = bool(pieces) and len(ends) == len(pieces)
            if whole and said != max(ends):
                yield f"job {job.name} is through at {max(ends)}, the plan says {said}"
            if not whole and said is not None:
                yield f"job {job.name} has a date and not all its pieces are planned"


def inside(span: Span, spans: tuple[Span, ...] | tuple[tuple[int, int], ...]) -> bool:
    return any(begin <= span[0] and span[1] <= end for begin, end in spans)
