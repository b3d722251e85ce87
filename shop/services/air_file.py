"""A file of readings as somebody's logger wrote it: decoded, split, and read row by row.

What concerns the whole file (no such column, not text) is refused at once; what concerns a row
is said at that row. Nothing here touches the database.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
import statistics
import zoneinfo
from collections.abc import Iterator
from dataclasses import dataclass, replace

from shop.localtime import NoSuchTime, TwiceThatTime, to_utc
from shop.models import Room
from shop.services.air_limits import (
    humidity_fault,
    looks_like_fahrenheit,
    temperature_fault,
    time_fault,
    to_celsius,
)
from shop.services.errors import Refused

ROWS_LIMIT = 200_000
OLDEST = dt.timedelta(days=3653)
COLUMNS = ("time", "celsius", "fahrenheit", "humidity")
DELIMITERS = ",;\t"
ISO_TIME = re.compile(
    r"\d{4}-\d{2}-\d{2}[T ]\d{1,2}:\d{2}(:\d{2}(\.\d{1,6})?)?\s*(Z|[+-]\d{2}:?\d{2})?"
)
NUMBER = re.compile(r"[+\-−]?(\d+([.,]\d+)?|[.,]\d+)")


@dataclass(frozen=True)
class Wording:
    """What the columns mean where they don't say it themselves."""

    zone: zoneinfo.ZoneInfo
    humidity_is_fraction: bool = False


@dataclass(frozen=True)
class FileRow:
    """One row: what was written, and either a reading or why there is none."""

    line: int
    time: str
    temperature: str
    humidity: str
    at: dt.datetime | None = None
    celsius: float | None = None
    fraction: float | None = None
    fault: str = ""


class _Fault(ValueError):
    """What is wrong with one row and what to do about it."""


def read_file(content: bytes, *, room: Room, wording: Wording, now: dt.datetime) -> list[FileRow]:
    lines = _lines(_text(content))
    header_line, header = next(lines, (0, []))
    reader = _Reader(_columns(header), room, wording, now)
    rows: list[FileRow] = []
    for line, cells in lines:
        if len(rows) >= ROWS_LIMIT:
            raise Refused(f"More than {ROWS_LIMIT:,} rows: split the file.", field="file")
        rows.append(reader.row(line, cells))
    if not rows:
        raise Refused(
            f"The file has a header in line {header_line} and no readings under it.", field="file"
        )
    return _without_fahrenheit(rows, room) if reader.scale == "celsius" else rows


def _text(content: bytes) -> str:
    if not content.strip():
        raise Refused("The file is empty.", field="file")
    encoding = "utf-16" if content[:2] in {b"\xff\xfe", b"\xfe\xff"} else "utf-8-sig"
    try:
        text = content.decode(encoding)
    except UnicodeDecodeError:
        text = content.decode("cp1252", errors="replace")
    if "\x00" in text or sum(not _plain(sign) for sign in text[:4000]) > 8:
        raise Refused(
            "This is not a text file. Save the sheet as CSV and upload that.", field="file"
        )
    return text


def _plain(sign: str) -> bool:
    return sign.isprintable() or sign in "\r\n\t"


def _lines(text: str) -> Iterator[tuple[int, list[str]]]:
    """Line number and cells of each line that has any."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = max(DELIMITERS, key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                yield reader.line_num, [cell.strip() for cell in cells]
    except csv.Error as error:
        raise Refused(
            f"Line {reader.line_num} cannot be split into columns ({error}).", field="file"
        ) from None


def _columns(header: list[str]) -> dict[str, int]:
    names = [name.lower() for name in header]
    unknown = [name[:30] for name in header if name.lower() not in COLUMNS]
    if unknown:
        raise Refused(
            f"Unknown column{'s' if len(unknown) > 1 else ''} in the first line: "
            f"{', '.join(repr(name) for name in unknown[:6])}. Name them time, celsius or "
            "fahrenheit, and humidity if there is one; take out the others.",
            field="file",
        )
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise Refused(f"The column {twice[0]!r} is there twice.", field="file")
    if "time" not in names:
        raise Refused("There is no column 'time'.", field="file")
    if ("celsius" in names) == ("fahrenheit" in names):
        raise Refused(
            "There must be one temperature column, named celsius or fahrenheit.", field="file"
        )
    return {name: place for place, name in enumerate(names)}


@dataclass(frozen=True)
class _Reader:
    columns: dict[str, int]
    room: Room
    wording: Wording
    now: dt.datetime

    @property
    def scale(self) -> str:
        return "celsius" if "celsius" in self.columns else "fahrenheit"

    def cell(self, cells: list[str], name: str) -> str:
        place = self.columns.get(name)
        return "" if place is None or place >= len(cells) else cells[place]

    def row(self, line: int, cells: list[str]) -> FileRow:
        time, temperature, humidity = (
            self.cell(cells, name) for name in ("time", self.scale, "humidity")
        )
        written = FileRow(line, time[:40], temperature[:20], humidity[:20])
        try:
            self._check_width(cells)
            at = _time(time, self.wording.zone)
            if fault := time_fault(at, self.now, OLDEST):
                raise _Fault(fault)
            celsius = _celsius(temperature, self.scale, self.room)
            fraction = _fraction(humidity, self.wording)
        except _Fault as fault:
            return replace(written, fault=str(fault))
        return replace(written, at=at, celsius=celsius, fraction=fraction)

    def _check_width(self, cells: list[str]) -> None:
        if len(cells) > len(self.columns):
            raise _Fault(
                f"{len(cells)} cells under {len(self.columns)} columns. With decimal commas, "
                "separate the columns by semicolons."
            )


def _time(text: str, zone: zoneinfo.ZoneInfo) -> dt.datetime:
    moment = _clock_time(text)
    try:
        return to_utc(moment, zone) if moment.tzinfo is None else moment.astimezone(dt.UTC)
    except NoSuchTime as error:
        raise _Fault(f"{error} Check the time zone chosen for this file.") from None
    except TwiceThatTime as error:
        first, second = (choice.astimezone(zone).isoformat() for choice in error.choices)
        raise _Fault(
            f"{moment:%H:%M} happens twice that night. Write {first} or {second}."
        ) from None
    except OverflowError:
        raise _Fault("No such time.") from None


def _clock_time(text: str) -> dt.datetime:
    if not text:
        raise _Fault("No time.")
    if not ISO_TIME.fullmatch(text):
        raise _Fault("Write the time like 2025-11-25 14:10 or 2025-11-25T14:10:00-06:00.")
    day, clock = text[:10], text[11:].replace(" ", "")
    hour, rest = clock.split(":", 1)  # some loggers write the morning with one digit
    try:
        return dt.datetime.fromisoformat(f"{day}T{hour:0>2}:{rest}")
    except ValueError as error:
        raise _Fault(f"No such time: {error}.") from None


def _number(text: str, what: str) -> float:
    if not NUMBER.fullmatch(text):
        raise _Fault(f"{what} {text[:20]!r} is not a number." if text else f"No {what.lower()}.")
    return float(text.replace(",", ".").replace("−", "-"))


def _celsius(text: str, scale: str, room: Room) -> float:
    number = _number(text, "Temperature")
    celsius = number if scale == "celsius" else to_celsius(number)
    if fault := temperature_fault(celsius, room, unit_is_sure=scale == "fahrenheit"):
        raise _Fault(fault)
    return celsius


def _fraction(text: str, wording: Wording) -> float | None:
    if not text:
        return None
    percent_sign = text.endswith("%")
    number = _number(text.removesuffix("%").strip(), "Humidity")
    if percent_sign or not wording.humidity_is_fraction:
        if 0 < number <= 1 and not percent_sign:
            raise _Fault(f"Humidity {text} looks like a fraction: choose that above.")
        number /= 100
    elif number > 1:
        raise _Fault(f"Humidity {text} looks like percent: choose that above.")
    if fault := humidity_fault(number):
        raise _Fault(fault)
    return number


def _without_fahrenheit(rows: list[FileRow], room: Room) -> list[FileRow]:
    """Where a celsius column is Fahrenheit, its cold nights would pass for hot days."""
    values = [
        float(row.temperature.replace(",", ".").replace("−", "-"))
        for row in rows
        if NUMBER.fullmatch(row.temperature)
    ]
    if not values or not looks_like_fahrenheit(statistics.median_low(values), room):
        return rows
    fault = (
        "The celsius column looks like Fahrenheit as a whole. If it is, name it fahrenheit and "
        "upload the file again."
    )
    return [
        replace(row, at=None, celsius=None, fraction=None, fault=row.fault or fault) for row in rows
    ]
