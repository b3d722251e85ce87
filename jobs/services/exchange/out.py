"""Jobs and pieces taken out as one table that can be brought in again without loss.

One row a piece, the job's own columns repeated; a job without pieces has one row. Measures are in
the shop's units with all their digits, the unit in the header's brackets.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from django.db.models import Prefetch, QuerySet

from jobs.models import Job, Piece
from jobs.services.errors import Refused
from jobs.services.exchange.fields import CUSTOMER, JOB, Field, offered
from jobs.services.exchange.shapes import A_CELL, write_shape
from jobs.services.exchange.units import UNITS, own_unit, written
from jobs.services.exchange.writing import as_csv, as_xlsx
from jobs.services.facts import open_jobs
from shop.models import Shop

OPEN, ALL, DAYS = "open", "all", "days"
SHEET = "Jobs and pieces"


@dataclass(frozen=True)
class Wanted:
    """Which jobs: open ones, all, or those whose `by` day lies from `since` to `until`."""

    which: str = OPEN
    by: str = "promised_on"
    since: dt.date | None = None
    until: dt.date | None = None

    def jobs(self) -> QuerySet[Job]:
        if self.which == OPEN:
            return open_jobs()
        jobs = Job.objects.all()
        if self.which == ALL:
            return jobs
        jobs = jobs.filter(**{f"{self.by}__isnull": False})
        if self.since:
            jobs = jobs.filter(**{f"{self.by}__gte": self.since})
        if self.until:
            jobs = jobs.filter(**{f"{self.by}__lte": self.until})
        return jobs


@dataclass(frozen=True)
class Cell:
    """As text, to the last digit; and as what a workbook keeps."""

    text: str
    value: Any


def csv_out(wanted: Wanted, shop: Shop, *, prices: bool) -> bytes:
    fields, rows = _table(wanted, shop, prices=prices)
    texts = ([cell.text for cell in row] for row in rows)
    return as_csv(headers_of(fields, shop), texts)


def xlsx_out(wanted: Wanted, shop: Shop, *, prices: bool) -> bytes:
    fields, rows = _table(wanted, shop, prices=prices)
    values = ([cell.value for cell in row] for row in rows)
    return as_xlsx(headers_of(fields, shop), values, SHEET)


def headers_of(fields: tuple[Field, ...], shop: Shop) -> list[str]:
    return [
        f"{about.header} [{own_unit(about.kind, shop)}]" if about.kind in UNITS else about.header
        for about in fields
    ]


def _table(
    wanted: Wanted, shop: Shop, *, prices: bool
) -> tuple[tuple[Field, ...], Iterator[list[Cell]]]:
    """Three queries, however many jobs there are."""
    pieces = Piece.objects.select_related("room", "mix", "route", "sealer").order_by("letter")
    jobs = list(
        wanted.jobs()
        .select_related("customer")
        .prefetch_related(Prefetch("pieces", pieces))
        .order_by("number")
    )
    shapes = [(piece, write_shape(piece.shape)) for job in jobs for piece in job.pieces.all()]
    longest = max((len(text) for _, text in shapes), default=0)
    too_long = next((piece for piece, text in shapes if len(text) > 2 * A_CELL), None)
    if too_long:
        raise Refused(
            f"The shape of {too_long.code} is too long for a table's cell. Take it out as DXF on "
            "the piece's page, and narrow the choice here to leave its job out."
        )
    hidden = {"code"} if longest > A_CELL else {"code", "shape_more"}
    fields = tuple(about for about in offered(prices=prices) if about.key not in hidden)
    return fields, _rows(jobs, fields, shop)


def _rows(jobs: list[Job], fields: tuple[Field, ...], shop: Shop) -> Iterator[list[Cell]]:
    writers = [(about, _writer(about, shop)) for about in fields]
    for job in jobs:
        pieces: list[Piece | None] = [*job.pieces.all()]
        for piece in pieces or [None]:
            yield [_cell(job, piece, about, write) for about, write in writers]


def _cell(job: Job, piece: Piece | None, about: Field, write: Callable[[Any], Cell]) -> Cell:
    row = {JOB: job, CUSTOMER: job.customer}.get(about.of, piece)
    if row is None:
        return Cell("", None)
    value = SPECIAL[about.key](row) if about.key in SPECIAL else getattr(row, about.name)
    return Cell("", None) if value is None or value == "" else write(value)


def _side(name: str) -> Callable[[Any], Any]:
    return lambda piece: (piece.shape or {}).get(name)


SPECIAL: dict[str, Callable[[Any], Any]] = {
    "length": _side("length"),
    "width": _side("width"),
    "shape": lambda piece: write_shape(piece.shape)[:A_CELL],
    "shape_more": lambda piece: write_shape(piece.shape)[A_CELL:],
}


def _writer(about: Field, shop: Shop) -> Callable[[Any], Cell]:
    if about.kind in UNITS:
        factor = UNITS[about.kind][own_unit(about.kind, shop)]
        return lambda value: _measure(value, factor)
    return WRITERS.get(about.kind, lambda value: Cell(str(value), str(value)))


def _measure(value: float, factor: Fraction) -> Cell:
    return Cell(written(float(value), factor), float(Fraction(value) / factor))


WRITERS: dict[str, Callable[[Any], Cell]] = {
    "day": lambda value: Cell(value.isoformat(), value),
    "clock": lambda value: Cell(_clock(value), value),
    "moment": lambda value: Cell(value.isoformat(), value.isoformat()),
    "whole": lambda value: Cell(str(value), int(value)),
    "money": lambda value: Cell(format(value, "f"), float(value)),
    "yes_no": lambda value: Cell(*(["yes" if value else "no"] * 2)),
    "choice": lambda value: Cell(value.name, value.name),
}


def _clock(value: dt.time) -> str:
    return value.isoformat() if value.second or value.microsecond else value.strftime("%H:%M")
