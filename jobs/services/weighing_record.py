"""A piece's weights as they are shown: each with its loss a day, and whether it counts as dry.

Pure: facts in, rows out.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from jobs.models import Weighing
from jobs.services.weighing import losses, standing_weighings, weighed_of
from shop.localtime import from_hours


@dataclass(frozen=True)
class WeighRow:
    weighing: Weighing
    counts: bool  # since the last wetting, and not struck
    percent_a_day: float | None  # lost since one a day or so before it
    under: bool  # less than the limit


@dataclass(frozen=True)
class WeighRecord:
    rows: tuple[WeighRow, ...]  # in order of time, struck ones too
    limit_percent: float
    wetted_at: dt.datetime | None
    dry_at: dt.datetime | None
    next_at: dt.datetime | None  # from when another weighing can show something

    @property
    def standing(self) -> list[WeighRow]:
        return [row for row in self.rows if row.counts]

    @property
    def last(self) -> WeighRow | None:
        return self.standing[-1] if self.standing else None

    @property
    def limit_kg(self) -> float | None:
        """What the limit is of this piece's weight: the scale must show as little."""
        last = self.last
        return last.weighing.kg * self.limit_percent / 100.0 if last else None


def record_of(
    rows: Sequence[Weighing], wetted_at: dt.datetime | None, percent: float
) -> WeighRecord:
    kept = standing_weighings(rows, wetted_at) if wetted_at else []
    found = {loss.until.pk: loss.percent_a_day for loss in losses(kept)}
    said = weighed_of(kept, wetted_at, percent=percent, likely_hours=0.0)
    counting = {row.pk for row in kept}
    return WeighRecord(
        rows=tuple(
            WeighRow(
                row,
                row.pk in counting,
                found.get(row.pk),
                found.get(row.pk, percent) < percent,
            )
            for row in sorted(rows, key=lambda row: (row.at, row.pk))
        ),
        limit_percent=percent,
        wetted_at=wetted_at,
        dry_at=None if said.dry_at is None else from_hours(said.dry_at),
        next_at=None if said.next_at is None else from_hours(said.next_at),
    )
