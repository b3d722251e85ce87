"""A file's table as text, row by row, with what could not be read; and how large it may be."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from jobs.services.errors import Refused

# All rows are saved in one transaction that others wait for, about a millisecond a row; the dates
# of as many open pieces then take the worker a minute. A shop's pieces of years.
MOST_ROWS = 5_000
MOST_COLUMNS = 200
MOST_CELLS = 250_000  # of cells with something in them
MOST_SIGNS = 8_000_000  # in all cells together
LONGEST_CELL = 32_767  # signs: a spreadsheet's own limit
HEADER = 120  # signs of a header that are kept

PLACE = tuple[int, int]  # place of a row among the rows, and of its column


class BadFile(Refused):
    """The file as a whole cannot be read; the message says what to do."""

    def __init__(self, message: str) -> None:
        super().__init__(message, field="file")


def too_long(line: int) -> BadFile:
    return BadFile(
        f"A cell in row {line} is longer than {LONGEST_CELL:,} signs, the most that a spreadsheet "
        "takes. Perhaps a quotation mark is not closed there, or a shape has too many corners."
    )


@dataclass(frozen=True)
class Table:
    """Every row is as long as `headers`. `lines` are the row numbers a spreadsheet shows."""

    name: str
    headers: list[str]
    rows: list[list[str]]
    lines: list[int]
    faults: dict[PLACE, str] = field(default_factory=dict)
    line: int = 1  # of the headers
    above: list[list[Any]] = field(default_factory=list)  # [line, cells, [[column, words], ...]]

    def headed(self, line: int) -> Table:
        """The same table under another of its rows as headers. Raises ValueError where no row with
        something below it has that number."""
        own = [_unnamed(text, place) for place, text in enumerate(self.headers)]
        rows: list[list[Any]] = [
            [at, cells, []] for at, cells in zip(self.lines, self.rows, strict=True)
        ]
        for (row, column), words in self.faults.items():
            rows[row][2].append([column, words])
        every = [*self.above, [self.line, own, []], *rows]
        place = [at for at, _, _ in every].index(line)
        if place == len(every) - 1:
            raise ValueError(f"no row stands below row {line}")
        below = every[place + 1 :]
        faults = {
            (row, at): words for row, (_, _, wrong) in enumerate(below) for at, words in wrong
        }
        lines = [at for at, _, _ in below]
        named = _named(every[place][1])
        return Table(self.name, named, [c for _, c, _ in below], lines, faults, line, every[:place])

    def column(self, place: int) -> list[str]:
        return [row[place] for row in self.rows]

    def samples(self, place: int, count: int = 3) -> list[str]:
        """The first different things that stand in a column."""
        seen = dict.fromkeys(text for text in self.column(place) if text)
        return list(seen)[:count]

    def plain(self) -> dict[str, Any]:
        faults = [[row, column, words] for (row, column), words in self.faults.items()]
        return {**vars(self), "faults": faults}

    @classmethod
    def of(cls, plain: dict[str, Any]) -> Table:
        faults = {(row, column): words for row, column, words in plain["faults"]}
        return cls(**{**plain, "faults": faults})


class Builder:
    """Takes rows as they are read, and stops at the first that is too much."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.headers: list[str] | None = None
        self.rows: list[list[str]] = []
        self.lines: list[int] = []
        self.faults: dict[PLACE, str] = {}
        self.line = 1
        self.cells = 0
        self.signs = 0

    def add(self, line: int, cells: Sequence[str], faults: dict[int, str] | None = None) -> None:
        texts = [cell.strip() for cell in cells]
        while texts and not texts[-1] and len(texts) - 1 not in (faults or {}):
            texts.pop()
        if not any(texts) and not faults:
            return
        self._count(line, texts)
        if self.headers is None:
            self.headers, self.line = texts, line
            return
        if len(self.rows) >= MOST_ROWS:
            raise BadFile(
                f"More than {MOST_ROWS:,} rows in one file. Split it, and keep the rows of one "
                "job together."
            )
        place = len(self.rows)
        self.rows.append(texts)
        self.lines.append(line)
        for column, words in (faults or {}).items():
            self.faults[place, column] = words
        for column, text in enumerate(texts):
            if odd := odd_sign(text):
                self.faults.setdefault(
                    (place, column),
                    f"Has a sign in it that cannot be shown ({odd}). Type the cell again.",
                )

    def _count(self, line: int, texts: list[str]) -> None:
        if len(texts) > MOST_COLUMNS:
            raise BadFile(
                f"Row {line} reaches past column {MOST_COLUMNS}, which is the most. Take out the "
                "columns that are not about jobs and pieces."
            )
        longest = max(map(len, texts), default=0)
        if longest > LONGEST_CELL:
            raise too_long(line)
        self.cells += sum(1 for text in texts if text)
        self.signs += sum(map(len, texts))
        if self.cells > MOST_CELLS or self.signs > MOST_SIGNS:
            raise BadFile(
                f"The file has more than {MOST_CELLS:,} filled cells or {MOST_SIGNS:,} signs. "
                "Split it, or take out columns that are not about jobs and pieces."
            )

    def table(self) -> Table:
        if self.headers is None:
            raise BadFile("The file is empty.")
        if not self.rows:
            raise BadFile(
                "There is one row with something in it and none below. The first row names the "
                "columns; put the jobs under it."
            )
        width = max(len(self.headers), *map(len, self.rows))
        headers = self.headers + [""] * (width - len(self.headers))
        rows = [row + [""] * (width - len(row)) for row in self.rows]
        return Table(self.name, _named(headers), rows, self.lines, self.faults, self.line)


def _named(cells: list[str]) -> list[str]:
    texts = [" ".join(text.split())[:HEADER] for text in cells]
    return [text or f"Column {letters_of(place)}" for place, text in enumerate(texts)]


def _unnamed(header: str, place: int) -> str:
    return "" if header == f"Column {letters_of(place)}" else header


def odd_sign(text: str) -> str:
    """The code of a sign that no text field takes; line breaks and tabs are ordinary."""
    for sign in text:
        if unicodedata.category(sign) in {"Cc", "Cs"} and sign not in "\n\r\t":
            return f"U+{ord(sign):04X}"
    return ""


def letters_of(place: int) -> str:
    """A column's letters in a spreadsheet: 0 is A, 26 is AA."""
    letters, number = "", place + 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters
