"""Single small changes that might make a short promise hold, each as the problem it would make.

Those that need the engine (a warmer room, another sealer) are made by the caller in the same form.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from jobs.planning.faults import MOST_PEOPLE, sift, starts_in
from jobs.planning.lists import begun, list_all
from jobs.planning.problem import (
    Job,
    Key,
    Person,
    Piece,
    Place,
    Plan,
    Problem,
    Shop,
    Step,
    Window,
)
from jobs.planning.tables import ints
from jobs.planning.tasks import NONE, Tasks, compile_tasks

CALLED = 2  # pieces of a job offered to be cast first
MORE_DAYS = 2  # asked of the customer
EXTRA = "one person more"
EXTRA_TABLE = "one table more"
RANK = ("first", "before", "table", "part", "saturday", "person", "days")


@dataclass(frozen=True)
class Change:
    """`hours` is its price: hours of work more than usual, or of what the caller says (heating).

    The rest says what was changed, for whoever carries it out: the piece that is first and when its
    step can begin, the slots that are opened, the slot asked for.
    """

    key: str
    words: str
    hours: float
    problem: Problem
    piece: str = ""
    slot: int | None = None
    until: int | None = None
    slot_hours: float = 0.5


@dataclass(frozen=True)
class Naming:
    """How slots are said: the day they fall on, and how many hours one lasts."""

    day: Callable[[int], str] = lambda slot: f"slot {slot}"
    hours: float = 0.5


def changes(
    problem: Problem, known: Plan, job: str, naming: Naming | None = None
) -> tuple[Change, ...]:
    """The changes to try for a job that is late in the known plan, the cheapest first; asking the
    customer comes last."""
    case = Case(sift(problem)[0], known, job, naming or Naming())
    found = (
        *case.first(),
        *case.before(),
        *case.table(),
        *case.part(),
        *case.saturdays(),
        *case.person(),
        *case.days(),
    )
    return tuple(
        sorted(found, key=lambda each: (each.key == "days", each.hours, RANK.index(each.key)))
    )


class Case:
    def __init__(self, problem: Problem, known: Plan, name: str, naming: Naming) -> None:
        self.problem, self.known, self.shop = problem, known, problem.shop
        self.naming, self.name = naming, name
        self.job = next(job for job in problem.jobs if job.name == name)
        self.pieces = [piece for piece in problem.pieces if piece.job == name]

    def change(
        self,
        key: str,
        words: str,
        problem: Problem,
        *,
        slots: float = 0,
        piece: str = "",
        slot: int | None = None,
        until: int | None = None,
    ) -> Change:
        hours = self.naming.hours
        return Change(key, words, slots * hours, problem, piece, slot, until, hours)

    def within_shop(self, shop: Shop) -> Problem:
        return replace(self.problem, shop=shop)

    def end(self, piece: Piece) -> int:
        counted = piece.counted
        return self.known.starts.get(counted, NONE) + piece.steps[counted.step].slots

    def to_do(self) -> Iterator[tuple[Key, Step]]:
        for piece in self.pieces:
            for number, step in enumerate(piece.steps):
                if step.began is None:
                    yield Key(piece.code, number), step

    def first(self) -> Iterator[Change]:
        """Its late pieces, the latest first, each begun as many days sooner as the job is late."""
        tasks = compile_tasks(self.problem)
        soon = starts_if_first(tasks, self.name)
        late = [piece for piece in self.pieces if self.end(piece) > self.job.due]
        missing = max((self.end(piece) for piece in late), default=0) - self.job.due
        offered = 0
        for piece in sorted(late, key=self.end, reverse=True):
            number = next_step(piece)
            if number is None or offered == CALLED:
                continue
            key, step = Key(piece.code, number), piece.steps[number]
            planned = self.known.starts.get(key, NONE)
            start = max(soon.get(key, planned), planned - missing)
            start = max((slot for slot in self.openings(step) if slot <= start), default=NONE)
            if start == NONE or self.shop.day_of(planned) <= self.shop.day_of(start):
                continue
            offered += 1
            words = f"{step.name.capitalize()} {piece.code} first, by {self.naming.day(start)}"
            by = Window(0, end_of_day(self.shop, start))
            problem = self.with_step(key, windows=within(step.windows, by))
            yield self.change("first", words, problem, piece=piece.code, slot=start, until=by.end)

    def openings(self, step: Step) -> Iterator[int]:
        for first, last in starts_in(self.shop, step):
            yield from range(first, last + 1)

    def with_step(self, key: Key, **fields: object) -> Problem:
        """With a step changed, and all that are done together with it."""
        piece = next(each for each in self.problem.pieces if each.code == key.piece)
        group = piece.steps[key.step].together

        def changed(each: Piece, number: int, step: Step) -> Step:
            same = (each.code, number) == key or (group and step.together == group)
            return replace(step, **fields) if same else step  # type: ignore[arg-type]

        return replace(
            self.problem,
            pieces=tuple(
                replace(
                    each, steps=tuple(changed(each, n, step) for n, step in enumerate(each.steps))
                )
                for each in self.problem.pieces
            ),
        )

    def before(self) -> Iterator[Change]:
        yield self.change("before", f"Put job {self.name} before the others", self.problem)

    def table(self) -> Iterator[Change]:
        tables = {place.name: place for place in self.shop.places if place.kind == "table"}
        if not tables:
            return
        largest = max(tables.values(), key=lambda place: place.room)
        more = Place(EXTRA_TABLE, largest.room, "table")
        pieces = tuple(
            replace(
                piece,
                holds=tuple(
                    replace(hold, places=(*hold.places, more.name))
                    if not hold.at and hold.amount <= more.room and tables.keys() & set(hold.places)
                    else hold
                    for hold in piece.holds
                ),
            )
            for piece in self.problem.pieces
        )
        shop = replace(self.shop, places=(*self.shop.places, more))
        words = f"One table more, as large as {largest.name}"
        yield self.change("table", words, replace(self.problem, shop=shop, pieces=pieces))

    def person(self) -> Iterator[Change]:
        skills = frozenset(step.skill for _, step in self.to_do() if step.crew and step.skill)
        until = max(self.job.due, 0)
        slots = sum(max(0, min(each.end, until) - max(each.begin, 0)) for each in self.shop.shifts)
        if not slots or len(self.shop.people) >= MOST_PEOPLE:
            return
        more = Person(EXTRA, skills, (Window(until, self.shop.horizon),))
        words = f"One person more until {self.naming.day(until)}"
        problem = self.within_shop(replace(self.shop, people=(*self.shop.people, more)))
        yield self.change("person", words, problem, slots=slots, until=until)

    def saturdays(self) -> Iterator[Change]:
        """Closed days after an open one: the next one, and the first and the last on its way."""
        begins = [self.known.starts.get(key, 0) for key, _ in self.to_do()]
        days = [
            (day, hours)
            for day, hours in closed_days(self.shop)
            if hours[-1].end <= self.job.due and hours[0].begin >= 0
        ]
        on_the_way = [each for each in days if each[0] >= min(begins, default=0)]
        chosen = dict([*days[:1], *on_the_way[:1], *on_the_way[-1:]])
        for _, hours in sorted(chosen.items()):
            shifts = tuple(sorted((*self.shop.shifts, *hours)))
            slots = sum(there(person, each) for person in self.shop.people for each in hours)
            words = f"Work {self.naming.day(hours[0].begin)}"
            yield self.change(
                "saturday",
                words,
                self.within_shop(replace(self.shop, shifts=shifts)),
                slots=slots,
                slot=hours[0].begin,
                until=hours[-1].end,
            )

    def part(self) -> Iterator[Change]:
        """The pieces that can be there in time go first, the others follow by themselves."""
        trips = [piece.steps[piece.counted.step] for piece in self.pieces]
        if any(step.began is not None or step.pin is not None for step in trips):
            return
        rest = [piece for piece in self.pieces if self.there_alone(piece) > self.job.due]
        first = [piece.code for piece in self.pieces if piece not in rest]
        if not first or not rest:
            return
        follows = f"{self.name}, the rest"
        left = {piece.code for piece in rest}
        pieces = tuple(
            apart(piece, follows) if piece.code in left else piece for piece in self.problem.pieces
        )
        late = max(self.end(piece) for piece in self.pieces)
        jobs = (*self.problem.jobs, Job(follows, max(late, self.job.due), self.job.weight))
        slots = trips[0].slots * trips[0].crew if trips[0].together else 0
        words = f"Deliver {', '.join(first)} first, {', '.join(sorted(left))} later"
        problem = replace(self.problem, jobs=jobs, pieces=pieces)
        yield self.change("part", words, problem, slots=slots)

    def there_alone(self, piece: Piece) -> int:
        """Where it need not wait for the job's other pieces, by the known plan."""
        number = piece.counted.step
        trip = piece.steps[number]
        waits = [(each.step, each.lag) for each in trip.after]
        if number:
            waits.append((number - 1, piece.steps[number - 1].lag))
        early = 0
        for before, lag in waits:
            start = self.known.starts.get(Key(piece.code, before), self.shop.horizon)
            least = lag.after(self.shop.day_of(start))
            early = max(early, start + piece.steps[before].slots + least)
        starts = [max(first, early) for first, last in starts_in(self.shop, trip) if last >= early]
        return min(starts, default=self.shop.horizon) + trip.slots

    def days(self) -> Iterator[Change]:
        """Two days more; or as many as the plan needs as it stands."""
        late = max((self.end(piece) for piece in self.pieces), default=NONE)
        starts = self.shop.day_starts
        today = self.shop.day_of(self.job.due)
        ahead = range(1, len(starts) - today)
        needed = [n for n in ahead if self.moved_due(today, n) >= late][:1]
        for number in sorted({MORE_DAYS, *needed} & set(ahead)):
            due = self.moved_due(today, number)
            jobs = tuple(
                replace(job, due=due, told=None) if job.name == self.name else job
                for job in self.problem.jobs
            )
            asked = f"{number} day{'s' if number > 1 else ''}"
            words = f"Ask the customer for {asked}, until {self.naming.day(due)}"
            yield self.change("days", words, replace(self.problem, jobs=jobs), until=due)

    def moved_due(self, today: int, days: int) -> int:
        starts = self.shop.day_starts
        return self.job.due - starts[today] + starts[today + days]


def next_step(piece: Piece) -> int | None:
    """The step that says when a piece goes first: its cast, or what comes next if it is cast."""
    open_steps = [n for n, step in enumerate(piece.steps) if step.began is None and step.crew]
    casts = [n for n in open_steps if piece.steps[n].lag.why == "cure"]
    chosen = (casts or open_steps)[:1]
    return chosen[0] if chosen and piece.steps[chosen[0]].pin is None else None


def starts_if_first(tasks: Tasks, name: str) -> dict[Key, int]:
    group = next((g for g, jobs in enumerate(tasks.groups) if tasks.jobs.index(name) in jobs), None)
    if group is None:
        return {}
    state = begun(tasks)
    ahead = [g for g in range(len(tasks.groups)) if tasks.rank[g] < 2 and g != group]
    if tasks.rank[group] < 2:
        ahead = [g for g in ahead if tasks.rank[g] < tasks.rank[group]]
    list_all(tasks.arrays, state, ints([*ahead, group]))
    return {key: int(state.start[v]) for key, v in tasks.event.items() if state.start[v] != NONE}


def within(windows: tuple[Window, ...], limit: Window) -> tuple[Window, ...]:
    cut = (
        Window(max(each.begin, limit.begin), min(each.end, limit.end))
        for each in windows or (limit,)
    )
    return tuple(each for each in cut if each.begin < each.end)


def end_of_day(shop: Shop, slot: int) -> int:
    after = bisect_right(shop.day_starts, slot)
    return shop.day_starts[after] if after < len(shop.day_starts) else shop.horizon


def closed_days(shop: Shop) -> Iterator[tuple[int, tuple[Window, ...]]]:
    """Each closed day that follows an open one, with the open one's hours moved to it; but not
    those that are to stay closed."""
    hours: dict[int, list[Window]] = {}
    for shift in shop.shifts:
        hours.setdefault(shop.day_of(shift.begin), []).append(shift)
    for day in range(1, len(shop.day_starts)):
        if day not in hours and day - 1 in hours and day not in shop.stays_closed:
            on = shop.day_starts[day] - shop.day_starts[day - 1]
            yield (
                shop.day_starts[day],
                tuple(Window(each.begin + on, each.end + on) for each in hours[day - 1]),
            )


def there(person: Person, hours: Window) -> int:
    slots = set(range(*hours))
    for away in person.absences:
        slots -= set(range(max(away.begin, hours.begin), min(away.end, hours.end)))
    return len(slots)


def apart(piece: Piece, follows: str) -> Piece:
    """The piece as part of another job, its last way made without the others."""
    number = piece.counted.step
    steps = tuple(
        replace(step, together=f"{step.together}, {follows}")
        if n >= number and step.together
        else step
        for n, step in enumerate(piece.steps)
    )
    return replace(piece, job=follows, steps=steps)
