"""Which column is what: guessed from its header and what stands in it, then as somebody says."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, field, replace
from typing import Any

from jobs.services.exchange.days import DAY_FIRST, MONTH_FIRST, order_of
from jobs.services.exchange.fields import BY_KEY, FIELDS, Field
from jobs.services.exchange.table import Table
from jobs.services.exchange.units import NAMES, UNITS, is_plain

LEAVE, CHANGE = "leave", "change"
BRACKETS = re.compile(r"\s*[\[(]([^\[\]()]*)[\])]\s*$")


@dataclass(frozen=True)
class Column:
    """`field` is empty for a column that is left out. `unit` and `order` where they count."""

    field: str = ""
    unit: str = ""
    order: str = ""

    @property
    def about(self) -> Field | None:
        return BY_KEY.get(self.field)


@dataclass(frozen=True)
class Choices:
    """All that is chosen on the way from a file to its jobs."""

    columns: tuple[Column, ...] = ()
    defaults: dict[str, Any] = field(default_factory=dict)  # pk, metres, or a day as ISO text
    existing: str = LEAVE
    numbers_down: bool = False  # a row without a job number goes with the row above
    letters_given: bool = False  # pieces without a letter get the next of their job
    without: tuple[int, ...] = ()  # lines left out

    def place_of(self, key: str) -> int | None:
        places = [place for place, column in enumerate(self.columns) if column.field == key]
        return places[0] if places else None

    def plain(self) -> dict[str, Any]:
        return {
            "columns": [vars(column) for column in self.columns],
            "defaults": self.defaults,
            "existing": self.existing,
            "numbers_down": self.numbers_down,
            "letters_given": self.letters_given,
            "without": self.without,
        }

    @classmethod
    def of(cls, plain: dict[str, Any]) -> Choices:
        columns = tuple(Column(**column) for column in plain["columns"])
        without = tuple(plain.get("without", ()))
        return replace(cls(**{**plain, "columns": ()}), columns=columns, without=without)


def usual_rows(columns: tuple[Column, ...], table: Table) -> dict[str, Any]:
    """How rows that lack a number or a letter are to be read, by what the table itself does."""
    by_field = {column.field: place for place, column in enumerate(columns)}
    numbers = table.column(by_field["number"]) if "number" in by_field else []
    return {
        "numbers_down": bool(numbers and numbers[0] and not all(numbers)),
        "letters_given": not {"letter", "code"} & by_field.keys(),
    }


def folded(text: str) -> str:
    """Without case, accents and signs, so that 'Job No.' and 'job no' are one."""
    parts = unicodedata.normalize("NFKD", text.casefold())
    plain = "".join(sign for sign in parts if not unicodedata.combining(sign))
    return " ".join(re.sub(r"[_.:\-/,]+", " ", plain).split())


def guess(table: Table, fields: tuple[Field, ...] = FIELDS) -> tuple[Column, ...]:
    """Each field once, its own header before what others call it."""
    known = {folded(found.header): found.key for found in fields}
    other = {folded(name): found.key for found in fields for name in found.also}
    split = [_split(header) for header in table.headers]
    taken: dict[str, int] = {}
    for names in (known, other):
        for place, (name, _) in enumerate(split):
            key = _as_its_cells(names.get(name, ""), table, place)
            if key and key not in taken and place not in taken.values():
                taken[key] = place
    by_place = {place: key for key, place in taken.items()}
    return tuple(
        settled(Column(by_place.get(place, "")), table, place)
        for place in range(len(table.headers))
    )


LONGEST_LETTER = 3  # signs; what is longer is a name
CODE = re.compile(r"[0-9A-Za-z]{1,10}\s*-\s*[A-Za-z]{1,2}")


def _as_its_cells(key: str, table: Table, place: int) -> str:
    """A column called 'Piece' has letters, whole codes, or what the pieces are called."""
    if key not in {"letter", "name"}:
        return key
    texts = table.samples(place, 20)
    if texts and 2 * sum(bool(CODE.fullmatch(text)) for text in texts) > len(texts):
        return "code"
    if key == "letter" and 2 * sum(len(text) > LONGEST_LETTER for text in texts) > len(texts):
        return "name"
    return key


HEADERS_WITHIN = 20  # first rows of a table, one of which names the columns


def header_rows(table: Table) -> list[tuple[int, list[str]]]:
    """The first rows, by the line a spreadsheet shows, any of which may name the columns."""
    rows = [(line, cells) for line, cells, _ in table.above]
    rows.append((table.line, table.headers))
    rows.extend(zip(table.lines, table.rows, strict=True))
    return rows[:-1][:HEADERS_WITHIN]


def well_headed(table: Table) -> Table:
    """Under the row that names the most fields: titles and dates often stand above it."""
    names = {folded(n): f.key for f in FIELDS for n in (f.header, *f.also)}

    def named(cells: list[str]) -> int:
        return len({names[_split(cell)[0]] for cell in cells if _split(cell)[0] in names})

    rows = header_rows(table)
    line, cells = max(rows, key=lambda row: named(row[1]))  # the first of those that name as many
    if named(cells) < 2 or named(cells) <= named(table.headers):
        return table
    return table.headed(line)


def _split(header: str) -> tuple[str, str]:
    """The header by itself, and a unit in brackets behind it, or in its last word."""
    if folded(header) in {folded(found.header) for found in FIELDS}:
        return folded(header), ""
    if match := BRACKETS.search(header):
        return folded(header[: match.start()]), NAMES.get(match[1].strip().lower(), "")
    first, _, last = header.strip().rpartition(" ")
    if first and last.lower() in NAMES:
        return folded(first), NAMES[last.lower()]
    return folded(header), NAMES.get(header.strip().lower(), "")


def settled(column: Column, table: Table, place: int) -> Column:
    """With the unit and the order that header and cells leave no doubt of; else left empty."""
    about = column.about
    if about is None:
        return Column()
    unit = order = ""
    if about.kind in UNITS:
        said = column.unit or _split(table.headers[place])[1]
        unit = said if said in UNITS[about.kind] else ""
    elif about.kind == "day":
        found = order_of(table.column(place))
        order = column.order if found is None else found
    return Column(column.field, unit, order)


def unit_is_asked(column: Column, table: Table, place: int) -> bool:
    """A figure without a unit of its own stands in the column."""
    about = column.about
    if about is None or about.kind not in UNITS:
        return False
    texts = [text for text in table.column(place) if text]
    if about.kind == "length":  # by fractions, too: 25 1/2
        return any(not re.search(r"[a-z\"'″′”]", text, re.IGNORECASE) for text in texts)
    return any(is_plain(text) for text in texts)


def order_is_asked(column: Column, table: Table, place: int) -> bool:
    about = column.about
    return about is not None and about.kind == "day" and order_of(table.column(place)) is None


ORDERS = ((DAY_FIRST, "the day first: 31/12"), (MONTH_FIRST, "the month first: 12/31"))


def faults_of(columns: tuple[Column, ...], table: Table) -> dict[int, str]:
    """By column, what keeps the rows from being read; empty where they can be."""
    faults: dict[int, str] = {}
    seen: dict[str, int] = {}
    for place, column in enumerate(columns):
        about = column.about
        if about is None:
            continue
        if column.field in seen:
            other = table.headers[seen[column.field]]
            faults[place] = f"‘{other}’ is {about.header} already. Leave one of them out."
        elif not column.unit and unit_is_asked(column, table, place):
            faults[place] = "Say which unit these figures are in."
        elif not column.order and order_is_asked(column, table, place):
            faults[place] = "These days can be read two ways. Say which part comes first."
        seen.setdefault(column.field, place)
    return faults


def needs_number(columns: tuple[Column, ...]) -> str:
    named = {column.field for column in columns}
    if named & {"number", "code"}:
        return ""
    return (
        "No column is the job number. Rows are put together by it: choose the column that has it, "
        "or one with whole piece codes like 217-B."
    )
