"""CSV as any spreadsheet writes it: which encoding, which separator, then rows of text."""

from __future__ import annotations

import csv
import io
import re

from jobs.services.exchange.neutral import freed
from jobs.services.exchange.table import LONGEST_CELL, BadFile, Builder, Table, odd_sign, too_long

SEPARATORS = ",;\t"
HINT = re.compile(r"sep=(.)\s*$", re.IGNORECASE)  # some write the separator into a first line
MOST_LINES = 40_000  # with the empty ones


def read_text(content: bytes) -> Table:
    text = decoded(content)
    separator, start = _separator(text)
    builder = Builder("")
    csv.field_size_limit(max(LONGEST_CELL * 4, 131_072))
    reader = csv.reader(io.StringIO(text[start:], newline=""), delimiter=separator, strict=True)
    number = 1 if start else 0
    try:
        for cells in reader:
            number += 1
            if number > MOST_LINES:
                raise BadFile(f"The file has more than {MOST_LINES:,} lines. Take out empty ones.")
            builder.add(number, [freed(cell) for cell in cells])
    except csv.Error as error:
        if "field limit" in str(error):
            raise too_long(number + 1) from None
        raise BadFile(
            f"Row {number + 1} cannot be split into columns ({error}). Look for a quotation mark "
            "that is not closed, or save the sheet as CSV again."
        ) from None
    return builder.table()


def decoded(content: bytes) -> str:
    if not content.strip(b"\x00 \r\n\t"):
        raise BadFile("The file is empty.")
    text = _decoded(content)
    if "\x00" in text:
        raise BadFile(
            "There are bytes of nought in this file, so it is no text, or was damaged on its way. "
            "Save the sheet as CSV (UTF-8) or as XLSX again."
        )
    odd = sum(sign == "\ufffd" or bool(odd_sign(sign)) for sign in text[:4000])
    if odd > 8:
        raise BadFile("This is no text and no workbook. Save the sheet as CSV (UTF-8) or as XLSX.")
    return text


def _decoded(content: bytes) -> str:
    try:
        if content[:2] in {b"\xff\xfe", b"\xfe\xff"}:
            return content.decode("utf-16")
        if wide := _wide(content[:400]):
            return content.decode(wide)
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        if content[:2] in {b"\xff\xfe", b"\xfe\xff"}:
            raise BadFile(
                "The file begins as UTF-16 text and then breaks off. Save it as CSV (UTF-8) again."
            ) from None
        # Its five empty places stand for nothing that anybody types.
        return content.decode("cp1252", errors="replace")


def _wide(start: bytes) -> str:
    """UTF-16 without its mark: every other byte of plain text is nought."""
    even, odd = start[0::2], start[1::2]
    if odd and odd.count(0) > 0.8 * len(odd) and not even.count(0):
        return "utf-16-le"
    if even and even.count(0) > 0.8 * len(even) and not odd.count(0):
        return "utf-16-be"
    return ""


def _separator(text: str) -> tuple[str, int]:
    """The one that parts the first line best, and where the table starts."""
    first = re.match(r"[^\r\n]*(\r\n|\r|\n|$)", text)
    assert first is not None  # it matches anything
    if hint := HINT.match(first[0].strip("\r\n")):
        return hint[1], first.end()
    line = next((line for line in text.splitlines() if line.strip()), "")
    return max(SEPARATORS, key=lambda separator: _parts(line, separator)), 0


def _parts(line: str, separator: str) -> int:
    try:
        return len(next(csv.reader([line], delimiter=separator), []))
    except csv.Error:
        return 0
