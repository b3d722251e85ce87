"""The rows that cannot be saved, with what is wrong beside them, to be mended in a spreadsheet."""

from __future__ import annotations

from dataclasses import dataclass

from jobs.services.exchange.plan import Plan
from jobs.services.exchange.rows import ROW, Row
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


LINES_NAMED = 8


@dataclass(frozen=True)
class Lines:
    """Of rows that are wrong alike: '2 to 5', '2, 7, 9 …'."""

    lines: tuple[int, ...]

    def __len__(self) -> int:
        return len(self.lines)

    def __str__(self) -> str:
        first, last = self.lines[0], self.lines[-1]
        if len(self) > 2 and last - first == len(self) - 1:
            return f"{first} to {last}"
        named = ", ".join(map(str, self.lines[:LINES_NAMED]))
        return named if len(self) <= LINES_NAMED else f"{named} …"


def wrong_rows(rows: list[Row], table: Table) -> list[tuple[Lines, str]]:
    """What is wrong, said once for all rows of which it is true."""
    by_words: dict[str, list[int]] = {}
    for row in rows:
        if row.faults:
            by_words.setdefault(wrong_words(row.faults, table), []).append(row.line)
    return [(Lines(tuple(lines)), words) for words, lines in by_words.items()]


def wrong_words(faults: dict[int, str], table: Table) -> str:
    return " ".join(
        words if place == ROW else f"{table.headers[place]}: {words}"
        for place, words in sorted(faults.items())
    )
