"""Play a job forward as a diligent crew would have: each step marked when the engine allowed it
and somebody was on shift, through the same services the floor uses."""

from __future__ import annotations

import datetime as dt
import random
import uuid
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from curing import timeline
from jobs.demo.cast_list import DemoJob, DemoPiece
from jobs.models import Batch, Job, Mark, Outcome, Piece, TrustedAge
from jobs.services import casting, corrections, marks
from jobs.services.derive import engine_arguments
from jobs.services.facts import Facts, with_pieces
from jobs.services.route_steps import piece_steps
from shop.localtime import from_hours, settle, to_hours
from shop.models import Person

DAY = dt.timedelta(days=1)
MINUTE = dt.timedelta(minutes=1)
# What a played step may lie before now, so that small delays on the way still fit.
RECENT = dt.timedelta(minutes=45)


class NoTime(Exception):
    """No casting day lets the piece have come this far by now."""


@dataclass(frozen=True)
class Act:
    """A step that was done."""

    key: str
    at: dt.datetime
    early: bool = False


@dataclass
class Stage:
    """Where the story plays: the facts of the shop, its people, and a source of small delays."""

    facts: Facts
    owner: Person
    crew: Sequence[Person]
    random: random.Random

    @property
    def now(self) -> dt.datetime:
        return self.facts.now

    def work_days(self) -> list[dt.date]:
        """Days with a shift, the latest first, up to today."""
        zone = self.facts.shop.zone
        starts = (from_hours(start) for start, _ in self.facts.shifts.windows)
        days = {start.astimezone(zone).date() for start in starts if start <= self.now}
        return sorted(days, reverse=True)

    def work_days_ahead(self) -> list[dt.date]:
        zone = self.facts.shop.zone
        starts = (from_hours(start) for start, _ in self.facts.shifts.windows)
        days = {start.astimezone(zone).date() for start in starts if start > self.now}
        return sorted(days - {self.now.astimezone(zone).date()})

    def moment(self, day: dt.date, hour: int, minute: int = 0) -> dt.datetime:
        return settle(dt.datetime.combine(day, dt.time(hour, minute)), self.facts.shop.zone)


def play(stage: Stage, job: Job, demo: DemoJob, heater_day: dt.date) -> None:
    """Cast and mark the job's pieces up to where the cast list wants them."""
    pieces = {piece.letter: piece for piece in loaded(job).pieces.all()}
    cast = [
        (pieces[demo_piece.letter], demo_piece) for demo_piece in demo.pieces if demo_piece.done
    ]
    if cast:
        water_in = _casting_time(stage, demo, cast, heater_day)
        _cast(stage, [piece for piece, _ in cast], water_in)
        for piece, demo_piece in cast:
            _mark_all(stage, demo, piece, demo_piece, water_in)
    if demo.hold:
        _hold(stage, cast[0][0], demo.hold)
    if demo.recast:
        _recast(stage, cast[0][0], demo.recast)
    if demo.cast_in_days is not None:
        _set_cast(stage, list(pieces.values()), demo.cast_in_days)


def loaded(job: Job) -> Job:
    return with_pieces(Job.objects.filter(pk=job.pk)).get()


def _casting_time(
    stage: Stage,
    demo: DemoJob,
    cast: Sequence[tuple[Piece, DemoPiece]],
    heater_day: dt.date,
) -> dt.datetime:
    """The last day from which every piece has come this far, and rested, by now."""
    if demo.cast_before_heater_failed:
        return _water_in(stage, heater_day)
    by = _by(stage, demo)
    for day in stage.work_days():
        water_in = _water_in(stage, day)
        if water_in < by and _fits(stage, demo, cast, water_in, by):
            return water_in
    raise NoTime(f"{demo.number} cannot have come this far.")


def _by(stage: Stage, demo: DemoJob) -> dt.datetime:
    """When its last mark was made, at the latest."""
    if not demo.rested_days:
        return stage.now - RECENT
    return stage.moment(stage.work_days()[demo.rested_days], 15)


def _water_in(stage: Stage, day: dt.date) -> dt.datetime:
    return stage.moment(day, 9, 10 + stage.random.randrange(0, 40))


def _fits(
    stage: Stage,
    demo: DemoJob,
    cast: Sequence[tuple[Piece, DemoPiece]],
    water_in: dt.datetime,
    by: dt.datetime,
) -> bool:
    for piece, demo_piece in cast:
        acts = list(acts_of(stage, demo, piece, demo_piece, water_in))
        if acts[-1].key != demo_piece.done or acts[-1].at > by:
            return False
        if demo.demolded_early and piece is cast[0][0] and not any(act.early for act in acts):
            return False
    return True


def acts_of(
    stage: Stage, demo: DemoJob, piece: Piece, demo_piece: DemoPiece, water_in: dt.datetime
) -> Iterator[Act]:
    """The casting and what follows it, each a while after it could be finished."""
    steps = piece_steps(piece, stage.facts.shop, stage.facts.gate_of(piece))
    arguments = engine_arguments(stage.facts, piece, steps)
    done = {steps[0].engine.key: to_hours(water_in)}
    yield Act(steps[0].engine.key, water_in)
    # The same delays each time a day is tried, or the day found would not be the day played.
    delays = random.Random(piece.code)  # noqa: S311  made-up minutes
    for place in range(1, len(steps)):
        if list(done)[-1] == demo_piece.done:
            return
        key = steps[place].engine.key
        soon = max(done.values())
        begins = [soon]
        if key == demo_piece.done:
            begins.insert(0, max(soon, _lately(stage, demo, delays)))
        delay = delays.randrange(0, 12) * MINUTE
        for begin in begins:
            milestone = timeline.derive(cast=to_hours(water_in), done=done, now=begin, **arguments)[
                place
            ]
            at = from_hours(milestone.finish) + delay
            if at <= _by(stage, demo):
                break
        hasty = demo.demolded_early and piece.letter == "A" and key == "demold"
        sooner = _sooner(stage, milestone) if hasty else None
        at = sooner or at
        if at >= stage.now:
            return
        done[milestone.key] = to_hours(at)
        yield Act(milestone.key, at, early=sooner is not None)


def _lately(stage: Stage, demo: DemoJob, delays: random.Random) -> float:
    """Some time on the last shifts, so that the last step was not done the moment it could be."""
    since = _by(stage, demo) - delays.randrange(90, 26 * 60) * MINUTE
    moment = to_hours(since)
    begun = [(start, end) for start, end in stage.facts.shifts.windows if start <= moment]
    return float(min(moment, begun[-1][1]))


def _sooner(stage: Stage, milestone: timeline.Milestone) -> dt.datetime | None:
    """A time on the same shift, more than half an hour before the concrete allowed the step."""
    earliest = from_hours(milestone.earliest)
    for start, end in stage.facts.shifts.windows:
        opened = from_hours(start) + 20 * MINUTE
        if opened <= earliest - 35 * MINUTE and earliest <= from_hours(end):
            return max(opened, earliest - 75 * MINUTE)
    return None


def _cast(stage: Stage, pieces: Sequence[Piece], water_in: dt.datetime) -> Batch:
    batch = casting.plan_cast(
        piece_ids=[piece.pk for piece in pieces],
        room_id=pieces[0].room_id,
        planned_for=stage.moment(water_in.astimezone(stage.facts.shop.zone).date(), 9),
        by=stage.owner,
        now=water_in - 2 * DAY,
    )
    recorded = marks.mark_batch_cast(
        batch_id=batch.pk,
        by=stage.crew[0],
        client_key=_key(stage),
        water_in=water_in,
        now=water_in + 4 * MINUTE,
    )
    for mark in recorded:
        record_at(mark, water_in + 4 * MINUTE)
    return batch


def _mark_all(
    stage: Stage, demo: DemoJob, piece: Piece, demo_piece: DemoPiece, water_in: dt.datetime
) -> None:
    acts = list(acts_of(stage, demo, piece, demo_piece, water_in))
    for act in acts[1:]:
        if demo.mistaken_mark and act is acts[-1]:
            _mark_and_strike(stage, piece, act)
        reason = "Form needed for the next cast; strongback on, it came off clean."
        _mark(stage, piece, act, reason if act.early else "", _outcome(demo, act))


def _mark(stage: Stage, piece: Piece, act: Act, reason: str = "", outcome: str = "") -> Mark:
    mark = marks.mark_done(
        piece_id=piece.pk,
        step_key=act.key,
        by=stage.random.choice(list(stage.crew)),
        client_key=_key(stage),
        happened_at=act.at,
        reason=reason,
        outcome=outcome,
        now=act.at,
    )
    record_at(mark, act.at)
    return mark


def _outcome(demo: DemoJob, act: Act) -> str:
    """All came out clean. The one that was lost broke on flipping: that says nothing of its age."""
    return Outcome.CLEAN if act.key == "demold" and not demo.recast else ""


def _mark_and_strike(stage: Stage, piece: Piece, act: Act) -> None:
    """A tap on the wrong line, taken back four minutes later."""
    mistaken = _mark(stage, piece, Act(act.key, act.at - 9 * MINUTE))
    at = act.at - 5 * MINUTE
    struck = corrections.strike(mark_id=mistaken.pk, by=mistaken.by, client_key=_key(stage), now=at)
    record_at(struck, at)


def _hold(stage: Stage, piece: Piece, reason: str) -> None:
    at = _after_last(stage, piece)
    record_at(
        corrections.hold(
            piece_id=piece.pk, by=stage.crew[-1], reason=reason, client_key=_key(stage), now=at
        ),
        at,
    )


def _recast(stage: Stage, piece: Piece, reason: str) -> None:
    at = _after_last(stage, piece)
    record_at(
        corrections.recast(
            piece_id=piece.pk, by=stage.crew[0], reason=reason, client_key=_key(stage), now=at
        ),
        at,
    )


def _after_last(stage: Stage, piece: Piece) -> dt.datetime:
    last = Mark.objects.filter(piece=piece).latest("happened_at").happened_at
    return min(last + 20 * MINUTE, stage.now)


def _set_cast(stage: Stage, pieces: Sequence[Piece], in_days: int) -> None:
    casting.plan_cast(
        piece_ids=[piece.pk for piece in pieces],
        room_id=pieces[0].room_id,
        planned_for=stage.moment(stage.work_days_ahead()[in_days - 1], 9, 30),
        by=stage.owner,
        now=stage.now,
    )


def _key(stage: Stage) -> uuid.UUID:
    return uuid.UUID(int=stage.random.getrandbits(128), version=4)


def record_at(mark: Mark, at: dt.datetime) -> None:
    """Marks carry the time they were recorded; a story of the past was recorded in the past."""
    Mark.objects.filter(pk=mark.pk).update(recorded_at=at)
    TrustedAge.objects.filter(mark=mark).update(at=at)
