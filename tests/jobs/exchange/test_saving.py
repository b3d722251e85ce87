"""A table is saved whole, once, or not at all; what is kept of it, and what is taken out."""

from __future__ import annotations

import datetime as dt
import json
import os
import threading
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from jobs.models import Customer, Job, Mark, Piece
from jobs.services import orders
from jobs.services.errors import Conflict, Refused
from jobs.services.exchange import keep, saving
from jobs.services.exchange.columns import CHANGE
from jobs.services.exchange.files import read_file
from jobs.services.exchange.out import ALL, DAYS, OPEN, Wanted, csv_out
from jobs.shapes.stored import write
from shop.models import Person, Role, Shop
from tests import factories
from tests.jobs.exchange.tables import (
    HEADERS,
    ROW,
    csv_file,
    kept_of,
    look,
    plan_of,
    save,
    table_of,
)
from tests.jobs.shapes.samples import COUNTER

FOOT = 0.3048


@pytest.fixture
def here(shop: Shop) -> Piece:
    customer = factories.make_customer("Odalys Brandt", phone="(555) 555-0111", email="")
    job = factories.make_job("301", dt.date(2026, 4, 10), customer=customer, title="Two vanities",
                             taken_on=dt.date(2026, 3, 2))  # fmt: skip
    return factories.make_piece(job, "A", name="Left vanity", area_m2=9.5 * FOOT**2)


# Saving.


def test_one_row_that_a_service_refuses_undoes_all(
    shop: Shop, clerk: Person, var: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = kept_of(csv_file(HEADERS, ROW, ["302", *ROW[1:]]), clerk)
    plan = look(kept, shop)
    real = orders.take_piece

    def second_refused(piece: Piece, values: dict[str, Any], job: Job) -> None:
        if job.number == "302":
            raise Refused("Not this one.")
        real(piece, values, job)

    monkeypatch.setattr(orders, "take_piece", second_refused)

    with pytest.raises(Refused, match=r"Row 3, piece 302-A: Not this one"):
        save(kept, clerk, shop, plan)
    assert (Job.objects.count(), Piece.objects.count(), Customer.objects.count()) == (0, 0, 0)
    assert keep.find(kept.token, clerk) is not None


def test_pressed_twice_it_is_saved_once_and_the_table_is_gone(
    shop: Shop, clerk: Person, var: Path
) -> None:
    kept = kept_of(csv_file(HEADERS, ROW), clerk)
    plan = look(kept, shop)

    first = save(kept, clerk, shop, plan)
    again = save(kept, clerk, shop, plan)

    assert first == again == "Brought in: 1 job, 1 piece and 1 customer are new."
    assert Job.objects.count() == 1
    left = "".join(path.read_text() for path in var.glob("*.json"))
    assert "Odalys" not in left
    assert json.loads(left)["sheets"] == []


@pytest.mark.django_db(transaction=True)
@pytest.mark.servers
def test_two_presses_at_once_save_once(shop: Shop, clerk: Person, var: Path) -> None:
    kept = kept_of(csv_file(HEADERS, *([str(n), *ROW[1:]] for n in range(400, 420))), clerk)
    plan = look(kept, shop)
    said: list[str] = []

    def press() -> None:
        try:
            said.append(save(kept, clerk, shop, plan))
        finally:
            connection.close()

    presses = [threading.Thread(target=press) for _ in range(3)]
    for thread in presses:
        thread.start()
    for thread in presses:
        thread.join()

    assert said == ["Brought in: 20 jobs, 20 pieces and 1 customer are new."] * 3
    assert Job.objects.count() == 20


def test_a_job_changed_since_it_was_looked_at_is_a_conflict(
    shop: Shop, clerk: Person, var: Path, here: Piece
) -> None:
    kept = kept_of(csv_file(HEADERS, ROW), clerk, existing=CHANGE)
    plan = look(kept, shop)
    orders.save_job(values={"title": "Three vanities"}, job_id=here.job_id, version=1)

    with pytest.raises(Conflict, match=r"Otherwise now: job 301\. Nothing was saved"):
        save(kept, clerk, shop, plan)
    here.job.refresh_from_db()
    assert here.job.promised_on == dt.date(2026, 4, 10)

    assert save(kept, clerk, shop, look(kept, shop)).startswith("Brought in: 1 job is changed")


def test_a_job_taken_on_meanwhile_by_that_number_is_a_conflict(
    shop: Shop, clerk: Person, var: Path
) -> None:
    kept = kept_of(csv_file(HEADERS, ROW), clerk)
    plan = look(kept, shop)
    factories.make_job("301")

    with pytest.raises(Conflict, match="job 301"):
        save(kept, clerk, shop, plan)


def test_what_was_not_looked_at_is_not_saved(shop: Shop, clerk: Person, var: Path) -> None:
    kept = kept_of(csv_file(HEADERS, ROW), clerk)
    look(kept, shop)

    with pytest.raises(Conflict):
        saving.save_table(kept.token, by=clerk, shop=shop, seen="", prices=True)
    assert not Job.objects.exists()


def test_prices_are_kept_from_those_who_may_not_see_them(
    shop: Shop, clerk: Person, var: Path
) -> None:
    kept = kept_of(csv_file([*HEADERS, "Price"], [*ROW, "99.00"]), clerk)
    plan = saving.plan_of(kept, shop, prices=False)

    assert "price" not in plan.jobs[0].values
    assert "price" in saving.plan_of(kept, shop, prices=True).jobs[0].values
    factories.make_job("9", price=Decimal("12.00"))
    assert b"12.00" in csv_out(Wanted(ALL), shop, prices=True)
    assert b"Price" not in csv_out(Wanted(ALL), shop, prices=False)


def test_many_are_saved_as_one_is(shop: Shop, clerk: Person, var: Path) -> None:
    """The same rows as the office's form would have saved, in as many queries for many."""
    headers = [*HEADERS, "Closed at"]
    ended = "2026-03-20T12:00:00+00:00"

    def queries_for(first: int, count: int) -> int:
        rows = [
            [str(first + n), *ROW[1:6], letter, *ROW[7:], ""]
            for n in range(count)
            for letter in "AB"
        ]
        rows[-1][-1] = rows[-2][-1] = ended
        kept = kept_of(csv_file(headers, *rows), clerk)
        plan = look(kept, shop)
        with CaptureQueriesContext(connection) as asked:
            save(kept, clerk, shop, plan)
        return len(asked)

    queries_for(50, 1)  # which brings the customer
    assert queries_for(100, 2) == queries_for(200, 12)

    job = orders.save_job(values={"number": "99", "title": "Two vanities", "taken_on": dt.date(2026, 3, 2),
                                  "promised_on": dt.date(2026, 4, 24),
                                  "customer": Customer.objects.get()})  # fmt: skip
    brought = Piece.objects.get(code="200-B")
    values = {field.name: getattr(brought, field.name) for field in Piece._meta.concrete_fields}
    for name in ("id", "job", "code", "version", "batch"):
        del values[name]
    typed = orders.save_piece(job_id=job.pk, values=values)
    own = {"id", "job_id", "code", "_state", "_prefetched_objects_cache"}
    rows = [{k: v for k, v in vars(Piece.objects.get(pk=row.pk)).items() if k not in own}
            for row in (brought, typed)]  # fmt: skip
    assert rows[0] == rows[1]
    assert (typed.code, brought.version, brought.job.version) == ("99-B", 1, 1)
    assert Job.objects.get(number="211").closed_at == dt.datetime.fromisoformat(ended)


def test_a_letter_given_meanwhile_undoes_all(
    shop: Shop, clerk: Person, var: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the plan could not see yet: the database has the last word."""
    kept = kept_of(csv_file(HEADERS, ROW), clerk)
    plan = look(kept, shop)
    real = orders.take_piece

    def beaten(piece: Piece, values: dict[str, Any], job: Job) -> None:
        factories.make_piece(job, "A")
        real(piece, values, job)

    monkeypatch.setattr(orders, "take_piece", beaten)

    with pytest.raises(Refused, match="a piece by the same letter meanwhile"):
        save(kept, clerk, shop, plan)
    assert not Job.objects.exists()


# What is kept.


def test_a_table_is_its_persons_alone_and_goes_after_a_day(
    shop: Shop, clerk: Person, var: Path
) -> None:
    kept = kept_of(csv_file(HEADERS, ROW), clerk)
    other = factories.make_person(Role.OFFICE)
    path = next(var.glob("*.json"))

    assert keep.find(kept.token, other) is None
    assert keep.find("../" + kept.token, clerk) is None
    assert path.stat().st_mode & 0o777 == 0o600
    keep.leave(kept.token, other)
    assert keep.find(kept.token, clerk) is not None
    old = path.stat().st_mtime - 86_500
    os.utime(path, (old, old))
    assert keep.find(kept.token, clerk) is None
    keep.clear_old()
    assert not path.exists()


def test_only_the_newest_few_tables_of_a_person_are_kept(
    shop: Shop, clerk: Person, var: Path
) -> None:
    tokens = [kept_of(csv_file(HEADERS, ROW), clerk).token for _ in range(keep.A_PERSON + 2)]

    assert sum(keep.find(token, clerk) is not None for token in tokens) == keep.A_PERSON
    assert keep.find(tokens[-1], clerk) is not None


def test_a_refused_file_leaves_no_trace(shop: Shop, clerk: Person, var: Path) -> None:
    with pytest.raises(Refused):
        read_file(b"%PDF-1.7", "jobs.csv")
    assert not var.exists() or not list(var.iterdir())


# How many queries.


def test_looking_at_rows_and_taking_out_take_as_many_queries_for_many(
    shop: Shop, clerk: Person
) -> None:
    def counted(jobs: int) -> tuple[int, int]:
        Mark.objects.all().delete()
        Job.objects.all().delete()
        for number in range(jobs):
            job = factories.make_job(str(100 + number))
            factories.make_mark(factories.make_piece(job, "A"), "cast", factories.NOW)
            factories.make_piece(job, "B", shape=write(COUNTER))
        with CaptureQueriesContext(
            connection,
        ) as out:
            content = csv_out(Wanted(ALL), shop, prices=True)
        content = content.replace(b"Kitchen island", b"Kitchen")
        with CaptureQueriesContext(connection) as looked:
            plan = plan_of(content, shop, existing=CHANGE)
        assert plan.counts["changed"] == jobs
        return len(out), len(looked)

    assert counted(2) == counted(12)


def test_which_jobs_are_taken_out(shop: Shop) -> None:
    for number, promised, taken in (("1", dt.date(2026, 4, 1), dt.date(2026, 3, 1)),
                                    ("2", dt.date(2026, 5, 1), dt.date(2026, 3, 5)),
                                    ("3", None, dt.date(2026, 3, 9))):  # fmt: skip
        factories.make_job(number, promised, taken_on=taken)
    orders.close_job(job_id=Job.objects.get(number="1").pk)

    def numbers(wanted: Wanted) -> list[str]:
        return [row[0] for row in table_of(csv_out(wanted, shop, prices=True)).rows]

    assert numbers(Wanted(OPEN)) == ["2", "3"]
    assert numbers(Wanted(ALL)) == ["1", "2", "3"]
    assert numbers(Wanted(DAYS, "promised_on", dt.date(2026, 4, 1), dt.date(2026, 4, 30))) == ["1"]
    assert numbers(Wanted(DAYS, "taken_on", dt.date(2026, 3, 5), None)) == ["2", "3"]
