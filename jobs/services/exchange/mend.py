"""The rows that cannot be saved, with what is wrong beside them, to be mended in a spreadsheet."""

from __future__ import annotations

from jobs.services.exchange.plan import Plan
from jobs.services.exchange.rows import ROW
from jobs.services.exchange.table import Table
from jobs.services.exchange.writing import as_csv, as_xlsx

# Two columns more, which are left out when the mended table is brought in.
LINE, WRONG = "Row in the file", "What is wrong"


def csv_to_mend(table: Table, plan: Plan, *, everything: bool) -> bytes:
    return as_csv([LINE, WRONG, *table.headers], _rows(table, plan, everything=everything))


def xlsx_to_mend(table: Table, plan: Plan, *, everything: bool) -> bytes:
    rows = _rows(table, plan, everything=everything)
    return as_xlsx([LINE, WRONG, *table.headers], rows, "To mend")


def _rows(table: Table, plan: Plan, *, everything: bool) -> list[list[str]]:
    return [
        [str(row.line), wrong_words(row.faults, table), *table.rows[row.place]]
        for row in plan.rows
        if everything or row.faults
    ]


def wrong_words(faults: dict[int, str], table: Table) -> str:
    return " ".join(
        words if place == ROW else f"{table.headers[place]}: {words}"
        for place, words in sorted(faults.items())
    )
