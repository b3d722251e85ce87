"""What a piece's weights say of its drying. Pure: facts in, what the engine takes out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from curing.route import Weighed
from jobs.models import Weighing
from shop.localtime import to_hours

DAY = 24.0
# Two weighings tell a day's loss when they lie at least so far apart [h].
LEAST_APART = 20.0


@dataclass(frozen=True)
class Loss:
    """Percent of the weight lost a day, from one weighing to a later one."""

    since: Weighing
    until: Weighing
    percent_a_day: float


def standing_weighings(rows: Sequence[Weighing], wetted_at: dt.datetime | None) -> list[Weighing]:
    """Those that count: not struck, and after the last wetting."""
    kept = [row for row in rows if row.struck_at is None]
    return sorted((row for row in kept if wetted_at is None or row.at >= wetted_at), key=_at)


def losses(weighings: Sequence[Weighing]) -> list[Loss]:
    """Of each weighing against the nearest one a day or so before it."""
    found = []
    for number, row in enumerate(weighings):
        for before in reversed(weighings[:number]):
            apart = to_hours(row.at) - to_hours(before.at)
            if apart >= LEAST_APART:
                percent = 100.0 * (before.kg - row.kg) / row.kg * DAY / apart
                found.append(Loss(before, row, percent))
                break
    return found


def weighed_of(
    rows: Sequence[Weighing],
    wetted_at: dt.datetime | None,
    *,
    percent: float,
    likely_hours: float,
) -> Weighed:
    """Dry from the first of the closing run of weighings that each lost less than the limit."""
    kept = standing_weighings(rows, wetted_at)
    dry_at = None
    for loss in reversed(losses(kept)):
        if loss.percent_a_day >= percent:
            break
        dry_at = to_hours(loss.until.at)
    next_at = to_hours(kept[-1].at) + DAY if kept else None
    return Weighed(dry_at=dry_at, next_at=next_at, likely=likely_hours)


def _at(row: Weighing) -> dt.datetime:
    return row.at
