"""Input that no plan can meet, named piece by piece, so that the rest can be planned."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from dataclasses import replace

from jobs.planning.problem import Fault, Piece, Problem, Shop, Step, Window

MOST_PEOPLE = 62  # who is free is kept as bits of one signed 64-bit number


def sift(problem: Problem) -> tuple[Problem, tuple[Fault, ...]]:
    """The problem without what cannot be planned, and why each was left out.

    Raises ValueError where the shop itself makes no sense: nothing could be planned then.
    """
    check_shop(problem.shop)
    twice = [code for code, count in Counter(p.code for p in problem.pieces).items() if count > 1]
    if twice:
        raise ValueError(f"two pieces have the code {twice[0]}")
    jobs = {job.name for job in problem.jobs}
    found: list[Fault] = []
    for piece in problem.pieces:
        if piece.job not in jobs:
            found.append(Fault(piece.code, "job", f"{piece.code} belongs to no job in the plan."))
            continue
        fault = next(piece_faults(problem.shop, piece), None)
        if fault:
            found.append(fault)
    found += unlike_together(problem, {fault.about for fault in found})
    found += crowded_together(problem, {fault.about for fault in found})
    out = {fault.about for fault in found}
    kept = tuple(piece for piece in problem.pieces if piece.code not in out)
    past = [
        Fault(job.name, "past", f"Job {job.name} was promised for a time that has passed.")
        for job in problem.jobs
        if job.due < 0
    ]
    return replace(problem, pieces=kept), (*found, *past)


def check_shop(shop: Shop) -> None:
    if shop.horizon <= 0:
        raise ValueError("the plan must reach at least one slot ahead")
    if (
        not shop.day_starts
        or shop.day_starts[0] > 0
        or list(shop.day_starts) != sorted(set(shop.day_starts))
    ):
        raise ValueError("days must begin at or before slot 0 and follow each other")
    end = None
    for shift in shop.shifts:
        if shift.begin >= shift.end or (end is not None and shift.begin < end):
            raise ValueError("shifts must follow each other and have a length")
        end = shift.end
    if len(shop.people) > MOST_PEOPLE:
        raise ValueError(f"at most {MOST_PEOPLE} people can be planned at once")
    for kind, names in (
        ("people", [person.name for person in shop.people]),
        ("places", [place.name for place in shop.places]),
    ):
        if len(set(names)) < len(names):
            raise ValueError(f"two {kind} have the same name")
    if any(place.room < 1 for place in shop.places):
        raise ValueError("a place must have room for something")


def piece_faults(shop: Shop, piece: Piece) -> Iterator[Fault]:
    room = {place.name: place.room for place in shop.places}

    def fault(key: str, words: str) -> Fault:
        return Fault(piece.code, key, f"{piece.code}: {words}")

    if not piece.steps:
        yield fault("empty", "it has no steps. Give it a route.")
    if piece.counts is not None and not 0 <= piece.counts < len(piece.steps):
        yield fault("counts", "the step that its date is held against is not one of its steps.")
    for number, step in enumerate(piece.steps):
        lags = (step.lag, *(after.lag for after in step.after))
        if min(step.slots, step.crew, *(min(lag.least, *lag.by_day, 0) for lag in lags)) < 0:
            yield fault("negative", f"{step.name} has a length, a crew or a wait below nothing.")
        if not all(0 <= after.step < number for after in step.after):
            yield fault("after", f"{step.name} waits for a step that does not come before it.")
        if step.began is not None:
            before = piece.steps[number - 1] if number else None
            if before is not None and before.began is None:
                yield fault("order", f"{step.name} has begun, {before.name} before it has not.")
            if step.began > 0:
                yield fault("future", f"{step.name} is marked as begun at a time that is to come.")
            if missing := set(step.by) - {person.name for person in shop.people}:
                yield fault("who", f"{step.name} is done by {sorted(missing)[0]}, who is not here.")
            continue
        yield from step_faults(shop, step, room, fault_of=fault)
    yield from hold_faults(piece, room, fault_of=fault)


def hold_faults(
    piece: Piece, room: dict[str, int], fault_of: Callable[[str, str], Fault]
) -> Iterator[Fault]:
    for hold in piece.holds:
        if not 0 <= hold.first <= hold.last < len(piece.steps):
            yield fault_of("hold", "a place is held over steps that it does not have.")
            continue
        names = (hold.at,) if hold.at else hold.places
        if not any(room.get(name, 0) >= hold.amount for name in names):
            yield fault_of(
                "size",
                "it is larger than every place it could stand on "
                f"({', '.join(names) or 'none is named'}). Split it, or add a place.",
            )
        first, last = piece.steps[hold.first], piece.steps[hold.last]
        over = last.began is not None and last.began + last.slots <= 0
        if first.began is not None and not over and not hold.at:
            yield fault_of("where", f"{first.name} has begun; say where it stands.")


def step_faults(
    shop: Shop, step: Step, room: dict[str, int], fault_of: Callable[[str, str], Fault]
) -> Iterator[Fault]:
    if missing := [name for name in step.uses if name not in room]:
        yield fault_of("place", f"{step.name} needs {missing[0]}, which the shop does not have.")
    if step.crew:
        able = sum(1 for person in shop.people if not step.skill or step.skill in person.skills)
        if able < step.crew:
            yield fault_of(
                "skill",
                f"{step.name} needs {step.crew} who can do it, and {able} can. "
                "Add the skill to somebody, or ask for fewer.",
            )
        if all(step.slots > shift.end - shift.begin for shift in shop.shifts):
            yield fault_of("long", f"{step.name} is longer than every shift. Split it.")
    if not any(starts_in(shop, step)):
        yield fault_of("window", f"{step.name} fits in no shift within its days. Give it others.")
    if step.pin is not None and not any(
        first <= step.pin <= last for first, last in starts_in(shop, step)
    ):
        yield fault_of("pin", f"{step.name} is pinned to a time outside the shifts. Move the pin.")


def starts_in(shop: Shop, step: Step) -> Iterator[tuple[int, int]]:
    """First and last start, for each stretch of time in which the step may lie."""
    always = (Window(0, shop.horizon),)
    whole = step.windows or always
    shifts = shop.shifts if step.crew else always
    for begin, end in whole:
        for opens, closes in shifts:
            first = max(begin, opens, 0)
            last = min(end, closes, shop.horizon) - step.slots
            if first <= last:
                yield first, last


def members(problem: Problem) -> dict[str, list[tuple[Piece, int]]]:
    groups: dict[str, list[tuple[Piece, int]]] = defaultdict(list)
    for piece in problem.pieces:
        for number, step in enumerate(piece.steps):
            if step.together:
                groups[step.together].append((piece, number))
    return groups


def unlike_together(problem: Problem, out: set[str]) -> list[Fault]:
    found = []
    for name, group in members(problem).items():
        kept = [(piece, piece.steps[number]) for piece, number in group if piece.code not in out]
        for piece, step in kept[1:]:
            like = replace(kept[0][1], lag=step.lag, name=step.name, after=step.after)
            if like != step:
                found.append(
                    Fault(
                        piece.code,
                        "together",
                        f"{piece.code}: {step.name} is to be done together ({name}) with "
                        f"{kept[0][0].code}, but asks for other hours, people or places.",
                    )
                )
    return found


def crowded_together(problem: Problem, out: set[str]) -> list[Fault]:
    """Pieces of one run that would have to stand in the same places at once and do not fit."""
    room = {place.name: place.room for place in problem.shop.places}
    found = []
    for name, group in members(problem).items():
        left = dict(room)
        asking = [
            (piece, hold)
            for piece, number in group
            if piece.code not in out and piece.steps[number].began is None
            for hold in piece.holds
            if hold.first <= number <= hold.last and not (hold.from_end and hold.first == number)
        ]
        asking.sort(key=lambda each: (len(each[1].places), -each[1].amount))
        for piece, hold in asking:
            fits = [
                at for at in ((hold.at,) if hold.at else hold.places) if left[at] >= hold.amount
            ]
            if not fits:
                found.append(
                    Fault(
                        piece.code,
                        "run",
                        f"{piece.code}: there is no place left for it beside the others of {name}. "
                        "Cast it in a second run.",
                    )
                )
                continue
            left[min(fits, key=lambda at: left[at])] -= hold.amount
    return found
