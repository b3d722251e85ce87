"""What a piece's marks amount to, without the struck ones and those of a lost casting."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from jobs.models import Mark


@dataclass(frozen=True)
class Standing:
    done: dict[str, Mark]  # step key -> the mark that counts, in the order they were recorded
    hold: Mark | None
    castings_lost: int

    def finished_at(self) -> dict[str, dt.datetime]:
        return {key: mark.happened_at for key, mark in self.done.items()}

    @property
    def last(self) -> Mark | None:
        return max(self.done.values(), key=lambda mark: mark.pk, default=None)


def standing_of(marks: Iterable[Mark]) -> Standing:
    recorded = sorted(marks, key=lambda mark: mark.pk)
    struck = {mark.strikes_id for mark in recorded if mark.kind == Mark.Kind.STRUCK}
    done: dict[str, Mark] = {}
    hold: Mark | None = None
    lost = 0
    for mark in recorded:
        if mark.pk in struck:
            continue
        if mark.kind == Mark.Kind.DONE:
            done[mark.step_key] = mark
        elif mark.kind == Mark.Kind.HOLD:
            hold = mark
        elif mark.kind == Mark.Kind.RELEASE:
            hold = None
        elif mark.kind == Mark.Kind.RECAST:
            done, hold, lost = {}, None, lost + 1
    return Standing(done=done, hold=hold, castings_lost=lost)
