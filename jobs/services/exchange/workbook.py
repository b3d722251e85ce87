"""XLSX, read without trust: what it unpacks to is looked at before anything is unpacked."""

from __future__ import annotations

import datetime as dt
import io
import warnings
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from defusedxml.common import DefusedXmlException
from openpyxl import DEFUSEDXML, load_workbook

from jobs.services.exchange.table import MOST_COLUMNS, BadFile, Builder, Table, letters_of

# A file of the most rows and forty columns unpacks to about 10 MB, ten times its size.
UNPACKED = 32 * 1024 * 1024
PART_UNPACKED = 4 * 1024 * 1024  # of a part that is neither a sheet nor its texts
RATIO = 120
PARTS = 400
SHEETS = 20
LAST_ROW = 20_000  # with the empty ones between
WIDTHS = 4_000_000  # places of cells that are walked through, empty ones too
A_PIECE = 64 * 1024
LOCKED = 0x1  # flag of a part that needs a password (APPNOTE of the zip format, 4.4.4)

SHEETS_AND_TEXTS = ("xl/worksheets/", "xl/sharedStrings.xml")
BROKEN = "This workbook cannot be read ({why}). Open it in a spreadsheet and save it as XLSX again."


@dataclass(frozen=True)
class Sheet:
    """One sheet of a file; `trouble` says why it has no table."""

    name: str
    table: Table | None
    trouble: str = ""


def read_workbook(content: bytes) -> list[Sheet]:
    """Its sheets that have something in them, in their order."""
    formulas = _looked_at(content)
    if not DEFUSEDXML:  # never without it: it is what refuses entities
        raise BadFile("XLSX cannot be read here just now. Save the sheet as CSV.")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return _sheets(content, formulas)
    except BadFile:
        raise
    except DefusedXmlException:
        raise _entities() from None
    except Exception as error:  # whatever a broken or hostile file breaks in the reader
        raise BadFile(BROKEN.format(why=type(error).__name__)) from None


def _looked_at(content: bytes) -> bool:
    """Whether any sheet has formulas; raises for what must not be opened."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            parts = packed.infolist()
            if any(part.flag_bits & LOCKED for part in parts):
                raise BadFile(
                    "This workbook is locked with a password. Save it without one, or as CSV."
                )
            _check_sizes(parts, len(content))
            # Every part is looked into, not only up to the first with formulas.
            looked = [_look_into(packed, part) for part in parts]
            return any(looked)
    # RuntimeError: a way of packing that the reader does not know.
    except (zipfile.BadZipFile, zipfile.LargeZipFile, RuntimeError, EOFError, OSError):
        raise BadFile(BROKEN.format(why="it is damaged")) from None
    except Exception as error:
        if isinstance(error, BadFile):
            raise
        raise BadFile(BROKEN.format(why=type(error).__name__)) from None


def _check_sizes(parts: list[zipfile.ZipInfo], packed: int) -> None:
    if len(parts) > PARTS:
        raise BadFile(f"This workbook has more than {PARTS} parts. Save the one sheet as CSV.")
    names = [part.filename for part in parts]
    if len(names) != len(set(names)):
        raise BadFile(BROKEN.format(why="it holds a part twice"))
    total = sum(part.file_size for part in parts)
    large = any(
        part.file_size > PART_UNPACKED and not part.filename.startswith(SHEETS_AND_TEXTS)
        for part in parts
    )
    if total > UNPACKED or total > RATIO * max(packed, 1024) or large:
        raise BadFile(
            f"This workbook unpacks to {total / 2**20:,.0f} MB, out of proportion to a table of "
            "jobs. Copy the one sheet's cells into a new file, or save it as CSV."
        )


def _look_into(packed: zipfile.ZipFile, part: zipfile.ZipInfo) -> bool:
    """Reads a part in small pieces, no further than the directory says it reaches."""
    formulas, tail = False, b""
    sheet = part.filename.startswith("xl/worksheets/")
    if not part.filename.endswith((".xml", ".rels")):
        return False
    with packed.open(part) as stream:
        while piece := stream.read(A_PIECE):
            seen = tail + piece
            if b"<!DOCTYPE" in seen or b"<!ENTITY" in seen:
                raise _entities()
            formulas = formulas or (sheet and (b"<f>" in seen or b"<f " in seen))
            tail = piece[-16:]
    return formulas


def _entities() -> BadFile:
    return BadFile(
        "This workbook declares entities of its own, which no spreadsheet writes. It was not "
        "read. Copy its cells into a new file."
    )


def _sheets(content: bytes, formulas: bool) -> list[Sheet]:
    book = load_workbook(io.BytesIO(content), read_only=True, data_only=True, keep_links=False)
    sums = (
        load_workbook(io.BytesIO(content), read_only=True, data_only=False, keep_links=False)
        if formulas
        else None
    )
    try:
        names = [sheet.title for sheet in book.worksheets if sheet.sheet_state == "visible"][
            :SHEETS
        ]
        found = [_sheet(name, book, sums) for name in names]
    finally:
        book.close()
        if sums:
            sums.close()
    found = [sheet for sheet in found if sheet.table or sheet.trouble]
    if not found:
        raise BadFile("No sheet of this workbook has anything in it.")
    if all(sheet.table is None for sheet in found):
        raise BadFile(f"Sheet ‘{found[0].name}’: {found[0].trouble}")
    return found


def _sheet(name: str, book: Any, sums: Any) -> Sheet:
    builder = Builder(name)
    try:
        unsolved = _unsolved(sums[name]) if sums else {}
        for line, cells in _rows(book[name]):
            texts, faults = [], {}
            for column, cell in enumerate(cells):
                text, fault = _text(cell)
                if not text and not fault and (line, column) in unsolved:
                    fault = "A formula without a result. Reckon the sheet and save it, or type it."
                texts.append(text)
                if fault:
                    faults[column] = f"{letters_of(column)}{line}: {fault}"
            builder.add(line, texts, faults)
        if builder.headers is None:
            return Sheet(name, None)
        return Sheet(name, builder.table())
    except BadFile as bad:
        return Sheet(name, None, bad.message)


def _rows(sheet: Any) -> Iterator[tuple[int, tuple[Any, ...]]]:
    """Rows by what is there, whatever the sheet says of its own size."""
    sheet.reset_dimensions()
    walked = 0
    for line, cells in enumerate(sheet.iter_rows(), 1):
        walked += len(cells)
        if walked > WIDTHS or line > LAST_ROW:
            raise BadFile(
                f"The sheet reaches further than row {LAST_ROW:,}, or empty cells far to the right "
                "are formatted. Copy the cells with something in them into a new sheet."
            )
        if len(cells) > MOST_COLUMNS and any(c.value is not None for c in cells[MOST_COLUMNS:]):
            raise BadFile(
                f"Row {line} reaches past column {MOST_COLUMNS}, which is the most. Take out the "
                "columns that are not about jobs and pieces."
            )
        yield line, cells[:MOST_COLUMNS]


def _unsolved(sheet: Any) -> set[tuple[int, int]]:
    return {
        (line, column)
        for line, cells in _rows(sheet)
        for column, cell in enumerate(cells)
        if cell.data_type == "f"
    }


def _text(cell: Any) -> tuple[str, str]:
    """A cell as it would be typed, and what is wrong with it."""
    value = cell.value
    if cell.data_type == "e":
        return str(value), f"The sheet shows {value} here. Mend its formula, or type the value."
    if isinstance(value, bool):
        text = "yes" if value else "no"
    elif isinstance(value, (int, float)):
        text = _number(value, getattr(cell, "number_format", "") or "")
    elif isinstance(value, dt.datetime):
        text = _moment(value)
    elif isinstance(value, (dt.date, dt.time)):
        text = value.isoformat()
    elif isinstance(value, dt.timedelta):
        text = _clock(value)
    else:
        text = "" if value is None else str(value)
    return text, ""


def _number(value: float, shown_as: str) -> str:
    """With all its digits, and as percent where the sheet shows it so."""
    number = Decimal(repr(value))
    if not number.is_finite():
        return str(value)
    percent = "%" in shown_as
    text = format(number * 100 if percent else number, "f")
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return f"{text} %" if percent else text


def _moment(value: dt.datetime) -> str:
    if value.time() == dt.time(0):
        return value.date().isoformat()
    return value.isoformat(sep=" ", timespec="seconds")


def _clock(value: dt.timedelta) -> str:
    minutes = round(value.total_seconds() / 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"
