"""The changes that are tried for a short promise, in the shop's words, each with its price.

Those that need no engine come from the planner's core; a warmer casting room and another sealer are
made here, by filling the planner anew from changed facts.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from jobs.models import Job
from jobs.planning.changes import EXTRA, Change, Naming, changes
from jobs.planning.fill import fill
from jobs.planning.problem import Key, Piece, Problem
from jobs.services.derive import holding_day
from jobs.services.plain_words import short_day
from jobs.services.plan_alter import warmer, with_sealer
from jobs.services.planned_shop import PlannedShop
from jobs.services.rescues import Act, Try
from shop import measures
from shop.localtime import to_hours
from shop.measures import hours_words
from shop.models import Sealer, StepKind, works

WARM = 22.0 + 2.0 / 9.0  # °C, 72 °F: a warm shop floor, common practice, no source
NIGHT_HOURS = 12.0  # that a night is heated, evening to morning
MOST_NIGHTS = 7
MOST_SEALERS = 3

NO_HOURS_ASKED = "No hours more. The customer has to agree."


@dataclass(frozen=True)
class Option:
    """A change for the planner, and how it is said, paid for and carried out."""

    key: str
    kind: str
    words: str
    price: str
    hours: float
    change: Change
    act: Act


def options(shop: PlannedShop, job: str, sealers: Iterable[Sealer]) -> Iterator[Option]:
    """The cheapest first, asking the customer last; then those for which the engine is asked anew,
    each made as it is wanted, so that the others do not wait for it."""
    yield from sorted(core_options(shop, job), key=by_price)
    yield from warm_options(shop, job)
    yield from sealer_options(shop, job, sealers)


def by_price(each: Option | Try) -> tuple[bool, bool, float]:
    return each.kind == "days", each.kind == "sealer", each.hours


def day_at(shop: PlannedShop, slot: int) -> dt.date:
    return shop.read.filled.moment(slot).astimezone(shop.read.shop.zone).date()


def core_options(shop: PlannedShop, job: str) -> Iterator[Option]:
    read = shop.read
    naming = Naming(lambda slot: short_day(day_at(shop, slot)), read.slot_hours)
    found = changes(read.problem, shop.plan, job, naming)
    for number, change in enumerate(found):
        yield Option(
            key=f"{change.key}-{number}",
            kind=change.key,
            words=f"{change.words}{work_of(change)}.",
            price=price_of(change),
            hours=change.hours,
            change=change,
            act=act_of(shop, change),
        )


def work_of(change: Change) -> str:
    """What somebody who comes in addition has to be able to do, in the crew page's words."""
    people = change.problem.shop.people if change.key == "person" else ()
    skills = {skill for person in people if person.name == EXTRA for skill in person.skills}
    found = [str(label) for key, label in works() if key in skills]
    return f", for {', '.join(found)}" if found else ""


def late_option(shop: PlannedShop, number: str, leaves: dt.datetime | None) -> list[Option]:
    """The first day that would hold with nothing else changed; none where it is out of sight."""
    row = next((each for each in shop.read.jobs if each.number == number), None)
    facts = shop.read.facts.facts
    if row is None or row.promised_on is None or leaves is None:
        return []
    day = holding_day(facts, Job(promised_by=row.promised_by), leaves)
    if day is None or day <= row.promised_on:
        return []
    at = facts.promise_moment(Job(promised_on=day, promised_by=row.promised_by))
    if at is None:
        return []
    due = shop.read.filled.slots.down(to_hours(at)) + shop.trips.get(number, 0)
    jobs = tuple(
        replace(job, due=due, told=None) if job.name == number else job
        for job in shop.read.problem.jobs
    )
    days = (day - row.promised_on).days
    words = f"Ask the customer for {days} day{'s' if days > 1 else ''}, until {short_day(day)}."
    change = Change("days", words, 0.0, replace(shop.read.problem, jobs=jobs))
    act = Act(until=day.isoformat())
    return [Option("days-late", "days", words, NO_HOURS_ASKED, 0.0, change, act)]


def price_of(change: Change) -> str:
    hours = work_words(change.hours)
    return {
        "saturday": f"{hours} of work more, if everybody comes.",
        "person": f"{hours} of work more.",
        "table": "No hours more, but a table.",
        "part": f"One delivery more, {hours} of work." if change.hours else "One delivery more.",
        "days": NO_HOURS_ASKED,
    }.get(change.key, "No hours more.")


def work_words(hours: float) -> str:
    """Hours that are paid or heated for, never told in days: '53 h'."""
    return f"{round(hours)} h" if hours >= 10 else hours_words(hours)


def act_of(shop: PlannedShop, change: Change) -> Act:
    if change.key == "saturday":
        return Act(hours=tuple(opened(shop, change.problem)))
    if change.key == "first":
        return Act(pin=change.piece)
    if change.key == "days" and change.until is not None:
        return Act(until=day_at(shop, change.until).isoformat())
    if change.key == "part":
        known = {piece.code: piece.job for piece in shop.read.problem.pieces}
        moved = (piece.code for piece in change.problem.pieces if piece.job != known[piece.code])
        return Act(later=tuple(moved))
    return Act()


def opened(shop: PlannedShop, problem: Problem) -> Iterator[tuple[str, str, str]]:
    """The stretches that a changed problem works beside the usual ones, on the shop's clock."""
    zone, moment = shop.read.shop.zone, shop.read.filled.moment
    usual = set(shop.read.problem.shop.shifts)
    for shift in problem.shop.shifts:
        if shift not in usual:
            begin, end = (moment(slot).astimezone(zone) for slot in shift)
            yield begin.date().isoformat(), f"{begin:%H:%M}", f"{end:%H:%M}"


def warm_options(shop: PlannedShop, job: str) -> Iterator[Option]:
    """Each room in which a piece of the job still cures, kept warm over the nights it does."""
    for room_id, nights in sorted(curing_nights(shop, job).items()):
        room = shop.rooms[room_id]
        changed = fill(warmer(shop.read.facts, room_id, WARM, nights))
        hours = NIGHT_HOURS * len(nights)
        warmth = measures.words(WARM, "temperature", shop.read.shop)
        when = short_day(nights[0])
        if len(nights) > 1:
            when = f"{short_day(nights[0])} to {short_day(nights[-1])}"
        words = f"Keep the {room.name.lower()} at {warmth} overnight, {when}."
        plural = "s" if len(nights) > 1 else ""
        price = f"{len(nights)} night{plural} of heating, {work_words(hours)}; no hours of work."
        yield Option(
            key=f"warm-{room_id}",
            kind="warm",
            words=words,
            price=price,
            hours=0.0,
            change=Change("warm", words, hours, changed.problem),
            act=Act(
                room_id=room_id,
                celsius=WARM,
                nights=tuple(night.isoformat() for night in nights),
            ),
        )


def curing_nights(shop: PlannedShop, job: str) -> dict[int, list[dt.date]]:
    """By room, the nights from each open cast to its demold as the plan has them."""
    found: dict[int, set[dt.date]] = {}
    for piece in pieces_of(shop, job):
        stands = [number for number, step in enumerate(piece.steps) if step.lag.why == "cure"]
        if not stands:
            continue
        number = stands[-1]
        cast, demold = (
            shop.plan.starts.get(Key(piece.code, each)) for each in (number, number + 1)
        )
        if cast is None or demold is None or demold <= 0:
            continue
        first, last = day_at(shop, max(0, cast)), day_at(shop, demold)
        nights = {first + dt.timedelta(days=n) for n in range((last - first).days)}
        room_id = shop.room_of[piece.code]
        found.setdefault(room_id, set()).update(nights)
    return {room: sorted(nights)[:MOST_NIGHTS] for room, nights in found.items() if nights}


def sealer_options(shop: PlannedShop, job: str, sealers: Iterable[Sealer]) -> Iterator[Option]:
    row = next((each for each in shop.read.jobs if each.number == job), None)
    if row is None:
        return
    used = {piece.sealer_id for piece in row.pieces.all()}
    if not uncoated(shop, job):
        return
    others = [sealer for sealer in sealers if sealer.pk not in used]
    for sealer in others[:MOST_SEALERS]:
        changed = fill(with_sealer(shop.read.facts, row, sealer))
        words = f"Seal it with {sealer.name}."
        yield Option(
            key=f"sealer-{sealer.pk}",
            kind="sealer",
            words=words,
            price="No hours more. The customer has to agree to the finish.",
            hours=0.0,
            change=Change("sealer", words, 0.0, changed.problem),
            act=Act(sealer_id=sealer.pk),
        )


def uncoated(shop: PlannedShop, job: str) -> list[str]:
    """Pieces of which no coat has begun: the others keep the sealer that is on them."""
    steps = shop.read.filled.steps
    return [
        piece.code
        for piece in pieces_of(shop, job)
        if not any(
            step.began is not None and steps[Key(piece.code, n)].kind == StepKind.COAT
            for n, step in enumerate(piece.steps)
        )
    ]


def pieces_of(shop: PlannedShop, job: str) -> list[Piece]:
    return [piece for piece in shop.read.problem.pieces if piece.job == job]


def nearer(change: Change, job: str, slots: int) -> Change:
    """The same, aimed so many slots before the job is due: what may take longer has room."""
    jobs = tuple(
        replace(each, due=each.due - slots) if each.name == job else each
        for each in change.problem.jobs
    )
    return replace(change, problem=replace(change.problem, jobs=jobs))
