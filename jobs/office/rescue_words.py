"""What was tried for a short promise as its page shows it: who may take it, and where it leads."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.urls import reverse

from jobs.models import Job
from jobs.services.rescue_taking import may_take
from jobs.services.rescues import Rescue, Try
from shop.access import may
from shop.cautions import ISOCYANATES, SEALER_SHEET, UNVENTED_HEATERS, Caution
from shop.models import Person

CAUTIONS: dict[str, tuple[Caution, ...]] = {
    "warm": (UNVENTED_HEATERS,),
    "sealer": (SEALER_SHEET, ISOCYANATES),
}
ASK_FIRST = {
    "sealer": "The customer chose a finish: show a sample and ask first. What the sealer's data "
    "sheet says governs.",
    "days": "The promise stays as it is until the customer agrees.",
    "part": "The customer has to want it in two deliveries.",
}
DOING = {
    "saturday": "Enters the hours among the shop's extra hours and takes the plan that goes with "
    "them. Ask who can come.",
    "first": "Takes this plan and pins that cast.",
    "before": "Takes this plan.",
    "warm": "Raises the planned air of those nights, each week until it is set back, and takes the "
    "plan that goes with it. Somebody must set the heating.",
    "sealer": "Changes the sealer of its pieces and takes the plan that goes with it.",
}


@dataclass(frozen=True)
class ShownTry:
    of: Try
    may_take: bool
    doing: str
    ask_first: str
    cautions: tuple[Caution, ...]
    leads: str = ""
    leads_words: str = ""


@dataclass(frozen=True)
class ShownRescue:
    of: Rescue
    holding: list[ShownTry]
    others: list[Try]


def shown(rescue: Rescue, job: Job, person: Person) -> ShownRescue:
    return ShownRescue(
        rescue, [shown_try(each, job, person) for each in rescue.holding], rescue.others
    )


def shown_try(each: Try, job: Job, person: Person) -> ShownTry:
    leads, words = leads_to(each, job, person)
    return ShownTry(
        of=each,
        may_take=may_take(person, each.kind),
        doing=DOING.get(each.kind, ""),
        ask_first=ASK_FIRST.get(each.kind, ""),
        cautions=CAUTIONS.get(each.kind, ()),
        leads=leads,
        leads_words=words,
    )


def leads_to(each: Try, job: Job, person: Person) -> tuple[str, str]:
    """Where somebody goes who cannot do it here: to the promise, the set-up or the notice."""
    if each.kind == "days" and may(person, "jobs.change"):
        day = dt.date.fromisoformat(each.act.until)
        return (
            f"{reverse('edit-job', args=[job.number])}?promised_on={day.isoformat()}",
            f"Change the promise to {day:%a} {day.day} {day:%b}",
        )
    if each.kind == "table" and may(person, "setup.change"):
        return reverse("new-table"), "Enter a table"
    if each.kind == "person" and may(person, "setup.change"):
        return reverse("new-worker"), "Enter somebody"
    if each.kind == "part" and may(person, "notices.send"):
        return reverse("tell", args=[job.number]), "Tell the customer"
    return "", ""
