"""The day that can be said for a new job, while its customer waits: the earliest that holds.

Nothing is saved. The job is put into the plan that stands with no told date broken; how late it may
become is simulated. Judged as the shop judges its promises: on the late day, or the likely one.
"""

from __future__ import annotations

import datetime as dt
import math
import zoneinfo
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

from django.utils import timezone

from jobs.models import Job as JobRow
from jobs.planning import promise
from jobs.planning.changes import closed_days
from jobs.planning.fill import Draft, DraftPiece, Filled
from jobs.planning.problem import Fault, Job, Piece, Problem, Window
from jobs.planning.promise import Offer, Way
from jobs.planning.simulate import Doubt, JobRange, simulate
from jobs.services.asked import Asked, AskedPiece
from jobs.services.derive import holding_day
from jobs.services.errors import Refused
from jobs.services.plain_words import short_day
from jobs.services.plan_words import fault_words
from jobs.services.planned_shop import PlannedShop, filled_with, held_by, planned_shop, trips
from jobs.services.rescue_changes import work_words
from jobs.shapes.outlines import Rectangle
from jobs.shapes.shape import Shape
from jobs.shapes.stored import write
from shop.models import JudgedOn

# Beside all jobs that are stored, whose numbers are letters and digits.
NAME = "(asked)"
# Of so many a ninth tenth is known to within two points, and the answer comes at once.
SAMPLES = 300
# What must be seen to before such a day can be kept.
FIRST = {
    "saturday": "The owner enters the day among the extra hours first.",
    "slack": "The owner moves it in the plan first.",
    "second run": "Two runs can differ in colour: agree that with the customer first.",
}
NO_SOONER = {
    "saturday": "Work a Saturday.",
    "slack": "Move a job that can spare it.",
}
BEYOND = "Its late day lies beyond what is planned ahead, so no day can be said."


@dataclass(frozen=True)
class Answer:
    """`leaves_at` is when the plan has the last piece leave; likely and late are simulated."""

    now: dt.datetime
    leaves_at: dt.datetime | None = None
    likely: dt.datetime | None = None
    late: dt.datetime | None = None
    say_on: dt.date | None = None
    judged_late: bool = True
    held: str = ""
    held_words: str = ""
    wish_on: dt.date | None = None
    wish_chance: float | None = None
    wish_holds: bool = False
    moved: tuple[str, ...] = ()
    trouble: str = ""
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class OtherWay:
    key: str
    words: str
    price: str
    say_on: dt.date | None = None
    sooner_days: int = 0
    wish_chance: float | None = None
    moved: tuple[str, ...] = ()
    first: str = ""  # what must be seen to before the day can be kept

    @property
    def note(self) -> str:
        """For the new job, so that nobody forgets on what its day rests."""
        return f"Its day rests on this: {self.words} {self.first}".strip()


def answer(asked: Asked, now: dt.datetime | None = None) -> Answer:
    """Raises Refused for a day wished that has passed."""
    question = Question.of(asked, now or timezone.now())
    if isinstance(question.plain, Fault):
        return question.unanswered(question.plain)
    return question.told(question.plain)


def other_ways(asked: Asked, now: dt.datetime | None = None) -> tuple[OtherWay, ...]:
    """A Saturday, a second run, a job that can wait: each beside the day without it."""
    question = Question.of(asked, now or timezone.now())
    if isinstance(question.plain, Fault):
        return ()
    return tuple(question.ways(question.plain))


@dataclass(frozen=True)
class Question:
    """The new job laid into the shop as it stands."""

    asked: Asked
    shop: PlannedShop
    filled: Filled
    doubt: Doubt
    faults: tuple[str, ...]
    now: dt.datetime

    @classmethod
    def of(cls, asked: Asked, now: dt.datetime) -> Question:
        shop = planned_shop(now)
        today = now.astimezone(shop.read.shop.zone).date()
        if asked.wish and asked.wish < today:
            raise Refused("This day has passed. Wish one to come, or leave it empty.", field="wish")
        filled, doubt = filled_with(shop, draft_of(asked))
        faults = tuple(
            named(fault_words(fault)) for fault in filled.faults if fault.about.startswith(NAME)
        )
        return cls(asked, shop, filled, doubt, faults, now)

    @property
    def zone(self) -> zoneinfo.ZoneInfo:
        return self.shop.read.shop.zone

    @property
    def judged_late(self) -> bool:
        return self.shop.read.shop.judged_on == JudgedOn.LATE

    @cached_property
    def apart(self) -> tuple[Problem, Job, tuple[Piece, ...]]:
        return self.filled.apart(NAME)

    @cached_property
    def plain(self) -> Offer | Fault:
        if self.faults or NAME not in self.filled.jobs:
            return Fault(NAME, "left out", " ".join(self.faults))
        problem, job, pieces = self.apart
        return promise.offer(problem, self.shop.plan, job, pieces, ground=self.shop.ground)

    @cached_property
    def trip(self) -> int:
        return trips(self.filled.problem).get(NAME, 0)

    def leaves(self, finish: float) -> dt.datetime | None:
        if not math.isfinite(finish):
            return None
        return self.filled.moment(math.ceil(finish) - self.trip)

    def day_of(self, leaves: dt.datetime | None) -> dt.date | None:
        """The first day that can be said where the last piece leaves then."""
        return holding_day(self.shop.read.facts.facts, JobRow(), leaves)

    def unanswered(self, fault: Fault) -> Answer:
        return Answer(
            now=self.now,
            wish_on=self.asked.wish,
            trouble=named(fault_words(fault)),
            notes=tuple(self.notes()),
        )

    def told(self, offer: Offer) -> Answer:
        problem = self.filled.problem
        drawn = self.range_of(problem, offer)
        likely, late = self.leaves(drawn.likely), self.leaves(drawn.late)
        judged = late if self.judged_late else likely
        held = held_by(problem, offer.plan, NAME, offer.tasks)
        say_on = self.day_of(judged)
        return Answer(
            now=self.now,
            leaves_at=self.leaves(offer.finish),
            likely=likely,
            late=late,
            say_on=say_on,
            judged_late=self.judged_late,
            held=held.key if held else "",
            held_words=named(held.words) if held else "",
            wish_on=self.asked.wish,
            wish_chance=drawn.chance if self.asked.wish else None,
            wish_holds=bool(self.asked.wish and say_on and say_on <= self.asked.wish),
            moved=later_of(offer),
            trouble="" if say_on else BEYOND,
            notes=tuple(self.notes()),
        )

    def range_of(self, problem: Problem, offer: Offer) -> JobRange:
        return simulate(problem, offer.plan, self.doubt, SAMPLES, only=NAME).jobs[NAME]

    def ways(self, plain: Offer) -> Iterator[OtherWay]:
        """One of each kind, the best where there are several."""
        problem, job, pieces = self.apart
        hours, usual = self.shop.read.slot_hours, self.told(plain)
        best: dict[str, tuple[Way, Offer]] = {}
        asked = self.ways_to_try(problem, pieces, plain)
        for way in asked:
            found = promise.alternatives(
                problem,
                self.shop.plan,
                job,
                pieces,
                [way],
                plain=plain,
                slot_hours=hours,
                ground=self.shop.ground,
            )
            for offer in found:
                if way.key not in best or offer.finish < best[way.key][1].finish:
                    best[way.key] = way, offer
        for way in {way.key: way for way in asked}.values():
            if way.key in best:
                yield self.otherwise(usual, *best[way.key])
            else:
                yield OtherWay(way.key, NO_SOONER.get(way.key, f"{named(way.words)}."), "")

    def ways_to_try(self, problem: Problem, pieces: tuple[Piece, ...], plain: Offer) -> list[Way]:
        hours = self.shop.read.slot_hours
        second = promise.second_run(problem, pieces, slot_hours=hours)
        ways = [*self.saturdays(problem, plain), promise.slack(problem, self.shop.plan)]
        return [*ways, second] if second else ways

    def saturdays(self, problem: Problem, plain: Offer) -> Iterator[Way]:
        """Closed days after open ones, with the hours of the day before: the next one, and the
        last before the job would leave."""
        days = [
            windows
            for _, windows in closed_days(problem.shop)
            if windows[0].begin > 0 and windows[-1].end <= plain.finish
        ]
        for windows in [*days[:1], *days[1:][-1:]]:
            shifts = tuple(sorted((*problem.shop.shifts, *windows)))
            day = self.filled.moment(windows[0].begin).astimezone(self.zone).date()
            yield Way(
                "saturday",
                f"Work {short_day(day)}",
                0.0,
                replace(problem, shop=replace(problem.shop, shifts=shifts)),
                extra=Window(windows[0].begin, windows[-1].end),
            )

    def otherwise(self, usual: Answer, way: Way, offer: Offer) -> OtherWay:
        _, job, pieces = self.apart
        problem = replace(
            way.problem,
            jobs=(*way.problem.jobs, job),
            pieces=(*way.problem.pieces, *(way.pieces or pieces)),
        )
        drawn = self.range_of(problem, offer)
        say_on = self.day_of(self.leaves(drawn.late if self.judged_late else drawn.likely))
        sooner = (usual.say_on - say_on).days if usual.say_on and say_on else 0
        return OtherWay(
            key=offer.key,
            words=f"{named(offer.words)}.",
            price=f"{work_words(offer.hours)} of work more." if offer.hours else "No hours more.",
            say_on=say_on,
            sooner_days=max(0, sooner),
            wish_chance=drawn.chance if self.asked.wish else None,
            moved=later_of(offer),
            first=FIRST.get(offer.key, ""),
        )

    def notes(self) -> Iterator[str]:
        if not self.shop.accepted:
            yield (
                "No plan was accepted yet: this is reckoned beside the open jobs listed by their "
                "promises. Once the owner has planned the week, days rest on that plan."
            )
        if self.shop.read.facts.fell_back:
            yield "Nobody is entered as crew: people are taken from the accounts or the hours."
        yield from (named(note) for note in self.filled.notes if note.startswith(NAME))


def later_of(offer: Offer) -> tuple[str, ...]:
    """Jobs that end later than they were known to."""
    return tuple(
        move.job
        for move in offer.moved
        if move.old is not None and (move.new is None or move.new > move.old)
    )


def named(words: str) -> str:
    """In the words of somebody who knows of no name yet: '(asked)-A' is 'piece A'."""
    plain = words.replace(f"{NAME}-", "piece ").replace(f"Job {NAME}", "The new job")
    return plain.replace(NAME, "the new job")


def draft_of(asked: Asked) -> Draft:
    return Draft(NAME, tuple(drafted(piece, asked.matches) for piece in asked.pieces), asked.wish)


def drafted(piece: AskedPiece, matches: bool) -> DraftPiece:
    return DraftPiece(
        mix=piece.mix,
        route=piece.route,
        sealer=piece.sealer,
        room=piece.room,
        area_m2=piece.area_m2,
        thickness_m=piece.thickness_m,
        coat_m=min(piece.coat_m, piece.thickness_m),
        count=piece.count,
        matches_job=matches,
        shape=write(Shape(Rectangle(*piece.sides_m))) if piece.sides_m else None,
        name=piece.name,
    )
