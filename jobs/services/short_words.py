"""Why promises are short: by the concrete alone, or since all jobs share tables, people and truck.

A plan can make no promise better than the concrete does, only worse. Whoever plans for the first
time sees more of them short than before, and is told which part of that is the plan's.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from jobs.models import JobPlanned, JobReadiness, PromiseState
from jobs.services.outlook import JobOutlook
from jobs.services.plan_shown import JobDate
from shop.models import JudgedOn

# By the keys of `planning.holding`, as in 'what holds them most: people (3), drying (1)'.
HOLDERS = {
    "table": "tables",
    "rack": "places in the racks",
    "people": "people",
    "booth": "the booth",
    "wet bay": "the wet bay",
    "truck": "the truck",
    "mixer": "the mixer",
    "cure": "curing",
    "drying": "drying",
    "recoat": "waits between coats",
    "strength": "strength for the next step",
    "site": "the site's day",
    "caulk": "the forms' caulk",
    "sealer cure": "curing of the sealer",
    "sealing air": "air that fits the sealer",
    "wait": "waits between steps",
    "pin": "steps that are pinned",
    "hours": "working hours",
}


@dataclass(frozen=True)
class Short:
    """A promise that is short where a plan stands. `held_by` is a key of `planning.holding`."""

    by_concrete: bool
    held_by: str = ""


@dataclass(frozen=True)
class Why:
    """Both are nothing where no promise is short, or there is no plan to speak of."""

    words: str = ""
    brief: str = ""  # the same for a narrow screen, in a line


def why_of(short: Sequence[Short]) -> Why:
    return Why(why_short(short), brief_why(short))


def brief_why(short: Sequence[Short]) -> str:
    """'2 by the concrete, 5 by the plan: people most'"""
    more = [each for each in short if not each.by_concrete]
    alone = len(short) - len(more)
    if not more:
        return "by the concrete alone" if short else ""
    words = f"{alone} by the concrete, {len(more)} by the plan" if alone else "by the plan"
    holders = _holders(more)
    return f"{words}: {holders[0][0]}{' most' if len(holders) > 1 else ''}" if holders else words


def _holders(short: Iterable[Short]) -> list[tuple[str, int]]:
    """What holds them and how many of them, the most first."""
    counts = Counter(HOLDERS[each.held_by] for each in short if each.held_by in HOLDERS)
    return sorted(counts.items(), key=lambda each: (-each[1], each[0]))


def why_short(short: Sequence[Short]) -> str:
    """One sentence or two, nothing where none is short."""
    more = [each for each in short if not each.by_concrete]
    alone = len(short) - len(more)
    if not short:
        return ""
    if not more:
        which = "They are" if alone > 1 else "It is"
        return f"{which} short by the concrete alone, whatever the plan."
    first = f"By the concrete alone {alone or 'none'} {'are' if alone > 1 else 'is'} short"
    verb = "is" if len(more) == 1 else "are"
    words = f"{first}; {len(more)}{' more' if alone else ''} {verb} short because all jobs"
    words += " share the tables, people, stations and truck."
    holders = _holders(more)
    if not holders:
        return words
    if len(more) == 1:
        return f"{words} What holds it most: {holders[0][0]}."
    return f"{words} What holds them most: {', '.join(f'{name} ({n})' for name, n in holders)}."


def short_on_board(outlooks: Iterable[JobOutlook]) -> Why:
    """Nothing where no plan stands for any that is short: what it goes by is said already."""
    short = [each for each in outlooks if each.state == PromiseState.SHORT]
    if not any(each.planned_at for each in short):
        return Why()
    more = [each.job_id for each in short if not _alone(each)]
    rows = JobPlanned.objects.filter(job__in=more).values_list("job_id", "held_by") if more else ()
    held = dict(rows)
    return why_of([Short(_alone(each), held.get(each.job_id, "")) for each in short])


def short_in_plan(jobs: Iterable[JobDate]) -> Why:
    """In one query, however many jobs there are."""
    rows = list(jobs)
    short = [each for each in rows if each.state == PromiseState.SHORT]
    alone = short_by_concrete(each.job_id for each in rows)
    return why_of([Short(each.job_id in alone, each.held_by) for each in short])


def short_by_concrete(job_ids: Iterable[int]) -> frozenset[int]:
    rows = JobReadiness.objects.filter(job__in=list(job_ids)).values_list(
        "job_id",
        "outlook__promised_at",
        "outlook__ready_at",
        "outlook__ready_late",
        "outlook__judged_on",
    )
    return frozenset(
        job_id
        for job_id, promised, likely, late, judged_on in rows
        if _past(_moment(late if judged_on == JudgedOn.LATE else likely), _moment(promised))
    )


def _alone(outlook: JobOutlook) -> bool:
    return _past(outlook.judged_at, outlook.promised_at)


def _past(at: dt.datetime | None, promised: dt.datetime | None) -> bool:
    """None: not within what is looked ahead."""
    return promised is not None and (at is None or at > promised)


def _moment(text: str | None) -> dt.datetime | None:
    return dt.datetime.fromisoformat(text) if text else None
