"""What a notice says before anybody edits it, from the templates in templates/customer/."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.template.loader import render_to_string

from jobs.models import Job, Notice
from jobs.services.mail import one_line
from jobs.services.outlook import JobOutlook, PieceOutlook
from jobs.services.plain_words import day_words, listed, piece_words, short_day
from jobs.services.sure_words import sureness
from shop import measures
from shop.models import Shop, StepKind

# Before a day is firm it is not said as if it were.
WILL_BE = {True: "will be", False: "should be"}
ONE_TEXT = 160  # characters of one phone message
TEMPLATES = {
    Notice.Means.EMAIL: "customer/notice_email.txt",
    Notice.Means.CALL: "customer/notice_call.txt",
    Notice.Means.LETTER: "customer/notice_letter.txt",
}


@dataclass(frozen=True)
class Draft:
    subject: str
    body: str


@dataclass(frozen=True)
class Telling:
    """Everything a notice is written from."""

    job: Job
    outlook: JobOutlook
    shop: Shop
    told_on: dt.date
    before: dt.date | None  # what the customer was told last
    today: dt.date
    address: str  # of the customer's page
    first: tuple[str, ...] = ()  # pieces, by code, that could come in a delivery before the others

    @property
    def first_on(self) -> dt.date | None:
        """The day that stays promised, for those that can keep it."""
        return self.job.promised_on if self.first else None

    def named(self, *, first: bool) -> str:
        return listed(
            [
                f"{lowered(one_line(piece.name))} ({piece.code})"
                for piece in self.outlook.pieces
                if (piece.code in self.first) is first
            ]
        )


def draft(means: str, telling: Telling) -> Draft:
    if means == Notice.Means.TEXT:
        return Draft("", phone_message(telling))
    body = render_to_string(TEMPLATES[Notice.Means(means)], _context(telling)).strip()
    subject = _subject(telling) if means == Notice.Means.EMAIL else ""
    return Draft(subject, body)


def _subject(telling: Telling) -> str:
    moved = "now ready" if _moved(telling) else "ready"
    day = day_words(telling.told_on, telling.today)
    return one_line(f"{telling.job.title}: {moved} {day}")


def _moved(telling: Telling) -> bool:
    return telling.before is not None and telling.before != telling.told_on


def phone_message(telling: Telling) -> str:
    """The fullest that fits one phone message with its link; the day is never left out."""
    day = short_day(telling.told_on)
    firm = sureness(telling.outlook, telling.told_on).firm
    moved = f"{'is' if firm else 'should'}{' now' if _moved(telling) else ''}"
    moved = f"{moved} ready" if firm else f"{moved} be ready"
    title, name = one_line(telling.job.title), one_line(telling.shop.name)
    if telling.first_on:
        codes, first = ", ".join(telling.first), short_day(telling.first_on)
        of = f"of your {title[:1].lower()}{title[1:]} {codes} could come {first}, the rest {day}"
        ways = [
            f"{name}: {of}. Does that suit you? {telling.address}",
            f"Job {telling.job.number} in two deliveries: {codes} {first}, the rest {day}. "
            f"All right? {telling.address}",
        ]
        return next((way for way in ways if len(way) <= ONE_TEXT), ways[-1])
    ways = [
        f"{name}: your {lowered(title)} {moved} {day}. {telling.address}",
        f"{name}: job {telling.job.number} {moved} {day}. {telling.address}",
        f"Your {lowered(title)} {moved} {day}. {telling.address}",
        f"Job {telling.job.number} {moved} {day}. {telling.address}",
    ]
    fits = (way.strip() for way in ways if len(way.strip()) <= ONE_TEXT)
    return next(fits, ways[-1].strip())


def lowered(title: str) -> str:
    """'Kitchen island' inside a sentence, but 'B&B sign' as it is."""
    return title[:1].lower() + title[1:] if title[1:2].islower() else title


def _context(telling: Telling) -> dict[str, Any]:
    sure = sureness(telling.outlook, telling.told_on)
    pieces = [piece_words(piece) for piece in telling.outlook.pieces]
    heaviest = max(telling.outlook.pieces, key=lambda piece: piece.weight_kg, default=None)
    weight = heaviest.weight_kg if heaviest else None
    return {
        "job": telling.job,
        "title": lowered(one_line(telling.job.title)),
        "customer": one_line(telling.job.customer.name),
        "shop": telling.shop,
        "day": day_words(telling.told_on, telling.today),
        "before": day_words(telling.before, telling.today) if telling.before else "",
        "moved": _moved(telling),
        "later": bool(telling.before and telling.before < telling.told_on),
        "sure": sure.words,
        "will_be": WILL_BE[sure.firm],
        "pieces": pieces,
        "several": len(pieces) > 1,
        "weight": measures.words(weight, "weight", telling.shop) if weight else "",
        "people": lifters(heaviest) if heaviest else 0,
        "address": telling.address,
        "first": telling.named(first=True) if telling.first_on else "",
        "rest": telling.named(first=False) if telling.first_on else "",
        "first_day": day_words(telling.first_on, telling.today) if telling.first_on else "",
    }


def lifters(piece: PieceOutlook) -> int:
    """How many people the delivery of this piece takes."""
    kinds = {StepKind.DELIVER, StepKind.INSTALL}
    return max((step.people for step in piece.steps if step.kind in kinds), default=0)
