"""How sure a told day is, in words for the customer: from the draws, no figure of its own."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from itertools import takewhile

from jobs.services.chances import MUCH, times_in_words
from jobs.services.outlook import JobOutlook, PieceOutlook
from shop.models import StepKind

LEAVING = {StepKind.CRATE, StepKind.DELIVER, StepKind.INSTALL}
# Shares of the draws: the ends of a range, a day that can be told, and one hardly ever passed.
EARLY, ENOUGH, ALMOST_ALL = 0.1, 0.9, 0.98

FIRM_WORDS = "This day is firm: the last coat is on, and only packing and delivery remain."
HELD_WORDS = "We are going over one of the pieces again, so this day is not certain yet."
NOT_CAST, CAST, COATED = "not cast", "cast", "coated"
STAGES = {
    NOT_CAST: "Not every piece is cast yet",
    CAST: "Every piece is cast; curing, drying and sealing follow",
    COATED: "The last coat is on; packing and delivery remain",
}
JOINED = {NOT_CAST: ", so we know only ", CAST: ". We know ", COATED: ". We know "}


@dataclass(frozen=True)
class Sureness:
    firm: bool
    words: str


def sureness(outlook: JobOutlook, told_on: dt.date | None) -> Sureness:
    """Of a day that was told, or is about to be."""
    if any(piece.on_hold for piece in outlook.pieces):
        return Sureness(False, HELD_WORDS)
    stage = stage_of(outlook)
    chance = outlook.chance_on(told_on)
    if told_on is None or chance is None:
        return Sureness(False, f"{STAGES[stage]}, so the day may still move.")
    if stage == COATED and chance > MUCH:
        return Sureness(True, FIRM_WORDS)
    times = times_in_words(chance)
    return Sureness(
        False,
        f"By our reckoning such a day is kept {times}{_otherwise(outlook, told_on, chance)}. "
        f"{STAGES[stage]}{_within(outlook, stage, chance)}.",
    )


def stage_of(outlook: JobOutlook) -> str:
    pieces = outlook.pieces
    if not pieces or any(piece.cast_at is None for piece in pieces):
        return NOT_CAST
    return COATED if all(_coated(piece) for piece in pieces) else CAST


def _coated(piece: PieceOutlook) -> bool:
    before_leaving = takewhile(lambda step: step.kind not in LEAVING, piece.steps)
    return all(step.done for step in before_leaving) and bool(piece.steps)


def _within(outlook: JobOutlook, stage: str, chance: float) -> str:
    """How many days lie between the early and the late one: it narrows as the work goes on."""
    early, late = outlook.kept_by(EARLY), outlook.kept_by(ENOUGH)
    if early is None or late is None or early == late:
        return ""
    width = f"to within {days_words((late - early).days)}"
    ready = "all of it will be ready" if len(outlook.pieces) > 1 else "it will be ready"
    room = ", and this day leaves room for that" if chance >= ENOUGH else ""
    return f"{JOINED[stage]}{width} when {ready}{room}"


def _otherwise(outlook: JobOutlook, told_on: dt.date, chance: float) -> str:
    """How much later it may come; where the day is told too soon, how much later is soon enough."""
    enough = outlook.kept_by(ALMOST_ALL if chance >= ENOUGH else ENOUGH)
    if chance > MUCH or enough is None or enough <= told_on:
        return ""
    later = days_words((enough - told_on).days)
    if chance >= ENOUGH:
        return f"; if it slips, then hardly ever by more than {later}"
    return f"; to be on the sure side, allow {later} more"


def days_words(days: int) -> str:
    return "a day" if days == 1 else f"{days} days"
