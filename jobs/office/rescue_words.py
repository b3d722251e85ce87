"""What was tried for a short promise as its page shows it: who may take it, and where it leads."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from urllib.parse import urlencode

from django.urls import reverse

from jobs.models import Job
from jobs.services.plain_words import listed, short_day
from jobs.services.rescue_taking import may_take
from jobs.services.rescues import Rescue, Try
from shop.access import may
from shop.cautions import ISOCYANATES, SEALER_SHEET, UNVENTED_HEATERS, Caution
from shop.models import Person
from shop.services.settings import the_shop

CAUTIONS: dict[str, tuple[Caution, ...]] = {
    "warm": (UNVENTED_HEATERS,),
    "sealer": (SEALER_SHEET, ISOCYANATES),
}
ASK_FIRST = {
    "sealer": "The customer chose a finish: show a sample and ask first. What the sealer's data "
    "sheet says governs.",
    "days": "The promise stays as it is until the customer agrees.",
    "part": "The customer has to want it in two deliveries. A job has one promise and the plan one "
    "delivery of it, so this is done by hand, in these steps.",
}
DOING = {
    "saturday": "Enters the hours among the shop's extra hours and takes the plan that goes with "
    "them. Ask who can come.",
    "first": "Takes this plan and pins that cast.",
    "before": "Takes the plan that has it first.",
    "warm": "Raises the planned air of those nights, each week until it is set back, and takes the "
    "plan that goes with it. Somebody must set the heating.",
    "sealer": "Changes the sealer of its pieces and takes the plan that goes with it.",
}


@dataclass(frozen=True)
class Step:
    """Something that somebody does by hand, and where."""

    words: str
    at: str = ""
    at_words: str = ""


@dataclass(frozen=True)
class ShownTry:
    of: Try
    may_take: bool
    doing: str
    ask_first: str
    cautions: tuple[Caution, ...]
    leads: str = ""
    leads_words: str = ""
    by_hand: tuple[Step, ...] = ()


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
        by_hand=part_by_hand(each, job) if each.kind == "part" else (),
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
        return part_link(each, job), "Tell the customer both days"
    return "", ""


def part_by_hand(each: Try, job: Job) -> tuple[Step, ...]:
    """Asked, told, pinned, loaded: what taking it would be, and where each is done."""
    first, rest = listed(goes_first(each, job)), listed(each.act.later)
    day, later = job.promised_on, rest_on(each, job)
    in_two = f"{first} by {short_day(day)}" if day else f"{first} first"
    in_two += f", {rest} on {short_day(later)}" if later else f", {rest} later"
    return (
        Step(
            f"Ask whether the customer wants it in two: {in_two}. Then tell both days, and move "
            "the promise to the day of the rest.",
            part_link(each, job),
            "the notice with both days",
        ),
        Step(
            f"Pin what is still to do on {first}, so that planning anew leaves it where it is.",
            reverse("plan"),
            "the plan",
        ),
        Step(
            f"Load {first} alone on its day: the load list has all pieces that are still here, so "
            f"cross {rest} out on it. Mark on the floor what has left.",
            reverse("loads"),
            "load lists",
        ),
    )


def goes_first(each: Try, job: Job) -> list[str]:
    codes = job.pieces.order_by("letter").values_list("code", flat=True)
    return [code for code in codes if code not in each.act.later]


def part_link(each: Try, job: Job) -> str:
    """The notice with the pieces that go first, and the day on which the rest is to leave."""
    query = {"first": ",".join(goes_first(each, job))}
    if day := rest_on(each, job):
        query["rest_on"] = day.isoformat()
    return f"{reverse('tell', args=[job.number])}?{urlencode(query)}"


def rest_on(each: Try, job: Job) -> dt.date | None:
    """Told by its day: what leaves too late for one day is told the next."""
    finish = dict(each.raw.finish) if each.raw else {}
    ends = [at for name, at in finish.items() if name.startswith(f"{job.number}, ")]
    if not ends:
        return None
    shop = the_shop()
    local = max(ends).astimezone(shop.zone)
    late = local.time() > (job.promised_by or shop.leave_by)
    return local.date() + dt.timedelta(days=1 if late else 0)
