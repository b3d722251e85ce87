"""What another casting time, room temperature, mix or sealer would do to a piece. Nothing is saved.

The loaded rows are changed in memory, as `effects` does, and derived once more.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from curing.air import TAIL
from curing.climate import Climate
from jobs.models import Batch, Job, Mark, Piece
from jobs.services.course import OpenPiece, course_of
from jobs.services.derive import derive_job
from jobs.services.errors import Refused
from jobs.services.facts import AHEAD, Facts, with_pieces
from jobs.services.outlook import JobOutlook, PieceOutlook, StepOutlook
from jobs.services.reasons import clock
from jobs.services.standing import standing_of
from shop.localtime import from_hours, to_hours
from shop.models import Mix, Sealer

__all__ = ["Answer", "StepChange", "Thought", "mixes_on_offer", "sealers_on_offer", "what_if"]


@dataclass(frozen=True)
class Thought:
    """What is taken to be otherwise; None leaves it as it is."""

    cast_at: dt.datetime | None = None
    celsius: float | None = None  # of the room, from now on
    mix: Mix | None = None
    sealer: Sealer | None = None

    def __bool__(self) -> bool:
        return any(part is not None for part in (self.cast_at, self.celsius, self.mix, self.sealer))


@dataclass(frozen=True)
class StepChange:
    name: str
    before: StepOutlook | None  # None: the route as it is has no such step
    after: StepOutlook | None

    @property
    def before_at(self) -> dt.datetime | None:
        return moment_of(self.before)

    @property
    def after_at(self) -> dt.datetime | None:
        return moment_of(self.after)

    @property
    def shift_hours(self) -> float | None:
        return shift(self.before_at, self.after_at)

    @property
    def stands(self) -> bool:
        """Done, and as it was done."""
        done = self.before and self.before.done and self.after and self.after.done
        return bool(done) and self.before_at == self.after_at


@dataclass(frozen=True)
class Answer:
    before: JobOutlook
    after: JobOutlook
    piece_before: PieceOutlook
    piece_after: PieceOutlook
    steps: tuple[StepChange, ...]
    left_aside: tuple[str, ...]  # marks that cannot stand beside the casting time in thought
    thought: OpenPiece
    plan_left_out: bool = False  # a plan stands for the job: its tables and people are not in this

    @property
    def shift_hours(self) -> float | None:
        return shift(self.piece_before.ready_at, self.piece_after.ready_at)

    @property
    def late_shift_hours(self) -> float | None:
        return shift(self.piece_before.ready_late, self.piece_after.ready_late)


def shift(was: dt.datetime | None, comes: dt.datetime | None) -> float | None:
    """Later by so many hours; negative is sooner. None where one of the two is not known."""
    return None if was is None or comes is None else (comes - was).total_seconds() / 3600


def moment_of(step: StepOutlook | None) -> dt.datetime | None:
    return (step.done_at or step.workable) if step else None


def mixes_on_offer(piece: Piece) -> list[Mix]:
    return [mix for mix in Mix.objects.filter(in_use=True) if mix.pk != piece.mix_id]


def sealers_on_offer(piece: Piece) -> list[Sealer]:
    return [row for row in Sealer.objects.filter(in_use=True) if row.pk != piece.sealer_id]


def what_if(opened: OpenPiece, thought: Thought) -> Answer:
    """Beside today's. The rows that `opened` holds stay as they are."""
    _refuse_no_such_cast(opened, thought)
    facts = _read_again(opened.facts.concrete_alone(), opened.job)
    job = facts.jobs[0]
    piece = next(row for row in job.pieces.all() if row.pk == opened.piece.pk)
    left_aside = _think(piece, thought, facts.now)
    if thought.celsius is not None:
        facts = _kept_at(facts, piece.room_id, thought.celsius)
    after = derive_job(facts, job)
    outlook = next(known for known in after.pieces if known.piece_id == piece.pk)
    return Answer(
        before=_by_concrete(opened),
        after=after,
        piece_before=opened.outlook,
        piece_after=outlook,
        steps=tuple(_changes(opened.outlook.steps, outlook.steps)),
        left_aside=tuple(left_aside),
        thought=OpenPiece(facts, job, piece, after, outlook, course_of(facts, piece, outlook)),
        plan_left_out=opened.job_outlook.planned_at is not None,
    )


def _by_concrete(opened: OpenPiece) -> JobOutlook:
    """As it is, but for the plan: what is thought of here, no plan has been made of."""
    if opened.job_outlook.planned_at is None:
        return opened.job_outlook
    return derive_job(opened.facts.concrete_alone(), opened.job)


def _read_again(facts: Facts, job: Job) -> Facts:
    """Rows of their own to think with; the air and the calendar are those already read."""
    return facts.with_jobs(with_pieces(Job.objects.filter(pk=job.pk)))


def _refuse_no_such_cast(opened: OpenPiece, thought: Thought) -> None:
    at, facts = thought.cast_at, opened.facts
    if at is None:
        return
    known_since = from_hours(float(facts.climate_of(opened.piece.room_id).hours[0]))
    if opened.outlook.cast_at is None and at < facts.now - dt.timedelta(minutes=5):
        raise Refused("This piece is not cast yet, so choose a time to come.", field="cast_at")
    if at < known_since:
        raise Refused(
            f"The room's air is read here from {clock(known_since, facts)} on. "
            "Choose a casting time after that.",
            field="cast_at",
        )
    if at > facts.now + AHEAD:
        raise Refused(
            f"The dates look {AHEAD.days} days ahead. Choose a casting time within them.",
            field="cast_at",
        )


def _think(piece: Piece, thought: Thought, now: dt.datetime) -> list[str]:
    """Change the loaded rows; returns the names of the steps whose marks are left aside."""
    piece.mix = thought.mix or piece.mix
    piece.sealer = thought.sealer or piece.sealer
    if thought.cast_at is None:
        return []
    piece.batch = Batch(mix=piece.mix, room=piece.room, planned_for=thought.cast_at)
    done = standing_of(piece.marks.all()).done
    cast = done.pop(piece.route.steps.all()[0].key, None) if done else None
    if cast is not None:
        _move_or_strike(cast, thought.cast_at, now)
    impossible = [mark for mark in done.values() if mark.happened_at < thought.cast_at]
    for mark in impossible:
        mark.kind = Mark.Kind.STRUCK
    return [mark.step_name for mark in impossible]


def _move_or_strike(cast: Mark, to: dt.datetime, now: dt.datetime) -> None:
    """A casting still to come is planned, not marked."""
    if to > now:
        cast.kind = Mark.Kind.STRUCK
    cast.happened_at = to


def _kept_at(facts: Facts, room_id: int, celsius: float) -> Facts:
    kept = kept_at(facts.climate_of(room_id), celsius, since=to_hours(facts.now))
    return replace(facts, climates={**facts.climates, room_id: kept})


def kept_at(climate: Climate, celsius: float, *, since: float) -> Climate:
    """The same air up to a moment, one temperature from then on; humidity as it was expected."""
    place = int(np.searchsorted(climate.hours, since, side="right"))
    edge = float(climate.celsius_at(since)), float(climate.humidity_at(since))
    # What goes on after the last knot is taken from the week before it.
    rest = np.append(climate.hours[place:], max(since, climate.hours[-1]) + TAIL)
    humidity = np.append(climate.humidity[place:], climate.humidity[-1])
    measured = climate.measured[: max(place - 1, 0)]
    return replace(
        climate,
        hours=np.concatenate([climate.hours[:place], [since, since], rest]),
        celsius=np.concatenate(
            [climate.celsius[:place], [edge[0], celsius], np.full(len(rest), celsius)]
        ),
        humidity=np.concatenate([climate.humidity[:place], [edge[1], edge[1]], humidity]),
        measured=_stretched(measured, total=place + 1 + len(rest)),
        _clocks={},
    )


def _stretched(measured: NDArray[np.bool_], *, total: int) -> NDArray[np.bool_]:
    """What was measured stays so; nothing from the moment of the thought on is."""
    return np.concatenate([measured, np.zeros(total - len(measured), dtype=bool)])


def _changes(before: Sequence[StepOutlook], after: Sequence[StepOutlook]) -> Iterable[StepChange]:
    """In the order of the route; a coat that only one of the sealers has stands where it falls."""
    was, comes = ({step.key: step for step in steps} for steps in (before, after))
    keys = list(was)
    for number, step in enumerate(after):
        if step.key not in was:
            keys.insert(keys.index(after[number - 1].key) + 1 if number else 0, step.key)
    for key in keys:
        shown = comes.get(key) or was[key]
        yield StepChange(shown.name, was.get(key), comes.get(key))
