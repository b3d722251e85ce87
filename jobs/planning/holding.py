"""What holds each job: what would have to give way for it to be through sooner.

Each job is taken out of the plan and put back by the list, everything else left as it is: once as
the shop stands, and once for each thing it could be waiting for with that one thing set aside
(room on the tables, people, drying ...). What brings its date forward most holds it. Where nothing
does by itself but tables, people and stations do together, it is the one among them without which
the others would bring least.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np

from jobs.planning.faults import sift, starts_in
from jobs.planning.lists import give_back, place
from jobs.planning.loaded import state_of
from jobs.planning.problem import Key, Lag, Piece, Place, Plan, Problem, Step
from jobs.planning.state import State, copy_row, copy_state, entry, fresh
from jobs.planning.tables import Ints, Numbers, Shorts
from jobs.planning.tasks import NONE, TURNS, Arrays, Schedule, Tasks, compile_tasks, next_starts

AIR = "sealing air"
AMPLE = 10**6  # room where there is as much as one likes


@dataclass(frozen=True)
class Holding:
    """`key` is the kind of a place (table, rack, booth ...), people, what a lag is for (cure,
    drying, recoat ...), site, pin, hours, or none. `slots` is by how much sooner the job would be
    through without it; `beside` are other things that would have to give way at the same time.

    `sooner` is by how much the job could be sooner as the shop stands, nothing else moved.
    """

    job: str
    key: str
    words: str
    piece: str = ""
    step: int | None = None
    slots: int = 0
    beside: tuple[str, ...] = ()
    sooner: int = 0


class Put(NamedTuple):
    """Where a job ends when its group is put back, and the starts of all events then."""

    finish: int
    start: Ints


def what_holds(problem: Problem, plan: Plan) -> dict[str, Holding]:
    """For each job that is planned whole. `plan` keeps the rules of `problem`."""
    kept, _ = sift(problem)
    tasks = compile_tasks(kept)
    holder = Holder(tasks, schedule_from(tasks, plan))
    return {
        name: holder.holding(job, plan.finish[name])
        for job, name in enumerate(tasks.jobs)
        if name in plan.finish
    }


def schedule_from(tasks: Tasks, plan: Plan) -> Schedule:
    """The plan as arrays. Jobs that are not in it whole are left out."""
    bit = {person.name: 1 << index for index, person in enumerate(tasks.people)}
    row = {each.name: index for index, each in enumerate(tasks.problem.shop.places)}
    start = np.full(len(tasks.steps), NONE, dtype=np.int64)
    who = np.zeros(len(tasks.steps), dtype=np.int64)
    at = np.full(len(tasks.hold), -1, dtype=np.int64)
    for key, v in tasks.event.items():
        if key in plan.starts:
            start[v] = plan.starts[key]
            who[v] = sum(bit[name] for name in plan.people[key])
    for hold, index in tasks.hold.items():
        if hold in plan.held:
            at[index] = row[plan.held[hold]]
    a = tasks.arrays
    left_out = tuple(
        g
        for g, each in enumerate(a.group)
        if (start[a.seq[each.seq : each.seq + each.events]] == NONE).any()
    )
    return Schedule(start, who, at, 0, left_out)


@entry
def put_back(
    arrays: tuple[Arrays, Arrays],
    states: tuple[State, State],
    more: Ints,
    asked: tuple[int, int, int],
    best: Ints,
) -> int:
    """The soonest end of a job when its group is taken out by the first arrays and put back by the
    second, with `more` room in each place; the starts are left in `best`. The horizon if nowhere.

    `asked` is the group, the job and how many orders of the group are tried. The second state holds
    the plan and stays as it is, the first is to work in.
    """
    group, job, turns = asked
    a, b = arrays
    s, kept = states
    copy_state(kept, s)
    give_back(a, s, group)
    for k in range(len(more)):
        if more[k] > 0:
            for slot in range(s.room.shape[1]):
                s.room[k, slot] += more[k]
    finish = a.horizon
    for turn in range(turns):
        s.turn[group] = turn
        if not place(b, s, group):
            continue
        end = -1
        for index in range(b.job[job].last, b.job[job].last_end):
            v = b.last[index]
            end = max(end, s.start[v] + b.event[v].slots)
        if end < finish:
            finish = end
            copy_row(s.start, best)
        give_back(b, s, group)
    return finish


class Holder:
    def __init__(self, tasks: Tasks, schedule: Schedule) -> None:
        self.tasks, self.a, self.problem = tasks, tasks.arrays, tasks.problem
        self.kept, self.work = state_of(tasks, schedule), fresh(tasks.arrays)
        self.schedule = schedule

    def pieces_of(self, group: int) -> list[Piece]:
        names = {self.tasks.jobs[job] for job in self.tasks.groups[group]}
        return [piece for piece in self.problem.pieces if piece.job in names]

    def places_of(self, events: Numbers) -> dict[int, list[Place]]:
        """Per event the places it uses, and those that what it begins to hold could stand on."""
        places, a = self.problem.shop.places, self.a
        rows = {
            v: [places[int(k)] for k in a.use[row.use : row.use_end]]
            for v, row in zip(events.tolist(), a.event[events], strict=True)
        }
        for hold in a.hold[np.isin(a.hold.first, events)]:
            rows[int(hold.first)] += [places[int(k)] for k in a.fit[hold.fit : hold.fit_end]]
        return rows

    def holding(self, job: int, finish: int) -> Holding:
        group = next(g for g, jobs in enumerate(self.tasks.groups) if job in jobs)
        case = Case(self, group, job)
        name = self.tasks.jobs[job]
        now = case.put(frozenset())
        sooner = max(0, finish - now.finish)
        key, gain, beside = case.strongest(min(finish, now.finish))
        if not gain:
            return Holding(
                name, "none", "Nothing holds it: one step follows the other.", sooner=sooner
            )
        before = self.schedule.start if now.finish > finish else now.start
        piece, number = case.where(key, before, case.put(frozenset({key, *beside})).start)
        step = next(p for p in self.problem.pieces if p.code == piece).steps[number]
        return Holding(
            name, key, said(key, piece, step, beside), piece, number, gain, beside, sooner
        )


class Case:
    """One job of a group, put back into the plan with this or that set aside."""

    def __init__(self, holder: Holder, group: int, job: int) -> None:
        self.holder, self.tasks, self.a = holder, holder.tasks, holder.tasks.arrays
        self.group, self.job = group, job
        self.pieces = holder.pieces_of(group)
        self.turns = TURNS if len(self.pieces) > 1 else 1
        row = self.a.group[group]
        self.events = self.a.seq[row.seq : row.seq + row.events]
        self.places = holder.places_of(self.events)
        self.done: dict[frozenset[str], Put] = {}

    @cached_property
    def resources(self) -> tuple[str, ...]:
        """What the group could be waiting for that the shop has more or less of."""
        asked = {kind_of(place) for v in self.events for place in self.places[int(v)]}
        asked |= {"booth" for v in self.events if self.a.event[v].air}
        people = ("people",) if any(self.a.event[v].crew for v in self.events) else ()
        return (*sorted(asked), *people)

    @cached_property
    def others(self) -> tuple[str, ...]:
        """Dates that were set, and what is waited for between steps."""
        steps = [step for piece in self.pieces for step in piece.steps if step.began is None]
        pinned = ("pin",) if any(step.pin is not None for step in steps) else ()
        windows = sorted({of_windows(step) for step in steps if step.windows})
        return (*pinned, *windows, *sorted({word_of(lag) for _, _, lag in self.lags}))

    @cached_property
    def lags(self) -> list[tuple[int, int, Lag]]:
        """The event before, the event after, and the lag between them."""
        rows = []
        for piece in self.pieces:
            for number, step in enumerate(piece.steps):
                asked = [(after.step, after.lag) for after in step.after]
                if number:
                    asked.append((number - 1, piece.steps[number - 1].lag))
                v = self.tasks.event[Key(piece.code, number)]
                rows += [
                    (self.tasks.event[Key(piece.code, earlier)], v, lag)
                    for earlier, lag in asked
                    if lag.least or lag.by_day or lag.greatest is not None
                ]
        return rows

    def strongest(self, finish: int) -> tuple[str, int, tuple[str, ...]]:
        """What holds most, by how many slots, and what else has to give way for that."""

        def gain(keys: Iterable[str]) -> int:
            return max(0, finish - self.put(frozenset(keys)).finish)

        alone = {key: gain({key}) for key in (*self.others, *self.resources)}
        all_of_them = gain(self.resources)
        joint = {
            key: all_of_them - gain(set(self.resources) - {key})
            for key in self.resources
            if all_of_them > max((alone[each] for each in self.resources), default=0)
        }
        key = max(alone, key=lambda each: alone[each], default="")
        other = max(joint, key=lambda each: joint[each], default="")
        if key and alone[key] and alone[key] >= joint.get(other, 0):
            return key, alone[key], ()
        if other and joint[other]:
            # As few others as it takes beside it, those without which least is won first.
            rest = sorted((each for each in joint if each != other), key=lambda each: -joint[each])
            beside = next(
                tuple(rest[:many]) for many in range(len(rest) + 1) if gain({other, *rest[:many]})
            )
            return other, gain({other, *beside}), beside
        return "hours", gain({"hours"}), ()

    def put(self, keys: frozenset[str]) -> Put:
        if keys not in self.done:
            taken_by, put_by, more = self.loosened(keys)
            best = self.holder.schedule.start.copy()
            finish = put_back(
                (taken_by, put_by),
                (self.holder.work, self.holder.kept),
                more,
                (self.group, self.job, self.turns),
                best,
            )
            self.done[keys] = Put(int(finish), best)
        return self.done[keys]

    def loosened(self, keys: frozenset[str]) -> tuple[Arrays, Arrays, Ints]:
        """Arrays by which the group is taken out and put back, and how much more room there is."""
        a, event, before, opening = self.a, self.a.event, self.a.before, self.a.opening
        places = self.holder.problem.shop.places
        more = np.array([AMPLE * (kind_of(each) in keys) for each in places], dtype=np.int64)
        free = [v for v in self.events if not event[v].fact]
        taken_by = a
        if "pin" in keys:
            event = event.copy()
            event.fixed[free] = NONE
            taken_by = a._replace(event=event)
        event = event.copy()
        if "people" in keys:
            event.crew[free] = 0
        if "booth" in keys:
            event.air[free] = 0
        if keys & {"hours", "site", AIR}:
            rows = [self.opening_of(self.tasks.steps[v], keys) for v in free]
            event.kind[free] = np.arange(len(opening), len(opening) + len(free))
            opening = np.vstack([opening, *rows])
        if lags := [(u, v) for u, v, lag in self.lags if word_of(lag) in keys]:
            before = before.copy()
            rows_ = a.lag
            for u, v in lags:
                arcs = slice(int(event[v].before), int(event[v].before_end))
                mine = np.flatnonzero(before.source[arcs] == u) + arcs.start
                before.lag[mine] = len(rows_)
                before.most[mine] = -1
            a = a._replace(lag=np.vstack([rows_, np.zeros_like(rows_[:1])]))
        return taken_by, a._replace(event=event, before=before, opening=opening), more

    def opening_of(self, step: Step, keys: frozenset[str]) -> Shorts:
        shop = self.holder.problem.shop
        if of_windows(step) in keys:
            step = replace(step, windows=())
        if "hours" in keys:
            step = replace(step, crew=0)
        return next_starts(starts_in(shop, step), shop.horizon)

    def where(self, key: str, before: Ints, after: Ints) -> tuple[str, int]:
        """The step at which it bites: the first that waits for it and begins sooner without it,
        on the job's last piece if there is one."""
        asked = self.waiting_for(key)
        name = self.tasks.jobs[self.job]
        mine = [piece for piece in self.pieces if piece.job == name]
        ends = {
            p.code: int(before[v] + self.a.event[v].slots)
            for p in mine
            for v in (self.tasks.event[p.counted],)
        }
        rows = []
        for piece in self.pieces:
            for number in range(len(piece.steps)):
                v = self.tasks.event[Key(piece.code, number)]
                moved = after[v] < before[v]
                last = ends.get(piece.code, -1) == max(ends.values())
                rows.append(
                    (v not in asked, not moved, not last, int(before[v]), piece.code, number)
                )
        *_, code, number = min(rows)
        return code, number

    def waiting_for(self, key: str) -> set[int]:
        """Events that could be waiting for it."""
        step = {int(v): self.tasks.steps[v] for v in self.events}
        if key in ("people", "hours"):
            return {v for v in step if step[v].crew}
        if key in ("site", AIR):
            return {v for v in step if step[v].windows and of_windows(step[v]) == key}
        if key == "pin":
            return {v for v in step if step[v].pin is not None}
        after = {v for _, v, lag in self.lags if word_of(lag) == key}
        at = {v for v in step if any(kind_of(each) == key for each in self.places[int(v)])}
        return after | at | {v for v in step if key == "booth" and step[v].air}


def kind_of(place: Place) -> str:
    return place.kind or place.name


def word_of(lag: Lag) -> str:
    return lag.why or "wait"


def of_windows(step: Step) -> str:
    """What a step with windows waits for: a coat for air, others for the site."""
    return AIR if step.air == "coat" or step.skill == "coat" else "site"


def said(key: str, piece: str, step: Step, beside: tuple[str, ...]) -> str:
    """In the shop's words, without hours: what a slot is, the caller knows."""
    people = "people who can do it" if step.skill else "people"
    waits = {
        "table": "waits for a table that is free long enough",
        "rack": "waits for a place in the racks",
        "people": f"waits for {people}",
        "booth": "makes dust and waits until no coat is wet in the booth"
        if step.air == "dust"
        else "waits for the booth, free of dust",
        "cure": "waits for the concrete to cure",
        "strength": "waits for the concrete to be strong enough",
        "drying": "waits for it to dry",
        "recoat": "waits for the coat before it",
        "wait": "waits for what came before it to set",
        "site": "waits for the site's day",
        AIR: "waits for air that fits the sealer",
        "pin": "is pinned",
        "hours": "waits for nothing but working hours",
    }
    words = waits.get(key, f"waits for the {key}")
    also = f", and then for {join(beside)}" if beside else ""
    return f"{piece}: {step.name} {words}{also}."


def join(words: Sequence[str]) -> str:
    return " and ".join((", ".join(words[:-1]), words[-1])) if len(words) > 1 else "".join(words)
