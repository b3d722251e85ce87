"""What would become of each row: new, changed, left or wrong. Reads the database, writes nothing.

It takes as many queries for a thousand rows as for one. What a service would refuse is said here
already, at its row; the services have the last word when the table is saved.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from jobs.models import Job, Piece
from jobs.services.errors import Refused
from jobs.services.exchange.cells import Names
from jobs.services.exchange.columns import CHANGE, Choices
from jobs.services.exchange.customers import CustomerPlan, Customers
from jobs.services.exchange.fields import BY_KEY, FIELDS, JOB
from jobs.services.exchange.pieces import PiecePlan, judge_piece
from jobs.services.exchange.rows import Row, defaults_of, fault_at, read_rows
from jobs.services.exchange.said import differences
from jobs.services.exchange.table import Table
from jobs.services.promises import refuse_bad_promise, refuse_before_cast
from shop.models import Shop

NEW, CHANGED, LEFT, SAME, WRONG = "new", "changed", "left", "same", "wrong"
JOB_KEYS = tuple(f.key for f in FIELDS if f.of == JOB and f.key != "number")
ENDINGS = ("closed_at", "called_off")


@dataclass
class JobPlan:
    number: str
    rows: list[Row]
    job: Job | None
    values: dict[str, Any] = field(default_factory=dict)  # by the model's names
    ending: dict[str, Any] = field(default_factory=dict)
    customer: CustomerPlan | None = None
    pieces: list[PiecePlan] = field(default_factory=list)
    act: str = SAME


@dataclass
class Plan:
    rows: list[Row]
    jobs: list[JobPlan]
    customers: list[CustomerPlan]
    seen: dict[str, int]  # versions of what is there, nought for what is not

    @property
    def faults(self) -> int:
        return sum(len(row.faults) for row in self.rows)

    @property
    def counts(self) -> Counter[str]:
        return Counter(row.act for row in self.rows)

    @property
    def sums(self) -> dict[str, Counter[str]]:
        """Of jobs, pieces and customers, how many are new, changed, left or stay the same."""
        return {
            "jobs": Counter(plan.act for plan in self.jobs),
            "pieces": Counter(piece.act for plan in self.jobs for piece in plan.pieces),
            "customers": Counter(plan.act for plan in self.customers),
        }

    @property
    def saves_something(self) -> bool:
        return any(sums[NEW] or sums[CHANGED] for sums in self.sums.values())


def make_plan(table: Table, choices: Choices, shop: Shop) -> Plan:
    names = Names.load()
    rows = read_rows(table, choices, names)
    groups = _by_number(rows, choices)
    jobs = Job.objects.filter(number__in=groups).select_related("customer")
    known = {job.number: job for job in jobs}
    pieces = _pieces_of(known.values())
    customers = Customers(choices, shop)
    judge = _Judge(choices, shop, names, customers)
    plans = [
        judge.job(number, group, known.get(number), pieces.get(number, {}))
        for number, group in groups.items()
    ]
    customers.settle()
    _mark_rows(rows, plans)
    seen = {f"job {plan.number}": plan.job.version if plan.job else 0 for plan in plans}
    for plan in plans:
        seen |= {f"piece {p.code}": p.piece.version if p.piece else 0 for p in plan.pieces}
    return Plan(rows, plans, customers.plans, seen | customers.seen)


def _by_number(rows: list[Row], choices: Choices) -> dict[str, list[Row]]:
    groups: dict[str, list[Row]] = {}
    for row in rows:
        number = row.values.get("number")
        if number:
            groups.setdefault(number, []).append(row)
        elif not row.faults:
            fault_at(row, choices, "number", "There is no job number. Write it in this row.")
    return groups


def _pieces_of(jobs: Iterable[Job]) -> dict[str, dict[str, Piece]]:
    found: dict[str, dict[str, Piece]] = {}
    pieces = (
        Piece.objects.filter(job__in=list(jobs))
        .select_related("job", "room", "mix", "route", "sealer", "batch")
        .prefetch_related("marks")
    )
    for piece in pieces:
        found.setdefault(piece.job.number, {})[piece.letter] = piece
    return found


@dataclass
class _Judge:
    choices: Choices
    shop: Shop
    names: Names
    customers: Customers

    def __post_init__(self) -> None:
        self.defaults = defaults_of(self.choices, self.names)
        self.changes = self.choices.existing == CHANGE

    def job(
        self, number: str, rows: list[Row], job: Job | None, pieces: dict[str, Piece]
    ) -> JobPlan:
        plan = JobPlan(number, rows, job)
        given = self._together(rows, (*JOB_KEYS, *self.customers.keys))
        self._values(plan, given, pieces)
        self._ending(plan, given)
        plan.customer = self.customers.of(job, given, rows)
        if job and self.changes and plan.customer and plan.customer.customer != job.customer:
            self._note(plan, f"customer: {job.customer.name} → {plan.customer.name}")
            plan.act = CHANGED
        seen: dict[str, int] = {}
        for row in rows:
            self._piece(plan, row, pieces, seen)
        return plan

    def _together(self, rows: list[Row], keys: Iterable[str]) -> dict[str, Any]:
        """What the rows of one job say of it. A row that says something else is wrong."""
        given: dict[str, Any] = {}
        first: dict[str, Row] = {}
        for row in rows:
            for key in keys:
                if key not in row.values:
                    continue
                if key not in given:
                    given[key], first[key] = row.values[key], row
                elif given[key] != row.values[key]:
                    words = (
                        f"Row {first[key].line} says something else for the same job. Write the "
                        "same in both, or leave this one empty."
                    )
                    fault_at(row, self.choices, key, words)
        return given

    def _values(self, plan: JobPlan, given: dict[str, Any], pieces: dict[str, Piece]) -> None:
        values = {
            BY_KEY[key].name: value
            for key, value in given.items()
            if BY_KEY[key].of == JOB and key not in ENDINGS
        }
        row, job = plan.rows[0], plan.job
        if values.get("price") is not None and values["price"] < 0:
            fault_at(row, self.choices, "price", "A price is not below zero.")
        if job is None:
            plan.act, plan.values = NEW, {"number": plan.number, **values}
            plan.values.setdefault("taken_on", self.defaults.get("taken_on"))
            for key, words in _NEEDED.items():
                if not plan.values.get(key) and not self._faulty(plan.rows, key):
                    fault_at(row, self.choices, key, words)
        else:
            changed = {k: v for k, v in values.items() if differences({k: v}, job, self.shop)}
            for words in differences(changed, job, self.shop):
                self._note(plan, words)
            if self.changes:
                plan.values = changed
                plan.act = CHANGED if changed else SAME
            else:
                plan.act = LEFT if changed else SAME
        if plan.values.get("taken_on") or job:
            self._promise(plan, pieces)

    def _promise(self, plan: JobPlan, pieces: dict[str, Piece]) -> None:
        job, values = plan.job, plan.values
        try:
            # Without its key, so that nothing is read for it.
            stands = Job(
                promised_on=job.promised_on, promised_by=job.promised_by, taken_on=job.taken_on
            ) if job else Job()  # fmt: skip
            refuse_bad_promise(stands, {**values})
            moved = {"promised_on", "promised_by"} & set(values)
            on = values.get("promised_on", job.promised_on if job else None)
            if job and moved and on:
                by = values.get("promised_by", job.promised_by)
                refuse_before_cast(pieces.values(), on, by, self.shop)
        except Refused as refusal:
            fault_at(plan.rows[0], self.choices, "promised_on", refusal.message)

    def _ending(self, plan: JobPlan, given: dict[str, Any]) -> None:
        """Of a new job only: one that is here is closed and opened on its own page."""
        if plan.job is None:
            plan.ending = {key: given[key] for key in ENDINGS if given.get(key)}

    def _piece(
        self, plan: JobPlan, row: Row, pieces: dict[str, Piece], seen: dict[str, int]
    ) -> None:
        letter = row.values.get("letter")
        if letter is None:
            if row.has_piece and not self._faulty([row], "letter"):
                words = "The row tells of a piece. Give it its letter, like A."
                fault_at(row, self.choices, "letter", words)
            return
        if letter in seen:
            words = (
                f"{plan.number}-{letter} stands in row {seen[letter]} already. Leave one of them "
                "out, or give it another letter."
            )
            fault_at(row, self.choices, "letter", words)
            return
        seen[letter] = row.line
        plan.pieces.append(
            judge_piece(
                row, plan.number, plan.job, pieces.get(letter),
                choices=self.choices, defaults=self.defaults, shop=self.shop,
            )
        )  # fmt: skip

    def _faulty(self, rows: list[Row], key: str) -> bool:
        place = self.choices.place_of(key)
        return place is not None and any(place in row.faults for row in rows)

    def _note(self, plan: JobPlan, words: str) -> None:
        plan.rows[0].notes.append(words if self.changes else f"{words} (left)")


_NEEDED = {
    "title": "A new job needs what it is, like Kitchen island.",
    "taken_on": "A new job needs the day it was taken on.",
}


def _mark_rows(rows: list[Row], plans: list[JobPlan]) -> None:
    for plan in plans:
        by_row = {piece.row.place: piece.act for piece in plan.pieces}
        for place, row in enumerate(plan.rows):
            acts = [by_row.get(row.place, SAME)]
            if place == 0:
                acts.append(plan.act)
                acts.append(plan.customer.act if plan.customer else SAME)
            row.act = next((act for act in (NEW, CHANGED, LEFT) if act in acts), SAME)
    for row in rows:
        if row.faults:
            row.act = WRONG
