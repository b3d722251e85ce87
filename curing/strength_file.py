"""Strength tests from a file, for use from a shell. Every fault is named with its row."""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from curing.calibration import StrengthTest
from curing.files import COLDEST, HOTTEST, BadFile
from curing.specimens import Kind
from curing.strength import DAY, PSI

LONGEST = 3.0 * 365.0 * DAY  # h
STRONGEST = 250.0  # MPa

# column -> factor to h and to MPa
AGES = {"hours": 1.0, "days": DAY}
STRENGTHS = {"mpa": 1.0, "psi": PSI}
DEGREES: dict[str, Callable[[float], float]] = {
    "celsius": lambda degrees: degrees,
    "fahrenheit": lambda degrees: (degrees - 32.0) / 1.8,
}
# Also taken, as people write them.
MEANT = {"age_hours": "hours", "age_days": "days"}
KNOWN = {*AGES, *STRENGTHS, *DEGREES, "kind", "note"}


@dataclass(frozen=True)
class StrengthTable:
    """Tests of a file, and the unit of strength that it is written in: 'mpa' or 'psi'."""

    tests: list[StrengthTest]
    unit: str


@dataclass(frozen=True)
class _Columns:
    age: str
    strength: str
    degrees: str  # empty: the ages are taken as hours at 20 °C
    names: dict[str, str]  # as meant -> as written

    def text(self, row: dict[str, str], column: str) -> str:
        return (row.get(self.names.get(column, "")) or "").strip()


def read_strengths(path: Path) -> StrengthTable:
    """Tests from a CSV file with `hours` or `days`, and `mpa` or `psi`; if wanted `celsius` or
    `fahrenheit` of curing, `kind` (cube, cylinder, coupon; empty is cube) and a `note`, left aside.

    A row without a temperature has its age taken as hours at 20 °C.

    Raises
    ------
    BadFile
        The file cannot be read, a column is unknown, missing or given twice, or a value is not a
        number, not above 0, or beyond 3 years, 250 MPa or -60 to 100 °C.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise BadFile(f"{path}: {error}") from None
    reader = csv.DictReader(text.splitlines(), skipinitialspace=True)
    try:
        rows = [(reader.line_num, row) for row in reader]
    except csv.Error as error:
        raise BadFile(f"{path}, row {reader.line_num}: {error}") from None
    columns = _columns(path, [name for name in reader.fieldnames or [] if name and name.strip()])
    if not rows:
        raise BadFile(f"{path}: no rows below the header line")
    return StrengthTable([_test(path, *row, columns) for row in rows], columns.strength)


def _columns(path: Path, written: list[str]) -> _Columns:
    names: dict[str, str] = {}
    for name in written:
        plain = name.strip().lower()
        meant = MEANT.get(plain, plain)
        if meant in names:
            raise BadFile(f"{path}: the column {plain!r} is there twice")
        names[meant] = name
    unknown = sorted(set(names) - KNOWN)
    if unknown:
        raise BadFile(f"{path}: unknown column {', '.join(unknown)}; known are {sorted(KNOWN)}")
    return _Columns(
        age=_one_of(path, names, list(AGES)),
        strength=_one_of(path, names, list(STRENGTHS)),
        degrees=_one_of(path, names, list(DEGREES), optional=True),
        names=names,
    )


def _one_of(
    path: Path, names: dict[str, str], offered: list[str], *, optional: bool = False
) -> str:
    given = [name for name in offered if name in names]
    if len(given) > 1 or not (given or optional):
        raise BadFile(
            f"{path}: give one of the columns {' and '.join(map(repr, offered))}, "
            "in a header line such as 'hours,mpa,celsius,kind'"
        )
    return given[0] if given else ""


def _test(path: Path, number: int, row: dict[str, str], columns: _Columns) -> StrengthTest:
    if None in row:
        raise BadFile(f"{path}, row {number}: more values than the header has columns")
    where = f"{path}, row {number}"
    hours = _above_zero(where, "an age", columns.text(row, columns.age)) * AGES[columns.age]
    mpa = _above_zero(where, "a strength", columns.text(row, columns.strength))
    mpa *= STRENGTHS[columns.strength]
    if hours > LONGEST:
        raise BadFile(f"{where}: an age of {hours / DAY:,.0f} days; is the unit right?")
    if mpa > STRONGEST:
        raise BadFile(
            f"{where}: {mpa / STRENGTHS[columns.strength]:g} in column {columns.strength} is "
            f"{mpa:.0f} MPa; is the unit right?"
        )
    celsius = _celsius(where, columns.text(row, columns.degrees), columns.degrees)
    return StrengthTest(hours, mpa, _kind(where, columns.text(row, "kind")), celsius)


def _above_zero(where: str, what: str, text: str) -> float:
    value = _number(where, what, text)
    if not 0 < value < float("inf"):
        raise BadFile(f"{where}: {text!r} is not {what} above 0")
    return value


def _number(where: str, what: str, text: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise BadFile(f"{where}: {text!r} is not {what}") from None


def _celsius(where: str, text: str, column: str) -> float | None:
    if not text:
        return None
    degrees = DEGREES[column](_number(where, "a temperature", text))
    if not COLDEST <= degrees <= HOTTEST:
        raise BadFile(
            f"{where}: {text} in column {column} is outside {COLDEST:.0f} to {HOTTEST:.0f} °C; "
            "is the unit right?"
        )
    return degrees


def _kind(where: str, text: str) -> Kind:
    try:
        return Kind(text.lower() or Kind.CUBE)
    except ValueError:
        known = ", ".join(Kind)
        raise BadFile(f"{where}: no specimen {text!r}; there are: {known}") from None
