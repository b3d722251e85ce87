"""A table to CSV and to XLSX, in which no cell is reckoned by whoever opens it."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Iterable, Sequence
from typing import Any

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.styles import Alignment, Font

from jobs.services.exchange.neutral import bound, risky
from jobs.services.exchange.table import letters_of

WIDEST, NARROWEST = 40, 9  # of a column, in letters


def as_csv(headers: Sequence[str], rows: Iterable[Sequence[str]]) -> bytes:
    """UTF-8 with its mark, by which spreadsheets know it; lines end as RFC 4180 has it."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow([bound(header) for header in headers])
    for row in rows:
        writer.writerow([bound(cell) for cell in row])
    return text.getvalue().encode("utf-8-sig")


def as_xlsx(headers: Sequence[str], rows: Iterable[Sequence[Any]], name: str) -> bytes:
    """Texts as text, numbers and days as what they are; the first row stays in sight."""
    book = Workbook(write_only=True)
    sheet = book.create_sheet(name)
    sheet.freeze_panes = "A2"
    for place, header in enumerate(headers):
        width = min(max(len(header) + 2, NARROWEST), WIDEST)
        sheet.column_dimensions[letters_of(place)].width = width
    sheet.append([_header(sheet, text) for text in headers])
    for row in rows:
        sheet.append([_cell(sheet, value) for value in row])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _header(sheet: Any, text: str) -> Any:
    cell = _cell(sheet, text)
    cell.font = Font(bold=True)
    cell.alignment = Alignment(wrap_text=True, vertical="top")
    return cell


def _cell(sheet: Any, value: Any) -> Any:
    cell: Any
    if value is None or value == "":
        return WriteOnlyCell(sheet, value=None)
    if not isinstance(value, str):
        cell = WriteOnlyCell(sheet, value=value)
        if isinstance(value, dt.date):
            cell.number_format = "yyyy-mm-dd"
        elif isinstance(value, dt.time):
            cell.number_format = "hh:mm"
        return cell
    cell = WriteOnlyCell(sheet, value="")
    # As its own kind before the value: else '=1+1' would be taken for a formula.
    cell._value = ILLEGAL_CHARACTERS_RE.sub("\ufffd", value)
    cell.data_type = "s"
    if risky(value):
        cell.quotePrefix = True  # stays text when somebody edits it
    return cell
