"""The route as a stair: a row for each step, its wait drawn up to the moment it can be done."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from jobs.piece.axis import Axis
from jobs.piece.whisker import Whisker, whisker
from jobs.piece.words import early_of, governed, governed_shortly, late_of, when
from jobs.services.outlook import StepOutlook

# Units across for a letter of the drawing's size, in a step's bold name and in its reason.
BOLD, PLAIN = 7.2, 6.3
GAP = 11.0  # between a step's dot and its words
WORDS_OVER = 15.0  # a phone's words stand so far over their dot


@dataclass(frozen=True)
class Words:
    title: str
    reason: str
    x: float
    anchor: str = "start"
    reason_x: float | None = None  # None runs on behind the title
    reason_anchor: str = "start"

    @property
    def run_on(self) -> bool:
        return bool(self.reason) and self.reason_x is None


@dataclass(frozen=True)
class StairRow:
    y: float
    since: float  # where the step before left off
    allowed: float  # the concrete allows it
    x: float  # it is done, or can be
    done: bool
    is_next: bool
    words: Words
    words_y: float
    reason_y: float
    whisker: Whisker | None = None  # from its early to its late time

    @property
    def held(self) -> bool:
        """The crew's hours or the air kept it past what the concrete asks."""
        return not self.done and self.x > self.allowed + 0.5


@dataclass(frozen=True)
class Layout:
    axis: Axis
    top: float
    row: float
    narrow: bool


def stair(steps: Sequence[StepOutlook], layout: Layout) -> list[StairRow]:
    axis = layout.axis
    drawn = list(_drawn(steps, axis))
    upcoming = next((step.key for step in steps if not step.done), None)
    rows = []
    left_off = axis.at(drawn[0][1]) if drawn else 0.0
    for number, (step, at) in enumerate(drawn):
        y = layout.top + layout.row * number + layout.row / 2
        rows.append(_row(step, at, left_off, y, layout, is_next=step.key == upcoming))
        left_off = axis.at(step.done_at or step.finish or at)
    return rows


def _drawn(steps: Sequence[StepOutlook], axis: Axis) -> Iterator[tuple[StepOutlook, dt.datetime]]:
    """An install lies on another day, past the axis: the table has it."""
    for step in steps:
        at = step.done_at or step.workable
        if at is not None and axis.holds(at):
            yield step, at


def _row(
    step: StepOutlook, at: dt.datetime, since: float, y: float, layout: Layout, *, is_next: bool
) -> StairRow:
    axis = layout.axis
    x = axis.at(at)
    since = min(since, x)
    allowed = axis.at(step.earliest) if step.earliest else x
    across = round(y + WORDS_OVER if layout.narrow else y, 1)
    may_be = whisker(axis, across, early_of(step), late_of(step), step.likely)
    if layout.narrow:
        words = _over(step, at, since, axis)
    elif may_be:
        words = _beside(step, at, min(since, may_be.since), max(x, may_be.until), axis)
    else:
        words = _beside(step, at, since, x, axis)
    return StairRow(
        y=across,
        since=since,
        allowed=min(max(since, allowed), x),
        x=x,
        done=step.done,
        is_next=is_next,
        words=words,
        words_y=round(y - 6.0 if layout.narrow else y + 4.0, 1),
        reason_y=round(y + 6.0 if layout.narrow else y + 4.0, 1),
        whisker=may_be,
    )


def _beside(step: StepOutlook, at: dt.datetime, since: float, x: float, axis: Axis) -> Words:
    """Right of the dot where the words fit, else left of the wait, in fewer words if need be;
    else the title on one side and its reason on the other, or no reason at all."""
    title, right, left = (
        f"{step.name} {when(at)}",
        round(x + GAP, 1),
        round(since - GAP, 1),
    )
    for reason in (governed(step), governed_shortly(step)):
        length = len(title) * BOLD + (len(reason) + 3) * PLAIN
        if length <= axis.width - right:
            return Words(title, reason, right)
        if length <= left:
            return Words(title, reason, left, "end")
    name, why = len(title) * BOLD, len(reason) * PLAIN
    if name <= left and why <= axis.width - right:
        return Words(title, reason, left, "end", right, "start")
    if name <= axis.width - right and why <= left:
        return Words(title, reason, right, "start", left, "end")
    if left > axis.width - right:
        return Words(title, "", max(left, name), "end")
    return Words(title, "", min(right, axis.width - name))


def _over(step: StepOutlook, at: dt.datetime, since: float, axis: Axis) -> Words:
    """Over the wait, from its start, moved left as far as the words need."""
    title, reason = f"{step.name} {when(at)}", governed_shortly(step)
    length = max(len(title) * BOLD, len(reason) * PLAIN)
    x = round(max(2.0, min(since, axis.width - length - 2.0)), 1)
    return Words(title, reason, x, "start", x, "start")
