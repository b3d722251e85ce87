"""A job in words for its customer: no prices, no names of staff, no reasons of the shop's own."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from jobs.services.outlook import PieceOutlook, StepOutlook
from shop.models import StepKind

# Kind of step: what is said once it is done, and while it is next.
WORDS: dict[str, tuple[str, str]] = {
    StepKind.CAST: ("cast", "casting"),
    StepKind.DEMOLD: ("out of its form", "taking it out of its form"),
    StepKind.GRIND: ("ground", "grinding"),
    StepKind.FILL: ("pinholes filled", "filling the pinholes"),
    StepKind.HONE: ("honed smooth and washed", "the last honing"),
    StepKind.COAT: ("sealed", "sealing"),
    StepKind.CRATE: ("checked and crated", "checking and crating"),
    StepKind.DELIVER: ("delivered", "delivery"),
    StepKind.INSTALL: ("installed", "installing"),
}


@dataclass(frozen=True)
class PieceWords:
    code: str
    name: str
    area_m2: float
    weight_kg: float
    done: tuple[str, ...]
    next: str
    share: float  # of its steps that are done

    @property
    def done_words(self) -> str:
        return listed(self.done)

    @property
    def done_width(self) -> int:
        """Of a slab drawn 300 wide, as much as is done."""
        return round(300 * self.share)


def piece_words(piece: PieceOutlook) -> PieceWords:
    done = [step for step in piece.steps if step.done]
    upcoming = piece.next_step
    return PieceWords(
        code=piece.code,
        name=piece.name,
        area_m2=piece.area_m2,
        weight_kg=piece.weight_kg,
        done=tuple(
            _unique(said(step, after=True) for step in done if not _half_sealed(step, piece))
        ),
        next=said(upcoming, after=False) if upcoming else "",
        share=len(done) / len(piece.steps) if piece.steps else 0.0,
    )


def said(step: StepOutlook, *, after: bool) -> str:
    if step.kind in WORDS:
        return WORDS[step.kind][0 if after else 1]
    return step.name


def _half_sealed(step: StepOutlook, piece: PieceOutlook) -> bool:
    """'Sealed' is said of the last coat only."""
    return step.kind == StepKind.COAT and any(
        other.kind == StepKind.COAT and not other.done for other in piece.steps
    )


def _unique(words: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(words))


def listed(words: Sequence[str]) -> str:
    """'cast, ground and sealed'."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"


def day_words(day: dt.date, today: dt.date) -> str:
    """'Thursday 27 November', with the year if it is another one."""
    year = f" {day.year}" if day.year != today.year else ""
    return f"{day:%A} {day.day} {day:%B}{year}"


def short_day(day: dt.date) -> str:
    return f"{day:%a} {day.day} {day:%b}"


def days_apart(told: dt.date, now: dt.date) -> str:
    days = abs((now - told).days)
    return f"{days} day{'s' if days != 1 else ''} {'later' if now > told else 'earlier'}"


def mentions(text: str, day: dt.date) -> bool:
    """Whether a text names this day in one of the ways people write it."""
    flat = " ".join(text.casefold().replace(",", " ").replace(".", " ").split())
    month = f"(?:{day:%B}|{day:%b})".casefold()
    number = f"0?{day.day}(?:st|nd|rd|th)?"
    ways = (rf"{number}(?: of)? {month}", rf"{month} {number}", day.isoformat(), _figures(day))
    return bool(re.search(rf"(?<!\w)(?:{'|'.join(ways)})(?!\w)", flat))


def _figures(day: dt.date) -> str:
    return f"0?{day.month}/0?{day.day}"
