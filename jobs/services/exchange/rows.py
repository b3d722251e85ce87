"""Each row of the table read by itself: the values of its cells, and what is wrong with them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import count
from typing import Any

from jobs.services.exchange.cells import Names, read_cell
from jobs.services.exchange.columns import Choices, Column
from jobs.services.exchange.fields import BY_KEY, CHOICES, PIECE
from jobs.services.exchange.table import Table, letters_of

ROW = -1  # the place of a fault that belongs to no column


@dataclass
class Row:
    """`place` among the table's rows, `line` as a spreadsheet numbers it."""

    place: int
    line: int
    values: dict[str, Any] = field(default_factory=dict)
    faults: dict[int, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    act: str = ""

    @property
    def has_piece(self) -> bool:
        """It speaks of a piece, beyond where all pieces of a job are cast."""
        keys = {key for key in self.values if BY_KEY[key].of == PIECE}
        return bool(keys - {*CHOICES, "thickness", "coat", "matches", "waste"})


def read_rows(table: Table, choices: Choices, names: Names) -> list[Row]:
    more = choices.place_of("shape_more")
    rows = []
    left_out = set(choices.without)
    for place, (line, cells) in enumerate(zip(table.lines, table.rows, strict=True)):
        if line in left_out:
            continue
        row = Row(place, line)
        for at, (text, column) in enumerate(zip(cells, choices.columns, strict=True)):
            if not column.field or column.field == "shape_more":
                continue
            if words := table.faults.get((place, at)):
                row.faults[at] = words
            elif text:
                joined = cells[more] if column.field == "shape" and more is not None else ""
                _read(row, at, text + joined, column, names)
        _split_code(row, choices)
        rows.append(row)
    if choices.numbers_down:
        _carry_numbers(rows, choices)
    if choices.letters_given:
        _give_letters(rows)
    return rows


def _carry_numbers(rows: list[Row], choices: Choices) -> None:
    """A number that stands once, above the rows of its job. One that is wrong is not passed by."""
    places = {choices.place_of("number"), choices.place_of("code")}
    above: str | None = None
    for row in rows:
        if "number" in row.values:
            above = row.values["number"]
        elif places & row.faults.keys():
            above = None
        elif above is not None:
            row.values["number"] = above
            row.notes.append(f"goes with job {above} above")


def _give_letters(rows: list[Row]) -> None:
    """In the order of the rows, so that the same table brought in again means the same pieces."""
    used: dict[str, set[str]] = {}
    for row in rows:
        if {"number", "letter"} <= row.values.keys():
            used.setdefault(row.values["number"], set()).add(row.values["letter"])
    for row in rows:
        number = row.values.get("number")
        if number is None or "letter" in row.values or not row.has_piece:
            continue
        taken = used.setdefault(number, set())
        letter = next(text for place in count() if (text := letters_of(place)) not in taken)
        taken.add(letter)
        row.values["letter"] = letter
        row.notes.append(f"is {number}-{letter}")


def _read(row: Row, at: int, text: str, column: Column, names: Names) -> None:
    try:
        row.values[column.field] = read_cell(text, column, names)
    except ValueError as error:
        row.faults[at] = str(error)


def _split_code(row: Row, choices: Choices) -> None:
    code = row.values.pop("code", None)
    if code is None:
        return
    place = choices.place_of("code")
    assert place is not None
    number, _, letter = code.partition("-")
    for key, part in (("number", number), ("letter", letter)):
        if row.values.setdefault(key, part) != part:
            row.faults[place] = (
                f"The code is {code}, but the row's {BY_KEY[key].header.lower()} is "
                f"{row.values[key]}. Correct whichever is wrong."
            )


def fault_at(row: Row, choices: Choices, key: str, words: str) -> None:
    """At the column that gives `key`; where there is none, at the row."""
    place = choices.place_of(key)
    if place is None and key in {"number", "letter"}:
        place = choices.place_of("code")
    at = ROW if place is None else place
    named = words if place is not None else f"{BY_KEY[key].header}: {words}"
    row.faults[at] = f"{row.faults[at]} {named}" if at in row.faults else named


def defaults_of(choices: Choices, names: Names) -> Mapping[str, Any]:
    """What a piece or job is given that no cell says: rows of the shop, metres, a day."""
    found = dict(choices.defaults)
    for key in CHOICES:
        found[key] = names.by_pk(key, found.get(key))
    if taken_on := found.get("taken_on"):
        found["taken_on"] = dt.date.fromisoformat(taken_on)
    return {key: value for key, value in found.items() if value is not None}


def without_prices(choices: Choices, *, prices: bool) -> Choices:
    if prices:
        return choices
    columns = tuple(Column() if c.field == "price" else c for c in choices.columns)
    return replace(choices, columns=columns)
