"""The rows of a table as they are shown before they are saved: each cell with its fault."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from jobs.services.exchange.keep import Kept
from jobs.services.exchange.rows import ROW, Row

SHOWN = 90  # signs of a cell; a shape's text is long


@dataclass(frozen=True)
class ShownCell:
    header: str
    text: str
    fault: str


@dataclass(frozen=True)
class ShownRow:
    row: Row
    fault: str  # of the row as a whole
    cells: list[ShownCell]

    @property
    def wrong_columns(self) -> list[str]:
        """Named at the row's beginning: the cells may lie far to the right."""
        return [cell.header for cell in self.cells if cell.fault]


def shown_rows(rows: Iterable[Row], kept: Kept) -> dict[str, Any]:
    """Only the columns that are about something, in the file's order."""
    table, choices = kept.table, kept.choices
    assert table is not None
    assert choices is not None
    places = [place for place, column in enumerate(choices.columns) if column.about]
    headers = [(table.headers[place], choices.columns[place].about) for place in places]
    shown = [
        ShownRow(
            row,
            row.faults.get(ROW, ""),
            [
                ShownCell(
                    table.headers[place],
                    _short(table.rows[row.place][place]),
                    row.faults.get(place, ""),
                )
                for place in places
            ],
        )
        for row in rows
    ]
    return {"headers": headers, "shown": shown}


def _short(text: str) -> str:
    return text if len(text) <= SHOWN else f"{text[: SHOWN - 1]}…"
