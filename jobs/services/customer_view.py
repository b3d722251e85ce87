"""What a customer's page shows of a job: what was told, never a day the office hasn't released."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from jobs.models import Job, PromiseState
from jobs.services.notice_text import lifters, lowered
from jobs.services.outlook import JobOutlook
from jobs.services.plain_words import (
    PieceWords,
    day_words,
    listed,
    piece_words,
)
from jobs.services.readiness import stored_outlook
from jobs.services.sure_words import Sureness, sureness
from jobs.services.telling import still_holds, told_notice
from shop.models import Shop


@dataclass(frozen=True)
class UseLine:
    day: dt.date
    words: str


@dataclass(frozen=True)
class CustomerView:
    number: str
    title: str
    customer: str
    site: str
    state: str  # no-day, checking, told, delivered or called-off
    day: str
    told_on: dt.date | None
    told_at: dt.datetime | None
    sure: Sureness | None
    pieces: tuple[PieceWords, ...]
    next: str
    weight_kg: float
    heaviest_kg: float
    area_m2: float
    people: int
    handle_on: dt.date | None
    light_use_on: dt.date | None
    full_use_on: dt.date | None

    @property
    def uses(self) -> tuple[UseLine, ...]:
        """What may be done from when, in order; nothing of use is said before it has left."""
        if not (self.handle_on and self.light_use_on and self.full_use_on):
            return ()
        lines = [
            UseLine(self.light_use_on, "light use, dry and with care"),
            UseLine(self.full_use_on, "everyday use"),
        ]
        if self.state == "told" and self.told_on:
            borne = [line.words for line in lines if line.day <= self.told_on]
            leaves = "ready to leave our shop"
            if borne:
                leaves += f", and its finish bears {borne[-1]}"
            lines = [line for line in lines if line.day > self.told_on]
            lines = [UseLine(self.told_on, leaves), *lines]
            if self.handle_on < self.told_on:
                touched = "touched with clean, dry hands, and wrapped"
                lines = [UseLine(self.handle_on, touched), *lines]
        return tuple(lines)

    @property
    def title_inside(self) -> str:
        return lowered(self.title)

    @property
    def weekday_and_date(self) -> tuple[str, str]:
        """Apart, so that a narrow page breaks between them."""
        weekday, _, date = self.day.partition(" ")
        return weekday, date


def customer_view(*, job: Job, shop: Shop, today: dt.date) -> CustomerView:
    outlook = stored_outlook(job)
    told = told_notice(job)
    told_on = told.told_on if told else None
    state = _state(job, outlook, told_on)
    pieces = outlook.pieces if outlook else ()
    words = tuple(piece_words(piece) for piece in pieces)
    certain = state in {"told", "delivered"}
    return CustomerView(
        number=job.number,
        title=job.title,
        customer=job.customer.name,
        site=job.site,
        state=state,
        day=day_words(told_on, today) if told_on else "",
        told_on=told_on,
        told_at=told.at if told else None,
        sure=sureness(outlook, told_on) if outlook and state == "told" else None,
        pieces=words,
        next=listed(list(dict.fromkeys(piece.next for piece in words if piece.next))),
        weight_kg=sum(piece.weight_kg for piece in pieces),
        heaviest_kg=max((piece.weight_kg for piece in pieces), default=0.0),
        area_m2=sum(piece.area_m2 for piece in pieces),
        people=max((lifters(piece) for piece in pieces), default=0),
        handle_on=_all_by([p.handle_late for p in pieces], shop) if certain else None,
        light_use_on=_all_by([p.light_use_late for p in pieces], shop) if certain else None,
        full_use_on=_all_by([p.full_use_late for p in pieces], shop) if certain else None,
    )


def _state(job: Job, outlook: JobOutlook | None, told_on: dt.date | None) -> str:
    if job.called_off:
        return "called-off"
    if job.closed_at or (outlook and outlook.state == PromiseState.KEPT):
        return "delivered"
    if told_on is None:
        return "no-day"
    return "told" if still_holds(outlook, told_on) else "checking"


def _all_by(moments: list[dt.datetime | None], shop: Shop) -> dt.date | None:
    known = [moment for moment in moments if moment]
    if not known or len(known) < len(moments):
        return None
    return max(known).astimezone(shop.zone).date()
