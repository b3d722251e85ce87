"""What the board says of promises and steps, in the owner's words."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable

from django.utils import timezone

from jobs.models import PromiseState
from jobs.services.outlook import JobOutlook, StepOutlook
from shop.measures import hours_words
from shop.models import StepKind

SHORT_NAMES = {
    StepKind.CAST: "cast",
    StepKind.DEMOLD: "demold",
    StepKind.GRIND: "grind",
    StepKind.FILL: "fill",
    StepKind.HONE: "hone",
    StepKind.CRATE: "crate",
    StepKind.DELIVER: "delivered",
    StepKind.INSTALL: "install",
}
NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")


def promise_words(state: str, spare_hours: float | None) -> str:
    hours = hours_words(spare_hours or 0.0)
    return {
        PromiseState.SHORT: f"short by {hours}",
        PromiseState.TIGHT: f"tight, {hours} to spare",
        PromiseState.HOLDS: f"holds, {hours} to spare",
        PromiseState.KEPT: "delivered",
    }.get(PromiseState(state), "no promise")


def step_words(step: StepOutlook) -> str:
    """A coat keeps its number, other work its own name."""
    if step.kind == StepKind.COAT:
        coat = step.key.rpartition("-")[2]
        return f"coat {coat}" if coat.isdigit() else "coat"
    return SHORT_NAMES.get(StepKind(step.kind), step.name)


def clock_words(moment: dt.datetime) -> str:
    local = timezone.localtime(moment)
    return f"{local:%a} {local.day} {local:%b} {local:%H:%M}"


def summary(outlooks: Iterable[JobOutlook]) -> str:
    """'One promise is short, two are tight; 9 hold.'"""
    states = Counter(outlook.state for outlook in outlooks)
    short, tight, holds = (states[state] for state in ("short", "tight", "holds"))
    if not short + tight + holds:
        return "No promises are open."
    if not short + tight:
        return "The promise holds." if holds == 1 else f"All {holds} promises hold."
    troubles = [f"{_count(n)} {word}" for n, word in ((short, "short"), (tight, "tight")) if n]
    troubles[0] = _with_noun(short or tight, "short" if short else "tight")
    rest = f"; {_hold(holds)}" if holds else ""
    return ", ".join(troubles) + rest + "."


def judged_by(outlooks: Iterable[JobOutlook]) -> str:
    """What the promises are held against: whether tables, people and truck are in it."""
    planned = alone = 0
    for outlook in outlooks:
        planned += outlook.planned_at is not None
        alone += outlook.concrete_alone
    if not planned:
        return "By the concrete and the working hours alone: no plan stands." if alone else ""
    words = "By the concrete and the plan that stands, whichever is later"
    if not alone:
        return f"{words}."
    which = "one job is" if alone == 1 else f"{_number(alone)} jobs are"
    return f"{words}; {which} not in the plan, so by the concrete alone."


def _with_noun(number: int, state: str) -> str:
    noun, verb = ("promise", "is") if number == 1 else ("promises", "are")
    return f"{_number(number).capitalize()} {noun} {verb} {state}"


def _count(number: int) -> str:
    return f"{_number(number)} {'is' if number == 1 else 'are'}"


def _hold(number: int) -> str:
    return f"{_number(number)} holds" if number == 1 else f"{number} hold"


def _number(number: int) -> str:
    return NUMBERS[number] if number < len(NUMBERS) else str(number)
