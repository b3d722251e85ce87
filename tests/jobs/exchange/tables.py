"""Tables for tests: made here, read, planned and saved as the pages do it."""

from __future__ import annotations

import csv
import io
from typing import Any

from openpyxl import Workbook

from jobs.services.exchange import keep, saving
from jobs.services.exchange.columns import LEAVE, Choices, guess
from jobs.services.exchange.files import read_file
from jobs.services.exchange.plan import Plan, make_plan
from jobs.services.exchange.table import Table
from shop.models import Mix, Room, Route, Sealer, Shop

HEADERS = ["Job", "What it is", "Customer", "Phone", "Taken on", "Promised", "Piece letter",
           "Piece name", "Area [ft²]"]  # fmt: skip
ROW = ["301", "Two vanities", "Odalys Brandt", "(555) 555-0111", "2026-03-02", "2026-04-24", "A",
       "Left vanity", "9.5"]  # fmt: skip


def csv_file(*rows: list[str], separator: str = ",", encoding: str = "utf-8") -> bytes:
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=separator).writerows(rows)
    return text.getvalue().encode(encoding)


def xlsx_file(*rows: list[Any], name: str = "Jobs") -> bytes:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = name
    for row in rows:
        sheet.append(row)
    return saved(book)


def saved(book: Workbook) -> bytes:
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def table_of(content: bytes, name: str = "jobs.csv") -> Table:
    table = read_file(content, name).sheets[0].table
    assert table is not None
    return table


def defaults() -> dict[str, Any]:
    models = {"room": Room, "mix": Mix, "route": Route, "sealer": Sealer}
    chosen = {key: model.objects.order_by("pk")[0].pk for key, model in models.items()}
    return {**chosen, "thickness": 0.01905}


def choices_of(table: Table, existing: str = LEAVE, **more: Any) -> Choices:
    return Choices(guess(table), {**defaults(), **more}, existing)


def plan_of(content: bytes, shop: Shop, name: str = "jobs.csv", existing: str = LEAVE) -> Plan:
    table = table_of(content, name)
    return make_plan(table, choices_of(table, existing), shop)


def kept_of(content: bytes, clerk: Any, name: str = "jobs.csv", existing: str = LEAVE) -> keep.Kept:
    """As after the second step, its rows looked at."""
    kept = keep.keep(read_file(content, name), name=name, by=clerk)
    assert kept.table is not None
    kept.choices = choices_of(kept.table, existing)
    keep.put(kept)
    return kept


def look(kept: keep.Kept, shop: Shop) -> Plan:
    plan = saving.plan_of(kept, shop, prices=True)
    kept.seen = plan.seen
    keep.put(kept)
    return plan


def save(kept: keep.Kept, clerk: Any, shop: Shop, plan: Plan) -> str:
    return saving.save_table(
        kept.token, by=clerk, shop=shop, seen=saving.print_of(plan.seen), prices=True
    )


def bring(content: bytes, clerk: Any, shop: Shop, **more: Any) -> str:
    kept = kept_of(content, clerk, **more)
    plan = look(kept, shop)
    assert plan.faults == 0, [row.faults for row in plan.rows if row.faults][:3]
    return save(kept, clerk, shop, plan)


def faults_of(plan: Plan) -> list[str]:
    return [words for row in plan.rows for words in row.faults.values()]
