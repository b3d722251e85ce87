"""Jobs that a plan has no room for since something is pinned: which pin stands in the way, tried.

A pin is taken out in thought, one at a time, and the plan brought to what is left: the job's own
first, then those nearest in time to it. Nothing is said of a pin that was not tried so.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace

from jobs.planning.adapt import adapt
from jobs.planning.bring_in import brought_in
from jobs.planning.faults import sift
from jobs.planning.lists import earliest_due_first
from jobs.planning.problem import Fault, Key, Plan, Problem
from jobs.planning.tasks import compile_tasks
from jobs.services.plain_words import listed
from jobs.services.plan_read import PlanRead
from jobs.services.plan_words import clock_words

NO_ROOM = "room"  # the key of a fault of the search: it found no place for a job
MOST = 6  # pins tried for a job: each takes as long as bringing the whole plan up to date


@dataclass(frozen=True)
class Pin:
    """One piece of work that is pinned, with all the pieces that go through it together."""

    steps: frozenset[Key]
    name: str
    at: int
    jobs: frozenset[str]

    @property
    def codes(self) -> list[str]:
        return sorted({key.piece for key in self.steps})


def with_pins_named(read: PlanRead, plan: Plan) -> Plan:
    """The plan, its faults of no room naming the pins that could go to another time instead."""
    if all(fault.key != NO_ROOM for fault in plan.faults):
        return plan
    faults = [named(read, plan, f) if f.key == NO_ROOM else f for f in plan.faults]
    return replace(plan, faults=tuple(faults))


def named(read: PlanRead, plan: Plan, fault: Fault) -> Fault:
    found = pins_in_the_way(read.problem, read.known, fault.about, out_of(plan))
    if not found:
        return fault
    which = " or ".join(
        f"the {pin.name} of {listed(pin.codes)} ({clock_words(read.filled.moment(pin.at))})"
        for pin in found
    )
    one = "if this goes" if len(found) == 1 else "if one of these goes"
    words = f"Job {fault.about} finds no room beside all that is pinned. It gets a date {one}"
    return replace(fault, words=f"{words} to another time: {which}.")


def out_of(plan: Plan) -> frozenset[str]:
    return frozenset(fault.about for fault in plan.faults if fault.key == NO_ROOM)


def pins_in_the_way(
    problem: Problem, known: Plan | None, job: str, out: frozenset[str]
) -> tuple[Pin, ...]:
    """Those without which, one at a time, the job has a date and none but `out` loses one."""
    kept, _ = sift(problem)
    return tuple(
        pin
        for pin in nearest(list(pins_of(kept)), job)[:MOST]
        if left_out_without(kept, known, pin) <= out - {job}
    )


def pins_of(problem: Problem) -> Iterator[Pin]:
    rows: dict[object, list[tuple[Key, str]]] = defaultdict(list)
    said: dict[object, tuple[str, int]] = {}
    for piece in problem.pieces:
        for number, step in enumerate(piece.steps):
            if step.pin is None or step.began is not None:
                continue
            key = Key(piece.code, number)
            event: object = step.together or key
            rows[event].append((key, piece.job))
            said[event] = step.name, step.pin
    for event, members in rows.items():
        steps = frozenset(key for key, _ in members)
        yield Pin(steps, *said[event], frozenset(job for _, job in members))


def nearest(pins: list[Pin], job: str) -> list[Pin]:
    own = [pin.at for pin in pins if job in pin.jobs]
    return sorted(
        pins,
        key=lambda pin: (
            job not in pin.jobs,
            min((abs(pin.at - at) for at in own), default=pin.at),
            pin.codes,
        ),
    )


def left_out_without(problem: Problem, known: Plan | None, pin: Pin) -> frozenset[str]:
    pieces = tuple(
        replace(
            piece,
            steps=tuple(
                replace(step, pin=None) if Key(piece.code, number) in pin.steps else step
                for number, step in enumerate(piece.steps)
            ),
        )
        for piece in problem.pieces
    )
    tasks = compile_tasks(replace(problem, pieces=pieces))
    found = adapt(tasks, known) if known else brought_in(tasks, earliest_due_first(tasks))
    return frozenset(tasks.jobs[number] for g in found.left_out for number in tasks.groups[g])
