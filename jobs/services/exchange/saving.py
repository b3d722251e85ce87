"""A table that was looked at is saved: all of it in one transaction, or nothing."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace

from django.db import transaction

from jobs.models import Customer, Job
from jobs.services import orders
from jobs.services.errors import Conflict, Refused
from jobs.services.exchange import keep
from jobs.services.exchange.customers import CustomerPlan
from jobs.services.exchange.keep import Kept
from jobs.services.exchange.pieces import PiecePlan
from jobs.services.exchange.plan import CHANGED, NEW, JobPlan, Plan, make_plan
from jobs.services.exchange.rows import without_prices
from jobs.services.orders_at_once import NewJobs, Pieces
from shop.models import Person, Shop

NAMED = 5  # changed rows that a refusal names


def plan_of(kept: Kept, shop: Shop, *, prices: bool) -> Plan:
    assert kept.table is not None
    assert kept.choices is not None
    return make_plan(kept.table, without_prices(kept.choices, prices=prices), shop)


def leave_out_wrong(kept: Kept, shop: Shop, *, prices: bool) -> None:
    """The rows that cannot be saved now are no part of the table any more, until its columns are
    looked at again."""
    assert kept.choices is not None
    wrong = [row.line for row in plan_of(kept, shop, prices=prices).rows if row.faults]
    without = tuple(sorted({*kept.choices.without, *wrong}))
    kept.choices = replace(kept.choices, without=without)
    keep.put(kept)


def save_table(token: str, *, by: Person, shop: Shop, seen: str, prices: bool) -> str:
    """What was saved, in words; pressed again, the same words and nothing more is done.

    `seen` is the print of what the preview showed: where something is otherwise now, nothing is
    saved (Conflict, or Refused with the row in question).
    """
    with keep.held(token, by):
        kept = keep.find(token, by)
        if kept is None:
            raise Refused("This table is not waiting any more. Bring in the file again.")
        if kept.done:
            return kept.done
        if kept.table is None or kept.choices is None:
            raise Refused("Nothing is chosen for this table yet.")
        with transaction.atomic():
            plan = plan_of(kept, shop, prices=prices)
            _refuse_moved(plan, kept, seen)
            words = _saved(plan)
        keep.done(kept, words)
    return words


def print_of(seen: dict[str, int]) -> str:
    """Short enough to travel with the form that saves."""
    text = "\n".join(f"{name} {version}" for name, version in sorted(seen.items()))
    return hashlib.sha256(text.encode()).hexdigest()[:24]


def _refuse_moved(plan: Plan, kept: Kept, seen: str) -> None:
    moved = sorted(
        name for name in {*plan.seen, *kept.seen} if plan.seen.get(name) != kept.seen.get(name)
    )
    if moved or print_of(kept.seen) != seen:
        named = ", ".join(moved[:NAMED]) + (" …" if len(moved) > NAMED else "")
        what = f" Otherwise now: {named}." if named else ""
        raise Conflict(
            "Somebody changed what this table is about since you looked at its rows."
            f"{what} Nothing was saved: look at the rows as they stand now.",
            version=0,
            theirs={},
        )
    if plan.faults:
        raise Refused("Some rows cannot be saved, so nothing was. Mend what is marked.")


def _saved(plan: Plan) -> str:
    customers = {id(each): _customer(each) for each in _in_order(plan.customers)}
    jobs = sorted(plan.jobs, key=lambda job: job.number)
    kept = _jobs(jobs, customers)
    _pieces(jobs, kept)
    for job in jobs:
        with _named(job):
            _end(kept[job.number].pk, job)
    return said(plan)


def _in_order(plans: list[CustomerPlan]) -> list[CustomerPlan]:
    return sorted(plans, key=lambda plan: plan.customer.pk if plan.customer else 0)


def _customer(plan: CustomerPlan) -> Customer:
    if plan.customer is None:
        return orders.save_customer(values=plan.values)
    if plan.act == CHANGED:
        return orders.save_customer(
            values=plan.values, customer_id=plan.customer.pk, version=plan.customer.version
        )
    return plan.customer


def _jobs(plans: list[JobPlan], customers: dict[int, Customer]) -> dict[str, Job]:
    """By number, those that are new or changed saved."""
    new, kept = NewJobs(), {}
    for plan in plans:
        job = plan.job
        if plan.act in {NEW, CHANGED}:
            assert plan.customer is not None
            values = {**plan.values, "customer": customers[id(plan.customer)]}
            with _named(plan):
                if job is None:
                    job = new.add(values)
                else:
                    job = orders.save_job(values=values, job_id=job.pk, version=job.version)
        assert job is not None
        kept[plan.number] = job
    new.save()
    return kept


def _pieces(plans: list[JobPlan], kept: dict[str, Job]) -> None:
    touched = [
        (plan, piece) for plan in plans for piece in sorted(plan.pieces, key=lambda p: p.code)
        if piece.act in {NEW, CHANGED}
    ]  # fmt: skip
    pieces = Pieces(
        {kept[plan.number].pk for plan, _ in touched},
        {piece.piece.pk for _, piece in touched if piece.piece},
    )
    for plan, piece in touched:
        with _named(plan, piece):
            if piece.piece is None:
                pieces.add(kept[plan.number].pk, piece.values)
            else:
                pieces.change(piece.piece.pk, piece.piece.version, piece.values)
    pieces.save()


def _end(job_id: int, plan: JobPlan) -> None:
    if closed_at := plan.ending.get("closed_at"):
        orders.close_job(job_id=job_id, now=closed_at)
    if plan.ending.get("called_off"):
        orders.call_off_job(job_id=job_id)


@contextmanager
def _named(plan: JobPlan, piece: PiecePlan | None = None) -> Iterator[None]:
    """A refusal, with the row it belongs to."""
    try:
        yield
    except Refused as refusal:
        line = piece.row.line if piece else plan.rows[0].line
        what = f"piece {piece.code}" if piece else f"job {plan.number}"
        raise Refused(f"Row {line}, {what}: {refusal.message}") from refusal


def said(plan: Plan) -> str:
    """'3 jobs and 8 pieces are new, 1 job is changed.'"""
    parts = []
    for act, words in ((NEW, "new"), (CHANGED, "changed")):
        counted = [
            f"{count:,} {kind if count > 1 else kind[:-1]}"
            for kind, sums in plan.sums.items()
            if (count := sums[act])
        ]
        total = sum(sums[act] for sums in plan.sums.values())
        if counted:
            named = " and ".join(filter(None, [", ".join(counted[:-1]), counted[-1]]))
            parts.append(f"{named} {'is' if total == 1 else 'are'} {words}")
    return f"Brought in: {'; '.join(parts)}." if parts else "Nothing had to be changed."
