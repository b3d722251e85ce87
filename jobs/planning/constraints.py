"""The constraint model (CP-SAT) of a plan, or of some of its events with the rest fixed.

Working hours are domains of the starts, so that waits stay linear. A wait that goes by the day is
one literal for each length among the days a step can start on.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from typing import Any

import numpy as np

from jobs.planning.stretches import bits_of, owners, runs_of, steps_of, stretches, summed
from jobs.planning.tables import Ints
from jobs.planning.tasks import NONE, Schedule, Tasks


class Model:
    def __init__(
        self, tasks: Tasks, events: Iterable[int], known: Schedule, reach: int = 0
    ) -> None:
        from ortools.sat.python import cp_model  # a second that most processes never need

        self.tasks, self.a, self.known, self.reach = tasks, tasks.arrays, known, reach
        self.model = cp_model.CpModel()
        self.domain = cp_model.Domain.from_intervals
        a = self.a
        events = sorted(events)
        self.mine = [v for v in events if not a.event[v].fact]
        self.is_mine = set(self.mine)
        # Of a large plan with little to choose, all rows at once: one by one, reading what is fixed
        # takes longer than solving.
        self.placed = known.start != NONE
        self.own = np.zeros(len(a.event), dtype=bool)
        self.own[self.mine] = True
        self.concerned = self.own[a.hold.last] | (self.own[a.hold.first] & self.placed[a.hold.last])
        self.free = sorted({int(a.event[v].group) for v in events})  # groups whose cost may change
        self.whole = len(events) == np.count_nonzero(self.placed)
        self.last_slot = self.end_of_time()
        self.first_slot = self.begin_of_time() if reach else 0
        self.start: dict[int, Any] = {}
        self.people: dict[int, list[tuple[int, Any]]] = {}
        self.at: dict[int, list[tuple[int, Any]]] = {}
        self.busy: dict[int, list[Any]] = defaultdict(list)  # intervals by person
        self.loads: dict[int, list[tuple[Any, int]]] = defaultdict(list)  # by place
        self.dusty: list[tuple[Any, Any, int]] = []  # start, interval with settling, length
        self.coats: list[tuple[Any, Any, int]] = []
        self.finish: dict[int, Any] = {}
        self.add_events()
        self.add_waits()
        self.add_holds()
        self.add_rest()
        self.add_limits()
        self.add_cost()

    def end_of_time(self) -> int:
        """In a cheaper plan no free job is so late that it alone costs what they cost now.

        With others fixed a second bound is set, ten days on: it makes no proof then.
        """
        a, known = self.a, self.known
        costs, latest = 0, 0
        for g in self.free:
            for job in self.tasks.groups[g]:
                costs += self.job_cost(job)
        for g in self.free:
            for job in self.tasks.groups[g]:
                end = self.known_finish(job)
                allowed = int(a.job[job].due) + costs // max(1, int(a.job[job].weight))
                latest = max(latest, end, allowed if self.whole else min(allowed, end + 480))
        ends = {v: int(known.start[v] + a.event[v].slots) for v in self.mine}
        if self.reach:
            latest = max(ends.values(), default=0) + self.reach
        kept = a.hold.last[self.concerned].tolist()
        latest = max([latest, *ends.values(), *(self.known_end(v) for v in kept)])
        return min(a.horizon, latest)

    def begin_of_time(self) -> int:
        begins = [int(self.known.start[v]) - self.reach for v in self.mine]
        kept = self.a.hold.first[self.concerned].tolist()
        return max(0, min([*begins, *(int(self.known.start[v]) for v in kept)], default=0))

    def known_end(self, v: int) -> int:
        return int(self.known.start[v] + self.a.event[v].slots)

    def known_finish(self, job: int) -> int:
        row = self.a.job[job]
        return max(
            int(self.known.start[v] + self.a.event[v].slots)
            for v in map(int, self.a.last[row.last : row.last_end])
        )

    def job_cost(self, job: int) -> int:
        row, end = self.a.job[job], self.known_finish(job)
        moved = self.a.move_cost if end > row.told else 0
        return int(row.weight * max(0, end - row.due) + moved)

    def add_events(self) -> None:
        for v in self.mine:
            row, t = self.a.event[v], int(self.known.start[v])
            if row.fixed != NONE:
                self.start[v] = self.model.new_constant(int(row.fixed))
            else:
                domain = self.domain(runs_of(self.allowed(v)))
                self.start[v] = self.model.new_int_var_from_domain(domain, f"start {v}")
                self.model.add_hint(self.start[v], t)
            self.add_crew(v)
            self.use_places(v)

    def allowed(self, v: int) -> Ints:
        """Starts that the shifts and the reach leave to an event."""
        row, t = self.a.event[v], int(self.known.start[v])
        begin, end = 0, min(self.last_slot - int(row.slots) + 1, self.a.horizon)
        if self.reach:
            begin, end = max(begin, t - self.reach), min(end, t + self.reach + 1)
        slots = np.arange(begin, max(begin, end))
        return slots[self.a.opening[row.kind][slots] == slots]

    def add_crew(self, v: int) -> None:
        row = self.a.event[v]
        if not row.crew or not row.slots:
            self.people[v] = []
            if row.crew:
                self.people[v] = [(bit, 1) for bit in bits_of(int(self.known.who[v]))]
            return
        able = bits_of(int(row.able))
        chosen = []
        for bit in able:
            literal: Any = 1
            if len(able) > row.crew:
                literal = self.model.new_bool_var(f"{v} by {bit}")
                self.model.add_hint(literal, int(self.known.who[v]) >> bit & 1)
                interval = self.model.new_optional_fixed_size_interval_var(
                    self.start[v], int(row.slots), literal, f"{v} of {bit}"
                )
            else:
                interval = self.model.new_fixed_size_interval_var(
                    self.start[v], int(row.slots), f"{v} of {bit}"
                )
            chosen.append((bit, literal))
            self.busy[bit].append(interval)
        if len(able) > row.crew:
            self.model.add(sum(literal for _, literal in chosen) == int(row.crew))
        self.people[v] = chosen

    def use_places(self, v: int) -> None:
        row = self.a.event[v]
        slots = int(row.slots)
        if not slots:
            return
        places = self.a.use[row.use : row.use_end]
        whole = self.model.new_fixed_size_interval_var(self.start[v], slots, f"event {v}")
        for k in places:
            self.loads[int(k)].append((whole, 1))
        if row.air == 1:
            wide = self.model.new_fixed_size_interval_var(
                self.start[v], slots + self.a.settle, f"dust {v}"
            )
            self.dusty.append((self.start[v], wide, slots + self.a.settle))
        if row.air == 2:
            self.coats.append((self.start[v], whole, slots))

    def at_or_known(self, v: int) -> Any:
        return self.start[v] if v in self.is_mine else int(self.known.start[v])

    def add_waits(self) -> None:
        event, before = self.a.event, self.a.before
        target = owners(event.before, event.before_end)
        asked = self.own[before.source] | self.own[target]
        asked &= (event.fact[target] == 0) & self.placed[target]
        for v, arc in zip(target[asked].tolist(), before[asked], strict=True):
            u = int(arc.source)
            start = self.at_or_known(v)
            end = self.at_or_known(u) + int(event[u].slots)
            for literal, least in self.lengths(u, int(arc.lag)):
                wait = self.model.add(start >= end + least)
                if literal is not None:
                    wait.only_enforce_if(literal)
            if arc.most >= 0:
                self.model.add(start <= end + int(arc.most))

    def lengths(self, u: int, lag: int) -> list[tuple[Any, int]]:
        """The least wait after u, by the day it starts on: each with the literal that says so."""
        by_day = self.a.lag[lag]
        t = int(self.known.start[u])
        today = int(by_day[self.a.day[min(max(t, 0), self.a.horizon)]])
        if u not in self.is_mine or self.a.event[u].fixed != NONE:
            return [(None, today)]
        allowed = self.allowed(u)
        least = by_day[self.a.day[allowed]]
        lengths = sorted({int(each) for each in least})
        if len(lengths) == 1:
            return [(None, lengths[0])]
        rows: list[tuple[Any, int]] = [(None, lengths[0])]
        literals = []
        for length in lengths:
            literal = self.model.new_bool_var(f"{u} waits {length}")
            self.model.add_hint(literal, length == today)
            domain = self.domain(runs_of(allowed[least == length]))
            self.model.add_linear_expression_in_domain(self.start[u], domain).only_enforce_if(
                literal
            )
            literals.append(literal)
            rows.append((literal, length))
        self.model.add_exactly_one(literals)
        return rows

    def add_holds(self) -> None:
        for hold in np.flatnonzero(self.concerned).tolist():
            row = self.a.hold[hold]
            first, last = int(row.first), int(row.last)
            begin = self.at_or_known(first) + (
                int(self.a.event[first].slots) if row.from_end else 0
            )
            end = self.at_or_known(last) + int(self.a.event[last].slots)
            length = self.model.new_int_var(0, self.a.horizon * 2, f"length {hold}")
            shown = int(self.known.start[last] + self.a.event[last].slots) - (
                int(self.known.start[first])
                + (int(self.a.event[first].slots) if row.from_end else 0)
            )
            self.model.add_hint(length, shown)
            fits = [int(k) for k in self.a.fit[row.fit : row.fit_end]]
            if len(fits) == 1:
                interval = self.model.new_interval_var(begin, length, end, f"hold {hold}")
                self.loads[fits[0]].append((interval, int(row.amount)))
                self.at[hold] = [(fits[0], 1)]
                continue
            self.model.add(begin + length == end)
            self.at[hold] = []
            for k in fits:
                literal = self.model.new_bool_var(f"hold {hold} at {k}")
                self.model.add_hint(literal, int(self.known.at[hold]) == k)
                interval = self.model.new_optional_interval_var(
                    begin, length, end, literal, f"hold {hold} of {k}"
                )
                self.loads[k].append((interval, int(row.amount)))
                self.at[hold].append((k, literal))
            self.model.add_exactly_one([literal for _, literal in self.at[hold]])

    def add_rest(self) -> None:
        """What all others take, as it stands in the known plan: one interval for each stretch."""
        a, size = self.a, self.last_slot
        others = ~self.own & self.placed
        begins = np.where(others, self.known.start, 0)
        ends = begins + np.where(others, a.event.slots, 0)
        self.taken = {}
        for bit in range(len(self.tasks.people)):
            theirs = others & (self.known.who >> bit & 1 == 1)
            away = (a.free[:size] >> bit & 1) == 0
            self.taken[bit] = away | (summed(begins[theirs], ends[theirs], 1, size) > 0)
        dusty, coats = others & (a.event.air == 1), others & (a.event.air == 2)
        self.dust_taken = summed(begins[dusty], ends[dusty] + a.settle, 1, size) > 0
        self.coat_taken = summed(begins[coats], ends[coats], 1, size) > 0
        user = owners(a.event.use, a.event.use_end)
        first, last = a.hold.first, a.hold.last
        stays = ~self.concerned & (self.known.at >= 0) & self.placed[last]
        since = self.known.start[first] + np.where(a.hold.from_end, a.event.slots[first], 0)
        until = self.known.start[last] + a.event.slots[last]
        self.used = np.zeros((len(a.room), size), dtype=np.int64)
        for k in range(len(a.room)):
            use, hold = user[a.use == k], stays & (self.known.at == k)
            self.used[k] = summed(begins[use], ends[use], 1, size)
            self.used[k] += summed(since[hold], until[hold], a.hold.amount[hold], size)
        for each in (*self.taken.values(), *self.used, self.dust_taken, self.coat_taken):
            each[: self.first_slot] = 0
        for bit, taken in self.taken.items():
            if self.busy[bit]:
                self.busy[bit] += [self.fixed(*span) for span in stretches(taken)]
        for k, row in enumerate(self.used):
            if self.loads[k]:
                for begin, end, amount in steps_of(np.minimum(row, self.a.room[k])):
                    self.loads[k].append((self.fixed(begin, end), amount))

    def fixed(self, begin: int, end: int) -> Any:
        return self.model.new_fixed_size_interval_var(begin, end - begin, "")

    def add_limits(self) -> None:
        for intervals in self.busy.values():
            if len(intervals) > 1:
                self.model.add_no_overlap(intervals)
        for k, loads in self.loads.items():
            room = int(self.a.room[k])
            if len(loads) < 2:
                continue
            if room == 1 or all(2 * amount > room for _, amount in loads):
                self.model.add_no_overlap([interval for interval, _ in loads])
            else:
                self.model.add_cumulative(
                    [interval for interval, _ in loads], [amount for _, amount in loads], room
                )
        self.add_able_crews()
        fixed_dust = [self.fixed(*span) for span in stretches(self.dust_taken)]
        fixed_coats = [self.fixed(*span) for span in stretches(self.coat_taken)]
        for _, coat, _ in self.coats:
            if fixed_dust:
                self.model.add_no_overlap([coat, *fixed_dust])
        for _, dust, _ in self.dusty:
            if fixed_coats:
                self.model.add_no_overlap([dust, *fixed_coats])
        self.part_dust_from_coats()

    def add_able_crews(self) -> None:
        """Said once more by skill, all who have it together: it says nothing new and finds more."""
        rows: dict[int, list[int]] = defaultdict(list)
        for v in self.mine:
            if self.a.event[v].crew and self.a.event[v].slots:
                rows[int(self.a.event[v].able)].append(v)
        for able in rows:
            within = [v for other, events in rows.items() if not other & ~able for v in events]
            intervals = [
                self.model.new_fixed_size_interval_var(
                    self.start[v], int(self.a.event[v].slots), ""
                )
                for v in within
            ]
            crews = [int(self.a.event[v].crew) for v in within]
            away = np.stack([self.taken[bit] for bit in bits_of(able)]).astype(np.int64).sum(axis=0)
            for begin, end, number in steps_of(away):
                intervals.append(self.fixed(begin, end))
                crews.append(number)
            self.model.add_cumulative(intervals, crews, able.bit_count())

    def part_dust_from_coats(self) -> None:
        """Dusty steps may meet each other, and coats each other, but not one the other."""
        if not self.coats or not self.dusty:
            return
        most = len(self.dusty)
        if self.one_at_a_time(1):  # no two at once anyway: it takes all the air, from all coats
            most = len(self.coats)
            settle = self.a.settle
            self.model.add_cumulative(
                [
                    *(
                        self.model.new_fixed_size_interval_var(dust, wide - settle, "")
                        for dust, _, wide in self.dusty
                    ),
                    *(
                        self.model.new_fixed_size_interval_var(coat - settle, slots + settle, "")
                        for coat, _, slots in self.coats
                    ),
                ],
                [most] * len(self.dusty) + [1] * most,
                most,
            )
            return
        if self.one_at_a_time(2):
            self.model.add_cumulative(
                [each for _, each, _ in (*self.dusty, *self.coats)],
                [1] * most + [most] * len(self.coats),
                most,
            )
            return
        for dust, _, wide in self.dusty:
            for coat, _, slots in self.coats:
                first = self.model.new_bool_var("")
                self.model.add(dust + wide <= coat).only_enforce_if(first)
                self.model.add(coat + slots <= dust).only_enforce_if(~first)

    def one_at_a_time(self, air: int) -> bool:
        """Whether all dusty steps, or all coats, ask for a place that takes no second one."""
        rows = [
            {int(k) for k in self.a.use[row.use : row.use_end]}
            for row in self.a.event[self.mine]
            if row.air == air and row.slots
        ]
        return any(self.a.room[k] == 1 for k in set.intersection(*rows)) if rows else False

    def add_cost(self) -> None:
        terms = []
        self.base = int(self.known.cost)
        for g in self.free:
            for job in self.tasks.groups[g]:
                self.base -= self.job_cost(job)
                terms.append(self.cost_of_job(job))
        self.model.minimize(sum(terms))

    def cost_of_job(self, job: int) -> Any:
        row, end_known = self.a.job[job], self.known_finish(job)
        due = int(row.due)
        latest = max(0, max(self.last_slot, end_known) - due)
        late = self.model.new_int_var(0, latest, f"late {job}")
        self.model.add_hint(late, max(0, end_known - due))
        cost = late * int(row.weight)
        moved: Any = None
        if self.a.move_cost and row.told <= self.a.horizon:
            moved = self.model.new_bool_var(f"moved {job}")
            self.model.add_hint(moved, end_known > row.told)
            cost += moved * self.a.move_cost
        for v in map(int, self.a.last[row.last : row.last_end]):
            end = self.at_or_known(v) + int(self.a.event[v].slots)
            self.model.add(late >= end - due)
            if moved is not None:
                self.model.add(end <= int(row.told)).only_enforce_if(~moved)
        return cost

    def read(self, solver: Any) -> Schedule:
        start, who, at = (each.copy() for each in (self.known.start, self.known.who, self.known.at))
        for v in self.mine:
            start[v] = solver.value(self.start[v])
            who[v] = sum(1 << bit for bit, literal in self.people[v] if solver.value(literal))
        for hold, choices in self.at.items():
            at[hold] = next(k for k, literal in choices if solver.value(literal))
        cost = self.base + round(solver.objective_value)
        return Schedule(start, who, at, cost, self.known.left_out)
