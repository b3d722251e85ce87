"""From early to late as a line with its ends: what may be, beside what is likely."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from jobs.piece.axis import Axis

END, MIDDLE = 3.5, 6.0  # half the heights of its bars
LEAST = 0.8  # of the drawing's units; shorter ones would be a blot


@dataclass(frozen=True)
class Whisker:
    """A late time past the drawing has no end bar: the line runs on to the edge."""

    y: float
    since: float
    until: float
    ended: bool
    middle: float | None = None

    @property
    def path(self) -> str:
        bars = [(self.since, END)]
        if self.middle is not None:
            bars.append((self.middle, MIDDLE))
        if self.ended:
            bars.append((self.until, END))
        upright = " ".join(f"M{x} {round(self.y - half, 1)}v{2 * half}" for x, half in bars)
        return f"M{self.since} {self.y}H{self.until} {upright}"


def whisker(
    axis: Axis,
    y: float,
    early: dt.datetime | None,
    late: dt.datetime | None,
    likely: dt.datetime | None = None,
) -> Whisker | None:
    """None where nothing is known of it, or nothing left to doubt."""
    if early is None or not axis.holds(early):
        return None
    ended = axis.holds(late)
    since, until = axis.at(early), axis.at(late) if ended and late else axis.right
    if until - since < LEAST:
        return None
    middle = axis.at(likely) if likely and axis.holds(likely) else None
    return Whisker(y, since, until, ended, middle)
