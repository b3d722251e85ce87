"""What the plan's pages show, gathered for their templates."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from jobs.models import PlanRun, PromiseState
from jobs.plan.axis import DAY, Axis, axis_of, monday_of, read_monday
from jobs.plan.days import LoadRow, PlanDay, days_of, load_rows, stays_by_place
from jobs.plan.missing import Missing, missing_in
from jobs.plan.picture import Picture, picture_of
from jobs.services.plain_words import listed
from jobs.services.plan_before import Undone
from jobs.services.plan_shown import JobDate, Shown, Stay, Work
from jobs.services.plan_stored import from_json
from jobs.services.short_words import Why, short_in_plan
from shop.http import ShopRequest
from shop.models import Shop


@dataclass(frozen=True)
class Sheet:
    """A week of a plan. What the board's signs ask for is among it."""

    axis: Axis
    shown: Shown
    picture: Picture
    plan_days: list[PlanDay]
    load: list[LoadRow]
    standing: list[tuple[str, list[Stay]]]
    jobs: tuple[JobDate, ...]
    why_short: Why
    missing: tuple[Missing, ...]

    @property
    def days(self) -> Any:
        return self.axis.days

    @property
    def nights(self) -> Any:
        return self.axis.nights

    @property
    def now_x(self) -> float | None:
        return self.axis.now_x

    @property
    def before(self) -> str:
        return (self.axis.monday - 7 * DAY).isoformat()

    @property
    def after(self) -> str:
        return (self.axis.monday + 7 * DAY).isoformat()

    @property
    def this(self) -> str:
        return monday_of(self.axis.now, self.axis.zone).isoformat()

    @property
    def is_this(self) -> bool:
        return self.this == self.axis.monday.isoformat()

    @property
    def open_on(self) -> dt.date | None:
        """The day that is unfolded: today, or the next one with work."""
        return next((row.day.day for row in self.plan_days if not row.idle and not row.past), None)

    @property
    def pins(self) -> tuple[Work, ...]:
        return tuple(work for work in self.shown.works if work.pinned)

    @property
    def summary(self) -> str:
        return summary(self.jobs)


def sheet_of(shown: Shown, shop: Shop, text: str, now: dt.datetime) -> Sheet:
    axis = axis_of(read_monday(text, now, shop.zone), shop, now)
    missing = missing_in(shown.works, shop, now)
    order = {PromiseState.SHORT: 0, PromiseState.TIGHT: 1}
    far = dt.datetime.max.replace(tzinfo=dt.UTC)
    jobs = sorted(
        shown.jobs,
        key=lambda job: (order.get(PromiseState(job.state), 2), job.promised or far, job.number),
    )
    return Sheet(
        axis=axis,
        shown=shown,
        picture=picture_of(shown, axis),
        plan_days=days_of(shown, axis, missing),
        load=load_rows(shown, axis),
        standing=stays_by_place(shown.stays, axis),
        jobs=tuple(jobs),
        why_short=short_in_plan(jobs),
        missing=missing,
    )


def summary(jobs: tuple[JobDate, ...]) -> str:
    states = [job.state for job in jobs if job.promised]
    short = states.count(PromiseState.SHORT)
    tight = states.count(PromiseState.TIGHT)
    holds = states.count(PromiseState.HOLDS)
    dateless = sum(
        bool(job.promised and not job.leaves and job.state != PromiseState.KEPT) for job in jobs
    )
    last = f"; {dateless} {'have' if dateless > 1 else 'has'} no date." if dateless else "."
    if not short + tight + holds:
        return f"No promised job is planned{last}"
    if not short + tight:
        return f"{'Every planned promise' if holds > 1 else 'The promise'} holds{last}"
    many = short or tight
    words = f"By this plan {many} promise{'s are' if many > 1 else ' is'}"
    words += f" {'short' if short else 'tight'}"
    if short and tight:
        words += f" and {tight} {'are' if tight > 1 else 'is'} tight"
    return f"{words}; {holds} hold{'s' if holds == 1 else ''}{last}"


def undone_words(undone: Undone) -> str:
    words = "Undone: casts and steps are planned as they were before."
    if undone.back:
        words += f" Taken back as well: {listed(undone.back)}."
    if undone.left:
        words += f" Left as it is: {listed(undone.left)}."
    return words


def proposed(run: PlanRun) -> Shown:
    assert run.found is not None
    return from_json(Shown, run.found["shown"])


def base(request: ShopRequest, **more: Any) -> dict[str, Any]:
    return {"door": "plan", **more}
