"""A plan as the shop reads it: who does what, what stands where, each job's date, how full it is.

The same objects tell of a proposal, which the run keeps, and of the plan that was accepted.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from jobs.models import PromiseState
from jobs.planning.loads import loads
from jobs.planning.problem import Key, Piece, Plan, Problem, Step
from jobs.services.plan_read import PlanRead
from jobs.services.plan_words import HELD_BY, fault_words
from jobs.services.verdict import judged_time, state_of
from shop.localtime import on_later_day
from shop.models import JudgedOn, Shop, StepKind

LOADED_DAYS = 21
STANDS = ("table", "rack")


@dataclass(frozen=True)
class Work:
    """One piece of work, of all the pieces that go through it together."""

    codes: tuple[str, ...]
    jobs: tuple[str, ...]
    step_key: str
    name: str
    kind: str
    starts: dt.datetime
    ends: dt.datetime
    people: tuple[str, ...]
    places: tuple[str, ...]
    pinned: bool = False
    begun: bool = False

    @property
    def said(self) -> str:
        return f"{self.name} {', '.join(self.codes)}"


@dataclass(frozen=True)
class Stay:
    """A piece on a table or in the racks. `share` is of all that the place holds."""

    code: str
    job: str
    place: str
    kind: str
    share: float
    amount: int
    begins: dt.datetime
    ends: dt.datetime
    cast_at: dt.datetime | None = None  # on a table: from then on it is concrete


@dataclass(frozen=True)
class JobDate:
    """What a plan says of a job, and what it said before."""

    job_id: int
    number: str
    title: str
    leaves: dt.datetime | None  # None: not planned, or not all of it
    promised: dt.datetime | None = None
    state: str = PromiseState.NONE
    spare_hours: float | None = None
    judged_late: bool = False
    early: dt.datetime | None = None
    likely: dt.datetime | None = None
    late: dt.datetime | None = None
    chance: float | None = None
    held_by: str = ""
    held_words: str = ""
    told: dt.datetime | None = None
    was: dt.datetime | None = None
    was_state: str = ""
    was_hours: float | None = None
    moved: tuple[str, ...] = ()  # pieces whose steps are not where they were
    why: str = ""
    new: bool = False

    @property
    def breaks_told(self) -> bool:
        """The customer was told an earlier day, and the plan that stands would keep it."""
        if not self.told or (self.was and self.was > self.told):
            return False
        return self.past_told or self.loses_date

    @property
    def loses_date(self) -> bool:
        """The plan that stands has a day for it, and this one has none."""
        return bool(self.was and not self.leaves and self.state != PromiseState.KEPT)

    @property
    def past_told(self) -> bool:
        """By the time that the shop judges by: a day told that is only likely is told again."""
        at = self.late if self.judged_late else self.leaves
        beyond = self.judged_late and at is None
        return bool(self.told and self.leaves and (beyond or (at and at > self.told)))

    @property
    def shifts(self) -> bool:
        return self.was != self.leaves


@dataclass(frozen=True)
class LateInstall:
    """A day that was set with the site, and the later one on which the plan has people for it."""

    number: str
    title: str
    agreed: dt.datetime
    planned: dt.datetime


@dataclass(frozen=True)
class Fill:
    share: float
    hours: float
    peak: int
    room: int


@dataclass(frozen=True)
class PlaceLoad:
    name: str
    kind: str
    days: tuple[Fill, ...]


@dataclass(frozen=True)
class PersonLoad:
    name: str
    used: tuple[float, ...]  # hours a day
    there: tuple[float, ...]


@dataclass(frozen=True)
class Load:
    days: tuple[dt.datetime, ...] = ()
    places: tuple[PlaceLoad, ...] = ()
    people: tuple[PersonLoad, ...] = ()


@dataclass(frozen=True)
class LeftOut:
    about: str
    words: str


@dataclass(frozen=True)
class Shown:
    planned_from: dt.datetime
    works: tuple[Work, ...] = ()
    stays: tuple[Stay, ...] = ()
    jobs: tuple[JobDate, ...] = ()
    load: Load = Load()
    left_out: tuple[LeftOut, ...] = ()
    notes: tuple[str, ...] = ()
    late_installs: tuple[LateInstall, ...] = ()

    @cached_property
    def places(self) -> tuple[tuple[str, str], ...]:
        """Names and kinds, in the shop's order."""
        return tuple((row.name, row.kind) for row in self.load.places)

    @property
    def moving(self) -> tuple[JobDate, ...]:
        """Jobs that a proposal would change, those whose told day breaks first."""
        rows = [job for job in self.jobs if job.moved or job.new or job.shifts]
        return tuple(sorted(rows, key=lambda job: not job.breaks_told))

    @property
    def breaking(self) -> tuple[JobDate, ...]:
        return tuple(job for job in self.jobs if job.breaks_told)

    @property
    def late(self) -> tuple[JobDate, ...]:
        return tuple(job for job in self.jobs if job.state == PromiseState.SHORT)


def shown_of(read: PlanRead, plan: Plan, known: Plan | None = None) -> Shown:
    """The plan in the shop's words; `known` is the one that stands, to say what would move."""
    works = tuple(works_of(read, plan))
    return Shown(
        planned_from=read.filled.starts_at,
        works=works,
        stays=tuple(stays_of(read, plan)),
        jobs=tuple(dates_of(read, plan, known)),
        load=load_of(read, plan),
        left_out=tuple(left_out(read, plan)),
        notes=tuple(read.filled.notes),
        late_installs=tuple(late_installs(read, works)),
    )


def works_of(read: PlanRead, plan: Plan) -> Iterable[Work]:
    seen: dict[str, list[Key]] = defaultdict(list)
    steps: dict[Key, tuple[Piece, Step]] = {}
    for key, piece, step in planned_steps(read.problem, plan):
        steps[key] = (piece, step)
        seen[step.together or f"{key.piece}\n{key.step}"].append(key)
    rows: list[Work] = []
    for keys in seen.values():
        key = keys[0]
        _, step = steps[key]
        ref = read.filled.steps[key]
        begin = plan.starts[key]
        rows.append(
            Work(
                codes=tuple(sorted(each.piece for each in keys)),
                jobs=tuple(sorted({steps[each][0].job for each in keys})),
                step_key=ref.step_key,
                name=f"{ref.name}, part {ref.part} of {ref.parts}" if ref.parts > 1 else ref.name,
                kind=ref.kind,
                starts=read.filled.moment(begin),
                ends=read.filled.moment(begin + step.slots),
                people=plan.people.get(key, ()),
                places=step.uses,
                pinned=step.pin is not None,
                begun=step.began is not None,
            )
        )
    # What is through already is no longer planned.
    rows = [row for row in rows if not row.begun or row.ends > read.filled.starts_at]
    return sorted(rows, key=lambda row: (row.starts, row.codes))


def planned_steps(problem: Problem, plan: Plan) -> Iterable[tuple[Key, Piece, Step]]:
    for piece in problem.pieces:
        for number, step in enumerate(piece.steps):
            key = Key(piece.code, number)
            if key in plan.starts:
                yield key, piece, step


def stays_of(read: PlanRead, plan: Plan) -> Iterable[Stay]:
    places = {place.name: place for place in read.problem.shop.places}
    moment = read.filled.moment
    for piece in read.problem.pieces:
        cast = next(
            (
                plan.starts[key]
                for number in range(len(piece.steps))
                if (key := Key(piece.code, number)) in plan.starts
                and read.filled.steps[key].kind == "cast"
            ),
            None,
        )
        for number, hold in enumerate(piece.holds):
            name = plan.held.get((piece.code, number), "")
            first, last = Key(piece.code, hold.first), Key(piece.code, hold.last)
            if name not in places or first not in plan.starts or last not in plan.starts:
                continue
            begin = plan.starts[first] + (piece.steps[hold.first].slots if hold.from_end else 0)
            end = plan.starts[last] + piece.steps[hold.last].slots
            if end <= 0:
                continue
            place = places[name]
            yield Stay(
                code=piece.code,
                job=piece.job,
                place=name,
                kind=place.kind,
                share=round(hold.amount / place.room, 4),
                amount=hold.amount,
                begins=moment(begin),
                ends=moment(end),
                cast_at=moment(cast) if cast is not None and place.kind == "table" else None,
            )


def dates_of(read: PlanRead, plan: Plan, known: Plan | None) -> Iterable[JobDate]:
    stored = {job.number: job for job in read.jobs}
    moved = moved_pieces(read.problem, plan, known) if known else {}
    for job in read.problem.jobs:
        row = stored.get(job.name)
        promised = read.promised(row) if row else None
        leaving = read.leaving(job.name)
        leaves = leaves_at(read, plan, job.name)
        was = leaves_at(read, known, job.name) if known else None
        state, spare = judged(leaves, promised, read.shop)
        was_state, was_spare = judged(was, promised, read.shop)
        if job.name in read.delivered:
            state, spare, was_state, was_spare = PromiseState.KEPT, None, PromiseState.KEPT, None
        if row is None:  # of no stored job
            continue
        yield JobDate(
            job_id=row.pk,
            number=job.name,
            title=row.title,
            leaves=leaves,
            promised=promised,
            state=state,
            spare_hours=spare,
            told=read.filled.moment(job.told - leaving) if job.told is not None else None,
            was=was,
            was_state=was_state if was else "",
            was_hours=was_spare if was else None,
            moved=tuple(moved.get(job.name, ())),
            new=leaves is not None and was is None,
        )


def leaves_at(read: PlanRead, plan: Plan, job: str) -> dt.datetime | None:
    """When the last piece leaves: the promise is kept where its delivery begins by then."""
    if job not in plan.finish:
        return None
    return read.filled.moment(plan.finish[job] - read.leaving(job))


def judged(
    at: dt.datetime | None, promised: dt.datetime | None, shop: Shop
) -> tuple[str, float | None]:
    if promised is None or at is None:
        return PromiseState.NONE, None
    spare = (promised - at).total_seconds() / 3600
    return state_of(spare, shop.margin_hours), spare


def moved_pieces(problem: Problem, plan: Plan, known: Plan) -> dict[str, list[str]]:
    """By job, the pieces of which something that has not begun is elsewhere, or done by others."""
    found: dict[str, list[str]] = defaultdict(list)
    for piece in problem.pieces:
        keys = [Key(piece.code, n) for n, step in enumerate(piece.steps) if step.began is None]
        if any(
            plan.starts.get(key) != known.starts.get(key)
            or set(plan.people.get(key, ())) != set(known.people.get(key, ()))
            for key in keys
        ) or any(
            plan.held.get((piece.code, n)) != known.held.get((piece.code, n))
            for n in range(len(piece.holds))
        ):
            found[piece.job].append(piece.code)
    return found


def load_of(read: PlanRead, plan: Plan) -> Load:
    full = loads(read.problem, plan)
    days = range(min(LOADED_DAYS, len(full.days)))
    hours = read.slot_hours
    return Load(
        days=tuple(read.filled.moment(full.days[day]) for day in days),
        places=tuple(
            PlaceLoad(
                place.name,
                place.kind,
                tuple(
                    Fill(round(row.share, 4), row.busy * hours, row.peak, row.room)
                    for row in (full.places[place.name][day] for day in days)
                ),
            )
            for place in read.problem.shop.places
        ),
        people=tuple(
            PersonLoad(
                person.name,
                tuple(full.people[person.name][day].used * hours for day in days),
                tuple(full.people[person.name][day].there * hours for day in days),
            )
            for person in read.problem.shop.people
        ),
    )


def late_installs(read: PlanRead, works: Iterable[Work]) -> Iterable[LateInstall]:
    """Those that begin on a later day than was set; a visit that is under way is none of them."""
    zone = read.shop.zone
    begins: dict[str, dt.datetime] = {}
    for work in works:
        if work.kind == StepKind.INSTALL and not work.begun:
            for number in work.jobs:
                begins[number] = min(work.starts, begins.get(number, work.starts))
    for job in read.jobs:
        install, planned = getattr(job, "install", None), begins.get(job.number)
        if install is None or planned is None or install.starts_at < read.filled.starts_at:
            continue
        if on_later_day(planned, install.starts_at, zone):
            yield LateInstall(job.number, job.title, install.starts_at, planned)


def left_out(read: PlanRead, plan: Plan) -> Iterable[LeftOut]:
    said = set()
    for fault in plan.faults:
        if (fault.about, fault.key) not in said:
            said.add((fault.about, fault.key))
            yield LeftOut(fault.about, fault_words(fault))


@dataclass(frozen=True)
class Reasons:
    """By job: what holds it (key, words), why it moves, its range, the chance of its promise."""

    held: Mapping[str, tuple[str, str]]
    why: Mapping[str, str]
    ranges: Mapping[str, tuple[dt.datetime | None, ...]]
    chances: Mapping[str, float]


def with_reasons(shown: Shown, reasons: Reasons, shop: Shop) -> Shown:
    rows = []
    for job in shown.jobs:
        key, words = reasons.held.get(job.number, ("", ""))
        early, likely, late = reasons.ranges.get(job.number, (None, None, None))
        row = replace(
            job,
            held_by=key,
            held_words=words or HELD_BY.get(key, ""),
            why=reasons.why.get(job.number, ""),
            early=early,
            likely=likely,
            late=late,
            chance=reasons.chances.get(job.number),
        )
        rows.append(on_judged(row, shop))
    return replace(shown, jobs=tuple(rows))


def on_judged(job: JobDate, shop: Shop) -> JobDate:
    """By the time that the shop judges its promises on, as drawn for the plan."""
    if job.state == PromiseState.KEPT or job.leaves is None:
        return job
    late = shop.judged_on == JudgedOn.LATE and job.early is not None
    at = judged_time(job.leaves, (job.early, job.likely, job.late), shop.judged_on)
    if at is None:  # beyond what is planned ahead
        beyond = PromiseState.SHORT if job.promised else PromiseState.NONE
        return replace(job, judged_late=late, state=beyond, spare_hours=None)
    state, spare = judged(at, job.promised, shop)
    return replace(job, judged_late=late, state=state, spare_hours=spare)
