"""What is said to hold a step past the hour at which it could be: only what does."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from curing.spread import Spread
from jobs.services.how_sure import Sureness, likely_step
from jobs.services.outlook import StepOutlook
from shop.localtime import to_hours
from shop.models import StepKind

MONDAY = dt.datetime(2026, 3, 9, tzinfo=dt.UTC)


def at(hour: int, minute: int = 0) -> dt.datetime:
    return MONDAY.replace(hour=hour, minute=minute)


def held_by(kind: str, earliest: dt.datetime, workable: dt.datetime) -> str:
    step = StepOutlook(
        key="it", name="it", kind=kind, earliest=earliest, workable=workable, finish=workable,
        governs="dry", held_by="", waits=(), note="", people=1, labour_hours=1.0, wets=False,
    )  # fmt: skip
    times = [np.full((1, 5), to_hours(each)) for each in (earliest, workable, workable)]
    spread = Spread(("it",), times[0], times[1], times[2], ({},))
    return likely_step(step, Sureness(spread, times[1][0])).held_by


@pytest.mark.parametrize(
    ("kind", "earliest", "workable", "said"),
    [
        # Coats begin at quarter hours (`curing.coats.GRID`).
        (StepKind.COAT, at(10, 1), at(10, 15), ""),
        (StepKind.COAT, at(10, 0), at(10, 15), ""),
        (StepKind.COAT, at(10, 1), at(10, 30), "crew hours"),
        (StepKind.GRIND, at(10, 1), at(10, 1), ""),
        (StepKind.GRIND, at(6, 50), at(7, 0), "crew hours"),
    ],
)
def test_the_crews_hours_hold_a_step_only_where_they_do(
    kind: str, earliest: dt.datetime, workable: dt.datetime, said: str
) -> None:
    assert held_by(kind, earliest, workable) == said
