"""Who does what, a day at a time: what the crew goes by, on the screen and on paper."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from jobs.plan.axis import Axis, AxisDay
from jobs.plan.missing import Missing
from jobs.services.plan_shown import PersonLoad, PlaceLoad, Shown, Stay, Work


@dataclass(frozen=True)
class Hours:
    used: float
    there: float

    @property
    def percent(self) -> int:
        return round(100 * min(1.0, self.used / self.there)) if self.there else 0


@dataclass(frozen=True)
class PersonDay:
    name: str
    works: tuple[Work, ...]
    hours: Hours
    missing: bool = False  # not there: whatever stands here, they do not do it


@dataclass(frozen=True)
class PlanDay:
    day: AxisDay
    people: tuple[PersonDay, ...]
    casts: tuple[Work, ...]
    leaving: tuple[Work, ...]
    works: tuple[Work, ...]
    past: bool

    @property
    def idle(self) -> bool:
        return not self.works


def days_of(shown: Shown, axis: Axis, missing: Iterable[Missing] = ()) -> list[PlanDay]:
    absent = {(row.name, day) for row in missing for day in row.days}
    by_day: dict[dt.date, list[Work]] = defaultdict(list)
    for work in shown.works:
        by_day[axis.day_of(work.starts)].append(work)
    index = {axis.day_of(moment): n for n, moment in enumerate(shown.load.days)}
    today = axis.day_of(axis.now)
    return [
        PlanDay(
            day=day,
            people=tuple(
                replace(row, missing=(row.name, day.day) in absent)
                for row in _people(shown.load.people, works, index.get(day.day))
            ),
            casts=tuple(work for work in works if work.kind == "cast"),
            leaving=tuple(work for work in works if work.kind in {"deliver", "install"}),
            works=tuple(works),
            past=day.day < today,
        )
        for day in axis.days
        for works in [by_day.get(day.day, [])]
    ]


def _people(
    rows: Iterable[PersonLoad], works: list[Work], index: int | None
) -> Iterable[PersonDay]:
    for row in rows:
        mine = tuple(work for work in works if row.name in work.people)
        hours = Hours(row.used[index], row.there[index]) if index is not None else Hours(0, 0)
        if mine or hours.there:
            yield PersonDay(row.name, mine, hours)


@dataclass(frozen=True)
class Cell:
    percent: int
    words: str
    off: bool = False


@dataclass(frozen=True)
class LoadRow:
    name: str
    what: str
    cells: tuple[Cell, ...]


def load_rows(shown: Shown, axis: Axis) -> list[LoadRow]:
    """How full the shop is, a row for each table, station and person, a column a day."""
    index = {axis.day_of(moment): n for n, moment in enumerate(shown.load.days)}
    columns = [index.get(day.day) for day in axis.days]
    rows = [_place(row, columns) for row in shown.load.places]
    return rows + [_person(row, columns, axis.days) for row in shown.load.people]


def _place(row: PlaceLoad, columns: list[int | None]) -> LoadRow:
    cells = []
    for n in columns:
        if n is None:
            cells.append(Cell(0, "", off=True))
            continue
        fill = row.days[n]
        if row.kind == "table":
            cells.append(Cell(round(100 * fill.share), f"{100 * fill.share:.0f} %"))
        elif row.kind == "rack":
            share = round(100 * min(1.0, fill.peak / fill.room))
            cells.append(Cell(share, f"{fill.peak} of {fill.room}"))
        else:
            cells.append(Cell(round(100 * min(1.0, fill.hours / 8)), f"{fill.hours:g} h"))
    what = {"table": "of its area, all day and night", "rack": "places, at the most"}
    return LoadRow(row.name, what.get(row.kind, "in use"), tuple(cells))


def _person(row: PersonLoad, columns: list[int | None], days: Sequence[AxisDay]) -> LoadRow:
    cells = []
    for n, day in zip(columns, days, strict=True):
        if n is None or not row.there[n]:
            cells.append(Cell(0, "" if n is None else day.why_not(row.name), off=True))
            continue
        hours = Hours(row.used[n], row.there[n])
        left = " left" if day.today else ""  # what is past of it is not counted
        cells.append(Cell(hours.percent, f"{hours.used:g} of {hours.there:g} h{left}"))
    return LoadRow(row.name, "at work", tuple(cells))


def stays_by_place(stays: Iterable[Stay], axis: Axis) -> list[tuple[str, list[Stay]]]:
    found: dict[str, list[Stay]] = defaultdict(list)
    for stay in stays:
        if stay.kind == "table" and axis.touches(stay.begins, stay.ends):
            found[stay.place].append(stay)
    return [(name, sorted(rows, key=lambda s: s.begins)) for name, rows in sorted(found.items())]
