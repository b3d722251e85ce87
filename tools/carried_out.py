"""A plan carried out in plain Python, once: the rules of `jobs.planning.events` by other code.

It reads the problem and the plan as they are stated and looks at all of it at each moment, so it is
slow. Tests hold the compiled samples against it, and the bench draws the truth by it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from jobs.planning.problem import Hold, Key, Lag, Plan, Problem, Step

SLOT = 60  # ticks
ABOUT = SLOT  # so long people wait for what comes earlier in the plan and is about to begin
NEVER = 10**12
WaitOf = Callable[[str, int, int, int], int]  # piece, step, since, day -> ticks


@dataclass(frozen=True)
class Chances:
    """What comes true: ticks of work of an event, by its first step, and of waits; and the rules:
    ticks before which no event begins, by its first step; ticks past closing, and to mend."""

    work: dict[Key, int]
    wait: WaitOf
    release: dict[Key, int]
    over: int
    mend: int


@dataclass(frozen=True)
class Arc:
    source: int
    piece: str
    step: int
    since: int
    lag: Lag


def carry_out(problem: Problem, plan: Plan, chances: Chances) -> dict[Key, tuple[int, int]]:
    """Begin and end of every step in the plan, in ticks."""
    floor = Floor(problem, plan, chances)
    floor.run()
    return {
        key: (floor.begun[v], floor.ended[v])
        for v, keys in enumerate(floor.keys)
        for key in keys
        if v in floor.begun
    }


class Floor:
    def __init__(self, problem: Problem, plan: Plan, chances: Chances) -> None:
        self.problem, self.plan, self.chances, self.shop = problem, plan, chances, problem.shop
        self.pieces = {piece.code: piece for piece in problem.pieces}
        together: dict[object, list[Key]] = {}
        for key in plan.starts:
            together.setdefault(self.stated(key).together or key, []).append(key)
        for keys in together.values():
            keys.sort(key=lambda key: list(self.pieces).index(key.piece))
        self.keys = sorted(together.values(), key=lambda keys: (plan.starts[keys[0]], keys[0]))
        self.step = [self.stated(keys[0]) for keys in self.keys]
        self.at = {key: v for v, keys in enumerate(self.keys) for key in keys}
        self.start = [plan.starts[keys[0]] * SLOT for keys in self.keys]
        self.length = [step.slots * SLOT for step in self.step]
        self.arcs = [list(self.arcs_to(v)) for v in range(len(self.keys))]
        self.stays = list(self.all_stays())
        self.comes_after = [self.before(number) for number in range(len(self.stays))]
        self.stays_of: list[list[int]] = [[] for _ in self.keys]
        for number, stay in enumerate(self.stays):
            self.stays_of[stay[2]].append(number)
        self.out: list[list[tuple[int, Arc]]] = [[] for _ in self.keys]
        for v, arcs in enumerate(self.arcs):
            for arc in arcs:
                self.out[arc.source].append((v, arc))
        self.people = sorted(self.shop.people, key=lambda p: (len(p.skills), p.name))
        self.begun: dict[int, int] = {}
        self.ended: dict[int, int] = {}
        self.crew: dict[int, tuple[str, ...]] = {}
        self.aside: dict[int, int] = {}
        self.now = 0

    def stated(self, key: Key) -> Step:
        return self.pieces[key.piece].steps[key.step]

    def arcs_to(self, v: int) -> Iterable[Arc]:
        for code, index in self.keys[v]:
            steps = self.pieces[code].steps
            for after in steps[index].after:
                yield Arc(self.at[Key(code, after.step)], code, index, after.step, after.lag)
            if index:
                lag = steps[index - 1].lag
                yield Arc(self.at[Key(code, index - 1)], code, index, index - 1, lag)

    def all_stays(self) -> Iterable[tuple[str, int, int, int, int, int]]:
        """Place, amount, first and last event, begin and end in the plan."""
        names = set(self.plan.held.values())
        for (code, number), place in self.plan.held.items():
            hold: Hold = self.pieces[code].holds[number]
            first, last = Key(code, hold.first), Key(code, hold.last)
            if first not in self.at:
                continue
            begin = self.start[self.at[first]]
            begin += self.length[self.at[first]] if hold.from_end else 0
            v = self.at.get(last, -1)
            end = self.start[v] + self.length[v] if v >= 0 else NEVER
            yield place, hold.amount, self.at[first], v, begin, end
        for v, step in enumerate(self.step):
            for place in step.uses:
                if place in names:
                    yield place, 1, v, v, self.start[v], self.start[v] + self.length[v]

    def done(self, v: int) -> bool:
        return v in self.ended and self.ended[v] <= self.now

    def running(self) -> list[int]:
        return [v for v in self.begun if self.ended[v] > self.now]

    def wait(self, arc: Arc, begin: int) -> int:
        stated = self.step[arc.source].began
        slot = stated if stated is not None else max(begin, 0) // SLOT
        return self.chances.wait(arc.piece, arc.step, arc.since, self.shop.day_of(slot))

    def before(self, number: int) -> list[tuple[int, int]]:
        """Those that come to the place before: the event that ends each, and what it takes."""
        place, _, first, _, begin, end = self.stays[number]
        found = []
        for index, (where, amount, _, last, comes, leaves) in enumerate(self.stays):
            if where != place or (comes, leaves, index) >= (begin, end, number):
                continue
            done = self.start[last] + self.length[last] if last >= 0 else NEVER
            if last < 0 or leaves > begin or done <= self.start[first]:
                found.append((last, amount))
        return found

    def room_for(self, number: int) -> bool:
        place, amount = self.stays[number][:2]
        room = next(each.room for each in self.shop.places if each.name == place)
        others = self.comes_after[number]
        taken = sum(many for last, many in others if last < 0 or not self.done(last))
        return taken + amount <= room

    def lacking(self, v: int) -> int:
        arcs = sum(not self.done(arc.source) for arc in self.arcs[v])
        return arcs + sum(not self.room_for(number) for number in self.stays_of[v])

    def early(self, v: int) -> int:
        times = [max(0, self.chances.release[self.keys[v][0]])]
        for arc in self.arcs[v]:
            if self.done(arc.source):
                times.append(self.ended[arc.source] + self.wait(arc, self.begun[arc.source]))
        return max(times)

    def deadline(self, v: int) -> int:
        return min(
            (
                self.ended[arc.source] + arc.lag.greatest * SLOT + self.chances.over
                for arc in self.arcs[v]
                if arc.lag.greatest is not None and self.done(arc.source)
            ),
            default=NEVER,
        )

    def opening(self, v: int, t: int) -> int:
        step, found = self.step[v], NEVER
        shifts = self.shop.shifts if step.crew else ((0, self.shop.horizon),)
        over = self.chances.over if step.crew and not step.windows else 0
        spans = [(begin, end) for begin, end in shifts]
        if step.windows:
            last = max(step.windows)[1]
            spans = [
                (max(a, begin), min(b, end))
                for a, b in (*step.windows, (last, self.shop.horizon))
                for begin, end in shifts
            ]
        for begin, end in spans:
            at = max(t, begin * SLOT)
            if begin <= end - step.slots and at <= end * SLOT - self.length[v] + over:
                found = min(found, at)
        return found

    def end_of(self, v: int, t: int, work: int) -> int:
        if not self.step[v].crew:
            return t + work
        number = max(n for n, shift in enumerate(self.shop.shifts) if shift.begin * SLOT <= t)
        while True:
            stay = self.shop.shifts[number].end * SLOT + self.chances.over - t
            if work <= stay:
                return t + work
            work -= stay
            number += 1
            t = self.shop.shifts[number].begin * SLOT

    def held_until(self, v: int) -> int:
        tight = [(w, arc) for w, arc in self.out[v] if arc.lag.greatest is not None]
        if len(tight) != 1 or any(arc.source > v for arc in self.arcs[tight[0][0]]):
            return self.now
        w, arc = tight[0]
        end = self.now + self.length[v]
        early = max(end + self.wait(arc, self.now), self.chances.release[self.keys[w][0]])
        following = self.opening(w, early)
        most = (arc.lag.greatest or 0) * SLOT + self.chances.over
        if following == NEVER or following <= end + most:
            return self.now
        return self.opening(v, max(self.now + 1, following - most - self.length[v]))

    def urgent(self, v: int) -> bool:
        day = self.shop.day_starts[-1] - self.shop.day_starts[-2]
        return any(arc.lag.greatest is not None and arc.lag.greatest <= day for arc in self.arcs[v])

    def run(self) -> None:
        for v, step in enumerate(self.step):
            if step.began is not None:
                self.begun[v] = self.start[v]
                self.ended[v] = self.start[v] + self.chances.work[self.keys[v][0]]
                self.crew[v] = step.by
        while self.now < NEVER:
            before = set(self.begun)
            self.moment()
            # What takes no time is over at once, and something may follow it.
            if not any(self.ended[v] == self.now for v in set(self.begun) - before):
                self.now = self.next_moment()

    def ready(self) -> list[int]:
        """What lacks nothing, now or later; it is asked for at `aside`."""
        found = []
        for v in range(len(self.keys)):
            if v not in self.begun and not self.lacking(v):
                self.aside.setdefault(v, max(self.early(v), 0))
                found.append(v)
        return found

    def moment(self) -> None:
        waiting = []
        for v in self.ready():
            if self.aside[v] > self.now:
                continue
            at = self.opening(v, self.now)
            if at == self.now:
                at = self.held_until(v)
            self.aside[v] = at
            if at == self.now:
                waiting.append(v)
        waiting.sort(key=lambda v: (not self.urgent(v), v))
        soon = self.soon()
        kept: dict[str, int] = {}
        air: dict[str, int] = {}
        for v in waiting:
            self.try_one(v, soon, kept, air)

    def soon(self) -> list[tuple[int, int]]:
        limit = self.now + ABOUT
        rows = [(v, at) for v, at in self.aside.items() if self.now < at < limit]
        for v in self.running():
            end = max(self.now, self.begun[v] + self.length[v])
            for w, arc in self.out[v]:
                if self.lacking(w) == 1 and end < limit:
                    at = max(self.early(w), end + self.wait(arc, self.begun[v]))
                    if at < limit:
                        rows.append((w, at))
        return [(v, at) for v, at in rows if v not in self.begun]

    def try_one(
        self, v: int, soon: list[tuple[int, int]], kept: dict[str, int], air: dict[str, int]
    ) -> None:
        step, t = self.step[v], self.now
        end, settle = t + self.length[v], self.shop.settle * SLOT
        other = {"dust": "coat", "coat": "dust", "": "none"}[step.air]
        clean = end + (settle if step.air == "dust" else 0)
        if clean > air.get(step.air, NEVER):
            return
        if any(u < v and at < clean and self.step[u].air == other for u, at in soon):
            return
        at = max([t, *self.blocked_until(v)])
        crew = self.crew_for(v, soon, kept) if at == t else None
        if crew is None:
            times = [at, *(self.busy(name) for name in self.named(v))]
            times += [
                back * SLOT
                for person in self.shop.people
                for begin, back in person.absences
                if person.name in self.named(v) and begin * SLOT < end and t < back * SLOT
            ]
            at = self.opening(v, max(times))
            if max(times) > t and at <= t + ABOUT:
                for name in self.named(v):
                    kept[name] = min(kept.get(name, NEVER), at)
                air[other] = min(air.get(other, NEVER), at)
            return
        late = t > self.deadline(v)
        work = self.chances.work[self.keys[v][0]] + (self.chances.mend if late else 0)
        self.begun[v], self.ended[v] = t, self.end_of(v, t, work)
        self.crew[v] = crew
        self.aside.pop(v)

    def named(self, v: int) -> tuple[str, ...]:
        return self.plan.people[self.keys[v][0]]

    def busy(self, name: str) -> int:
        return max((self.ended[v] for v, crew in self.crew.items() if name in crew), default=0)

    def blocked_until(self, v: int) -> Iterable[int]:
        names = set(self.plan.held.values())
        for place in self.shop.places:
            if place.name in self.step[v].uses and place.name not in names:
                takers = [u for u in self.begun if place.name in self.step[u].uses]
                if sum(not self.done(u) for u in takers) >= place.room:
                    yield self.ended[takers[-1]]
        for u in self.begun:
            if self.step[v].air == "coat" and self.step[u].air == "dust":
                yield self.ended[u] + self.shop.settle * SLOT
            if self.step[v].air == "dust" and self.step[u].air == "coat" and not self.done(u):
                yield self.ended[u]

    def crew_for(
        self, v: int, soon: list[tuple[int, int]], kept: dict[str, int]
    ) -> tuple[str, ...] | None:
        step, t = self.step[v], self.now
        end = t + self.length[v]
        free = []
        for person in self.people:
            away = any(
                begin * SLOT < max(end, t + 1) and t < back * SLOT
                for begin, back in person.absences
            )
            at_work = any(person.name in self.crew[u] for u in self.running())
            wanted = any(u < v and at < end and person.name in self.named(u) for u, at in soon)
            if not (away or at_work or wanted or kept.get(person.name, NEVER) < end):
                free.append(person)
        names = [person.name for person in free]
        if not step.crew or all(name in names for name in self.named(v)):
            return self.named(v)
        if t < self.start[v]:
            return None
        able = [p.name for p in free if not step.skill or step.skill in p.skills]
        able.sort(key=lambda name: name not in self.named(v))
        return tuple(able[: step.crew]) if len(able) >= step.crew else None

    def next_moment(self) -> int:
        ready = self.ready()
        waiting = [v for v in ready if self.aside[v] <= self.now]
        times = [self.ended[v] for v in self.running()]
        times += [max(self.now, self.aside[v]) for v in ready if v not in waiting]
        if waiting:
            dust = [self.ended[v] for v in self.begun if self.step[v].air == "dust"]
            times += [end + self.shop.settle * SLOT for end in dust]
            times += [self.start[v] for v in waiting]
            times += [back * SLOT for p in self.shop.people for _, back in p.absences]
        return min((at for at in times if at > self.now), default=NEVER)
