"""The material's tone laid along the week."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from jobs.board.week import Week
from jobs.services.outlook import Tone
from jobs.services.tone import colour

# Neighbours overlap by this much, or the screen shows hair lines between them.
OVERLAP = 0.12


@dataclass(frozen=True)
class Band:
    """A stretch of one tone on the week's width, in percent."""

    x: float
    width: float
    fill: str


def level_at(tones: Sequence[Tone], moment: dt.datetime) -> float | None:
    """Between the two tones around the moment; None before the first, the last one after it."""
    if not tones or moment < tones[0].at:
        return None
    for left, right in pairwise(tones):
        if left.at <= moment < right.at:
            share = (moment - left.at) / (right.at - left.at)
            return left.level + share * (right.level - left.level)
    return tones[-1].level


def bands(tones: Sequence[Tone], week: Week) -> list[Band]:
    """The tones as stretches within the week, equal neighbours joined."""
    joined: list[tuple[float, float, str]] = []
    for left, right in pairwise(tones):
        start, end = week.clipped(left.at), week.clipped(right.at)
        if end <= start:
            continue
        fill = colour((left.level + right.level) / 2)
        if joined and joined[-1][2] == fill:
            start = joined.pop()[0]
        joined.append((start, end, fill))
    last = joined[-1][1] if joined else 0.0
    return [
        Band(round(start, 3), round(min(end + OVERLAP, last) - start, 3), fill)
        for start, end, fill in joined
    ]
