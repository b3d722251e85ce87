"""The mixer's runs of the last days' casts: opened, weighed with small errors, lots kept."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Sequence

from jobs.models import Batch, Mark, MixerRun, Weighed
from jobs.services.mixing import CastRuns, casts_runs, frozen_run, with_runs
from jobs.services.standing import standing_of
from jobs.services.ticks import lot_key
from jobs.services.weigh_sheets import ShownLine, lines_of
from shop.models import Person, Shop

DAYS = 14
MINUTE = dt.timedelta(minutes=1)
MOISTURE = {"Silica sand": 0.038}
LOTS = {
    "cement": "C-0931",
    "pozzolan": "MK-118",
    "sand": "S-77",
    "polymer": "P24-06",
    "admixture": "PL-552",
    "pigment": "FE-318 black",
    "fibre": "AR-2040",
}
# The last bags were opened so many days ago.
NEW_BAGS, NEW_LOTS = 5, {"cement": "C-0946", "fibre": "AR-2052"}


def weigh_casts(now: dt.datetime, shop: Shop, crew: Sequence[Person], seed: int) -> None:
    """Bulk inserts: opened before water-in, a line a minute, the last bags since some days."""
    chance = random.Random(seed)  # noqa: S311  made-up errors
    since = now - DAYS * dt.timedelta(days=1)
    recent = Batch.objects.filter(planned_for__gte=since, pieces__marks__kind=Mark.Kind.DONE)
    batches = list(with_runs(recent.distinct().order_by("planned_for", "pk")))
    rows: list[MixerRun] = []
    for runs in casts_runs(batches, MOISTURE):
        water_in = _water_in(runs)
        if runs.recipe is None or water_in is None:
            continue
        for place, planned in enumerate(runs.planned):
            at = water_in + (12 * place - 14) * MINUTE
            rows.append(frozen_run(runs, planned, by=chance.choice(list(crew)), at=at))
            rows[-1].water_in_at = water_in + 12 * place * MINUTE
    MixerRun.objects.bulk_create(rows)
    weighed = [row for run in rows for row in _weighed(run, shop, now, chance)]
    Weighed.objects.bulk_create(weighed)


def _water_in(runs: CastRuns) -> dt.datetime | None:
    """None for pieces that wait for a cast anew, their first one lost."""
    marks = [standing_of(piece.marks.all()).done.get("cast") for piece in runs.pieces]
    return min((mark.happened_at for mark in marks if mark), default=None)


def _weighed(run: MixerRun, shop: Shop, now: dt.datetime, chance: random.Random) -> list[Weighed]:
    found = []
    fresh = run.opened_at > now - NEW_BAGS * dt.timedelta(days=1)
    lots = LOTS | (NEW_LOTS if fresh else {})
    for minute, line in enumerate(lines_of(run.sheet, shop)):
        lot = lots.get(line.role, "")
        row = Weighed(
            run=run,
            line=line.key,
            kg=_shown(line, chance),
            lot=lot,
            lot_key=lot_key(lot),
            at=run.opened_at + (minute + 1) * MINUTE,
            by=run.opened_by,
        )
        found.append(row)
    return found


def _shown(line: ShownLine, chance: random.Random) -> float:
    """A step or so beside what the sheet asks for, as the scale shows it; seldom more."""
    off = chance.choice([-1, 0, 0, 0, 1])
    if chance.random() < 0.02:
        off = round(1.6 * line.line.tolerance_kg / line.line.step_kg) + 1
    return max(line.line.weigh_kg + off * line.line.step_kg, line.line.step_kg)
