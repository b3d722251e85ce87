"""Who the plan can put to work, when they are away, and what the shop's stations take."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, Literal

from django.db import transaction
from django.db.models import Max, Prefetch, Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from shop.models import Absence, Person, Role, Shop, Stations, Worker, WorkingHours
from shop.models.crew import every_weekday, every_work
from shop.services import rows
from shop.services.changed import note_change
from shop.services.errors import Refused
from shop.services.settings import the_shop

# Longer than that is somebody who has left, or a slip of the year.
MOST_DAYS_AWAY = 366
WORK_BY_HAND = (Role.CREW, Role.OWNER)
LONGEST_NAME = 60

Basis = Literal["entered", "accounts", "hours"]


@dataclass(frozen=True)
class Hand:
    """Somebody who can be put to work, as the plan sees them. Absences: first and last day."""

    name: str
    works: frozenset[str]
    weekdays: frozenset[int]
    absences: tuple[tuple[dt.date, dt.date], ...] = ()
    worker_id: int | None = None
    account_id: int | None = None


@dataclass(frozen=True)
class PlannedPeople:
    """`basis` says where they come from: entered by the shop, taken from the accounts, or made up
    from the people of the working hours."""

    hands: tuple[Hand, ...] = field(default=())
    basis: Basis = "entered"

    @property
    def fell_back(self) -> bool:
        return self.basis != "entered"


@dataclass(frozen=True)
class NotThere:
    """On one day, of those the plan counts on: who is away, and who never comes on its weekday."""

    away: tuple[str, ...] = ()
    not_in: tuple[str, ...] = ()


def not_there(hands: Iterable[Hand], day: dt.date) -> NotThere:
    away, not_in = [], []
    for hand in hands:
        if day.weekday() not in hand.weekdays:
            not_in.append(hand.name)
        elif any(first <= day <= last for first, last in hand.absences):
            away.append(hand.name)
    return NotThere(tuple(away), tuple(not_in))


def planned_people(*, since: dt.date) -> PlannedPeople:
    """Whom the plan counts on, with what absences they have from `since` on.

    Nobody entered: the crew's and the owners' accounts, everybody able to do everything on any day.
    No such account either: as many hands as the working hours have people at the most.
    """
    entered = planned_workers(since)
    if entered:
        return PlannedPeople(tuple(_hand(worker) for worker in entered), "entered")
    accounts = list(working_accounts())
    if accounts:
        names = apart(account.name for account in accounts)
        return PlannedPeople(
            tuple(
                _able(name, account_id=account.pk)
                for name, account in zip(names, accounts, strict=True)
            ),
            "accounts",
        )
    most = WorkingHours.objects.aggregate(most=Max("people"))["most"] or 0
    return PlannedPeople(
        tuple(_able(_("Hand %(n)d") % {"n": n}) for n in range(1, most + 1)), "hours"
    )


def planned_workers(since: dt.date) -> list[Worker]:
    """In use, and not somebody whose account was removed; in two queries, with absences."""
    gone = Q(account__isnull=False, account__is_active=False)
    return list(with_absences(Worker.objects.filter(in_use=True).exclude(gone), since))


def with_absences(workers: QuerySet[Worker], since: dt.date) -> QuerySet[Worker]:
    ahead = Absence.objects.filter(last_day__gte=since)
    return workers.prefetch_related(Prefetch("absences", queryset=ahead))


def working_accounts() -> QuerySet[Person]:
    """Of those who work with their hands: the crew, and the owners of a small shop."""
    return Person.objects.filter(is_active=True, role__in=WORK_BY_HAND).order_by("name", "pk")


def accounts_not_entered() -> QuerySet[Person]:
    return working_accounts().filter(worker__isnull=True)


def apart(names: Iterable[str], taken: Iterable[str] = ()) -> list[str]:
    """The names, those that come twice or are `taken` with a number: the plan goes by names."""
    seen, given = set(taken), []
    for name in names:
        number, own = 1, name
        while own in seen:
            number += 1
            own = f"{name[: LONGEST_NAME - 4]} {number}"
        seen.add(own)
        given.append(own)
    return given


def _hand(worker: Worker) -> Hand:
    return Hand(
        name=worker.name,
        works=frozenset(worker.works),
        weekdays=frozenset(worker.weekdays),
        absences=tuple((away.first_day, away.last_day) for away in worker.absences.all()),
        worker_id=worker.pk,
        account_id=worker.account_id,
    )


def _able(name: str, account_id: int | None = None) -> Hand:
    return Hand(name, frozenset(every_work()), frozenset(every_weekday()), account_id=account_id)


def hands_by_work(workers: Iterable[Worker]) -> Counter[str]:
    """How many can be put to each kind of work."""
    return Counter(work for worker in workers for work in worker.works)


@transaction.atomic
def save_worker(*, worker_id: int | None, version: int, values: dict[str, Any]) -> Worker:
    _one_an_account(worker_id, values.get("account"))
    if worker_id is None:
        return rows.add(Worker, values)
    return rows.change(Worker, worker_id, version, values)


def _one_an_account(worker_id: int | None, account: Person | None) -> None:
    if account is None:
        return
    _one_editor()
    other = Worker.objects.filter(account=account).first()
    if other is not None and other.pk != worker_id:
        raise Refused(
            _("%(account)s is the account of %(name)s already. Choose another, or none.")
            % {"account": account.name, "name": other.name},
            field="account",
        )


def _one_editor() -> None:
    """Two who enter the same account at once follow each other."""
    Shop.objects.select_for_update().get(pk=1)


def delete_worker(*, worker_id: int) -> str:
    return rows.delete(Worker, worker_id)


@transaction.atomic
def enter_accounts() -> int:
    """Everybody with an account who works by hand and is not entered yet, able to do everything."""
    _one_editor()
    new = list(accounts_not_entered())
    taken = Worker.objects.values_list("name", flat=True)
    names = apart((account.name for account in new), taken)
    Worker.objects.bulk_create(
        Worker(name=name, account=account) for name, account in zip(names, new, strict=True)
    )
    if new:
        note_change("people of the crew entered")
    return len(new)


@transaction.atomic
def add_absence(
    *,
    worker_id: int,
    first_day: dt.date,
    last_day: dt.date,
    reason: str = "",
    today: dt.date | None = None,
) -> Absence:
    worker = Worker.objects.select_for_update().get(pk=worker_id)
    _sound(first_day, last_day, today or timezone.localdate(timezone=the_shop().zone))
    clash = worker.absences.filter(first_day__lte=last_day, last_day__gte=first_day).first()
    if clash is not None:
        raise Refused(
            _("%(name)s is away %(days)s already. Take that back, or give the days beside it.")
            % {"name": worker.name, "days": _days_words(clash)},
            field="first_day",
        )  # fmt: skip
    away: Absence = worker.absences.create(
        first_day=first_day, last_day=last_day, reason=reason[:80]
    )
    note_change("absence added")
    return away


def _days_words(absence: Absence) -> str:
    first, last = (f"{day:%a} {day.day} {day:%b}" for day in (absence.first_day, absence.last_day))
    return first if absence.first_day == absence.last_day else f"{first} – {last}"


def _sound(first: dt.date, last: dt.date, today: dt.date) -> None:
    if last < first:
        raise Refused(_("The last day is before the first."), field="last_day")
    if last < today:
        raise Refused(_("These days are over. The plan only looks ahead."), field="last_day")
    if (last - first).days >= MOST_DAYS_AWAY or (last - today).days > 3 * MOST_DAYS_AWAY:
        raise Refused(
            _("That is more than a year. Check the year; somebody who has left is taken out of "
              "use instead."),
            field="last_day",
        )  # fmt: skip


@transaction.atomic
def remove_absence(*, absence_id: int) -> None:
    Absence.objects.filter(pk=absence_id).delete()
    note_change("absence removed")


def stations() -> Stations:
    """The shop's row; until it has saved one, the usual figures."""
    return Stations.objects.filter(pk=1).first() or Stations(pk=1)


@transaction.atomic
def save_stations(*, version: int, values: dict[str, Any]) -> Stations:
    Stations.objects.get_or_create(pk=1)
    return rows.change(Stations, 1, version, values)
