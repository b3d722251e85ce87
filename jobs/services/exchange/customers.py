"""Whose job it is: a customer that is known, or a new one; never a guess between two.

A customer's details in a table are what tells two of one name apart. Those of one that is known
already are changed only by a job that is theirs, and only where the table is to change jobs.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from jobs.models import Customer, Job
from jobs.services.exchange.columns import CHANGE, Choices, folded
from jobs.services.exchange.fields import CUSTOMER as OF_CUSTOMER
from jobs.services.exchange.fields import FIELDS
from jobs.services.exchange.rows import Row, fault_at
from jobs.services.exchange.said import differences, same
from jobs.services.phones import digits_of
from shop.models import Shop

NAMES = {found.key: found.name for found in FIELDS if found.of == OF_CUSTOMER}
Details = tuple[str, ...]


@dataclass
class CustomerPlan:
    customer: Customer | None  # None: a new one, until it is saved
    values: dict[str, Any]
    act: str
    row: Row
    said_in: dict[str, int] = field(default_factory=dict)

    @property
    def name(self) -> str:
        return self.customer.name if self.customer else str(self.values["name"])


class Customers:
    """All that are known, read once, and what the table makes of them."""

    keys = tuple(NAMES)

    def __init__(self, choices: Choices, shop: Shop) -> None:
        self.choices, self.shop = choices, shop
        self.changes = choices.existing == CHANGE
        self.by_name: dict[str, list[Customer]] = {}
        for customer in Customer.objects.order_by("pk").defer("notes"):
            self.by_name.setdefault(folded(customer.name), []).append(customer)
        self.known: dict[int, CustomerPlan] = {}
        self.fresh: dict[Details, CustomerPlan] = {}

    @property
    def plans(self) -> list[CustomerPlan]:
        return [*self.known.values(), *self.fresh.values()]

    @property
    def seen(self) -> dict[str, int]:
        return {f"customer {pk}": plan.customer.version for pk, plan in self.known.items()
                if plan.customer}  # fmt: skip

    def of(self, job: Job | None, given: dict[str, Any], rows: list[Row]) -> CustomerPlan | None:
        values = {NAMES[key]: given[key] for key in self.keys if key in given}
        name = values.get("name")
        if job is not None and (not self.changes or name is None or _is(name, job.customer)):
            return self._own(job, values, rows)
        if name is None:
            if not self._faulty(rows):
                words = "A new job needs its customer's name."
                fault_at(rows[0], self.choices, "customer", words)
            return None
        return self._found(values, rows[0])

    def _own(self, job: Job, values: dict[str, Any], rows: list[Row]) -> CustomerPlan:
        """The job's own customer, with the details that the table has otherwise."""
        plan = self.known.setdefault(
            job.customer_id, CustomerPlan(job.customer, {}, "same", rows[0])
        )
        changed = {
            name: value for name, value in values.items()
            if not same(value, getattr(job.customer, name))
        }  # fmt: skip
        left = "" if self.changes else " (left)"
        for words in differences(changed, job.customer, self.shop):
            rows[0].notes.append(f"customer's {words.removeprefix('customer ')}{left}")
        if not self.changes:
            if changed and plan.act == "same":
                plan.act = "left"
            return plan
        for name, value in values.items():
            # Two jobs of one customer say one thing, or nothing.
            if name in plan.said_in and not same(value, plan.values.get(name, value)):
                key = next(key for key, named in NAMES.items() if named == name)
                words = (
                    f"{job.customer.name}'s other job, in row {plan.said_in[name]}, says something "
                    "else. Write the same in both."
                )
                fault_at(rows[0], self.choices, key, words)
            plan.values[name] = value
            plan.said_in.setdefault(name, rows[0].line)
        if changed:
            plan.act = "changed"
        return plan

    def _found(self, values: dict[str, Any], row: Row) -> CustomerPlan | None:
        details = _told_apart(values)
        alike = [c for c in self.by_name.get(folded(values["name"]), []) if _goes_with(values, c)]
        exact = [c for c in alike if _told_apart(vars(c)) == details]
        if len(alike) > 1 and not exact:
            words = (
                f"{len(alike)} customers here go by that name. Give the e-mail or phone of the "
                "one that is meant."
            )
            fault_at(row, self.choices, "customer", words)
            return None
        if found := next(iter(exact or alike), None):
            return self.known.setdefault(found.pk, CustomerPlan(found, {}, "same", row))
        return self.fresh.setdefault(details, CustomerPlan(None, values, "new", row))

    def settle(self) -> None:
        """Say where the table itself writes one name with different details."""
        by_name: dict[str, list[CustomerPlan]] = {}
        for plan in self.fresh.values():
            by_name.setdefault(folded(plan.name), []).append(plan)
        for plans in by_name.values():
            for plan in plans[1:]:
                plan.row.notes.append(
                    f"a second new customer called {plan.name}: row {plans[0].row.line} has other "
                    "details"
                )

    def _faulty(self, rows: Iterable[Row]) -> bool:
        place = self.choices.place_of("customer")
        return place is not None and any(place in row.faults for row in rows)


def _is(name: str, customer: Customer) -> bool:
    return folded(name) == folded(customer.name)


def _told_apart(values: dict[str, Any]) -> Details:
    """What two customers of one table differ in, or are one."""
    name, email, phone, address = (str(values.get(name, "")) for name in NAMES.values())
    return name, email.casefold(), digits_of(phone) or phone, address


def _goes_with(values: dict[str, Any], customer: Customer) -> bool:
    """Nothing that is given says that it is somebody else."""
    email, phone, address = (values.get(name) for name in ("email", "phone", "address"))
    return (
        (not email or email.casefold() == customer.email.casefold())
        and (not phone or digits_of(phone) == customer.phone_digits)
        and (not address or folded(address) == folded(customer.address))
    )
