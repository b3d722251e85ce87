"""Readings and cases from files, for use from a shell. Every fault is named with its row."""

from __future__ import annotations

import csv
import datetime as dt
import math
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

HOUR = 3600.0
COLDEST, HOTTEST = -60.0, 100.0  # °C; concrete in a kiln included
KNOWN = {"time", "hours", "celsius", "fahrenheit", "humidity"}


class BadFile(ValueError):
    """What is wrong with a file and where; fit to be shown as it is."""


@dataclass(frozen=True)
class Table:
    """Readings of a file: hours since the first, °C, and the time column as it was written."""

    hours: list[float]
    celsius: list[float]
    labels: list[str]


def read_table(path: Path) -> Table:
    """Readings from a CSV file with `time` (ISO 8601 with its zone) or `hours`, and `celsius` or
    `fahrenheit`; a `humidity` column is left aside.

    Raises
    ------
    BadFile
        The file cannot be read, a column is unknown or missing, a time has no zone or runs back,
        a value is not a number or lies outside -60 to 100 °C.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise BadFile(f"{path}: {error}") from None
    reader = csv.DictReader(text.splitlines(), skipinitialspace=True)
    rows = [(reader.line_num, row) for row in reader]
    columns = {name.strip().lower(): name for name in reader.fieldnames or [] if name}
    _refuse_columns(path, columns, empty=not rows)
    clock = "time" if "time" in columns else "hours"
    degrees = "celsius" if "celsius" in columns else "fahrenheit"
    absolute: list[float] = []
    celsius: list[float] = []
    labels: list[str] = []
    for number, row in rows:
        if None in row:
            raise BadFile(f"{path}, row {number}: more values than the header has columns")
        label = (row[columns[clock]] or "").strip()
        absolute.append(_hours(path, number, label, clock))
        celsius.append(_celsius(path, number, (row[columns[degrees]] or "").strip(), degrees))
        labels.append(label)
        if len(absolute) > 1 and absolute[-1] < absolute[-2]:
            raise BadFile(f"{path}, row {number}: time runs back ({labels[-2]} to {label})")
    return Table([moment - absolute[0] for moment in absolute], celsius, labels)


def _refuse_columns(path: Path, columns: dict[str, str], *, empty: bool) -> None:
    if empty:
        raise BadFile(f"{path}: no rows below a header line such as 'time,celsius'")
    unknown = sorted(set(columns) - KNOWN)
    if unknown:
        raise BadFile(f"{path}: unknown column {', '.join(unknown)}; known are {sorted(KNOWN)}")
    if len({"time", "hours"} & set(columns)) != 1:
        raise BadFile(f"{path}: give one of the columns 'time' and 'hours'")
    if len({"celsius", "fahrenheit"} & set(columns)) != 1:
        raise BadFile(f"{path}: give one of the columns 'celsius' and 'fahrenheit'")


def _hours(path: Path, number: int, text: str, column: str) -> float:
    try:
        if column == "hours":
            return _number(text)
        moment = dt.datetime.fromisoformat(text)
    except ValueError:
        raise BadFile(f"{path}, row {number}: {text!r} is not a time") from None
    if moment.tzinfo is None:
        raise BadFile(
            f"{path}, row {number}: {text!r} has no time zone; write one, like {text}-06:00"
        )
    return moment.timestamp() / HOUR


def _celsius(path: Path, number: int, text: str, column: str) -> float:
    try:
        value = _number(text)
    except ValueError:
        raise BadFile(f"{path}, row {number}: {text!r} is not a temperature") from None
    degrees = (value - 32.0) / 1.8 if column == "fahrenheit" else value
    if not COLDEST <= degrees <= HOTTEST:
        raise BadFile(
            f"{path}, row {number}: {value:g} in column {column} is {degrees:.0f} °C, outside "
            f"{COLDEST:.0f} to {HOTTEST:.0f} °C; is the unit right?"
        )
    return degrees


def _number(text: str) -> float:
    value = float(text.replace(",", "."))
    if not math.isfinite(value):
        raise ValueError(text)
    return value


def read_case(path: Path) -> dict[str, Any]:
    """A case as the TOML file has it. BadFile where it cannot be read."""
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise BadFile(f"{path}: {error}") from None
