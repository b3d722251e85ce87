"""A room's temperature over the week: measured, then expected, with holes in the readings shown."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np
import numpy.typing as npt

from curing.climate import Climate
from jobs.board.week import DAY, Week
from shop.localtime import from_hours, to_hours
from shop.measures import words
from shop.models import Room, Shop

Floats = npt.NDArray[np.float64]

EVERY_HOURS = 1 / 3
# The drawing's own box; it is stretched to the screen's width, its strokes are not.
BOX_WIDTH, HEIGHT, MARGIN = 1000.0, 42.0, 12.0
LEAST_SPAN = 6.0  # K; a steady room's line does not tremble over the full height


@dataclass(frozen=True)
class Course:
    """A stretch of the line that is measured, expected, or bridged over a hole."""

    kind: str
    points: str


@dataclass(frozen=True)
class Extreme:
    x: float
    y: float
    text_y: float
    text: str
    anchor: str


@dataclass(frozen=True)
class DayAir:
    day: dt.date
    lowest: float
    highest: float
    mean: float
    measured: int  # percent of the day's hours


@dataclass(frozen=True)
class RoomAir:
    room_id: int
    name: str
    courses: list[Course]
    lowest: Extreme
    highest: Extreme
    now_celsius: float | None
    now_measured: bool
    last_measured: dt.datetime | None
    holes: list[tuple[dt.datetime, dt.datetime]]
    days: list[DayAir]
    height: float = HEIGHT

    @property
    def basis(self) -> str:
        """What the week's line rests on, where it has no present moment."""
        kinds = {course.kind for course in self.courses}
        if kinds == {"expected"}:
            return "expected"
        return "measured, then expected" if "expected" in kinds else "measured"


@dataclass(frozen=True)
class Scale:
    coldest: float
    span: float

    def y(self, celsius: float) -> float:
        share = (celsius - self.coldest) / self.span
        return HEIGHT - MARGIN - share * (HEIGHT - 2 * MARGIN)


@dataclass(frozen=True)
class Paper:
    """What all rooms of one drawing share. One scale, so that a cold room looks cold."""

    week: Week
    now: dt.datetime
    shop: Shop
    grid: Floats
    scale: Scale

    def point(self, number: int, celsius: float) -> str:
        across = number / (len(self.grid) - 1) * BOX_WIDTH
        return f"{across:.1f},{self.scale.y(celsius):.1f}"


def room_airs(
    rooms: Sequence[Room],
    climates: Mapping[int, Climate],
    week: Week,
    *,
    now: dt.datetime,
    shop: Shop,
) -> list[RoomAir]:
    grid = hours_of(week)
    curves = {room.pk: np.asarray(climates[room.pk].celsius_at(grid)) for room in rooms}
    paper = Paper(week, now, shop, grid, scale_of(curves.values()))
    return [_room(room, climates[room.pk], curves[room.pk], paper) for room in rooms]


def hours_of(week: Week) -> Floats:
    first, last = to_hours(week.starts), to_hours(week.ends)
    return np.linspace(first, last, round((last - first) / EVERY_HOURS) + 1)


def scale_of(curves: Iterable[Floats]) -> Scale:
    together = np.concatenate([*curves, np.array([])])
    if not together.size:
        return Scale(15.0, LEAST_SPAN)
    low, high = float(together.min()), float(together.max())
    span = max(high - low, LEAST_SPAN)
    return Scale((low + high - span) / 2, span)


def _room(room: Room, climate: Climate, celsius: Floats, paper: Paper) -> RoomAir:
    shows_now = paper.week.holds(paper.now)
    last = climate.last_measured
    return RoomAir(
        room_id=room.pk,
        name=room.name,
        courses=list(courses(climate, celsius, paper)),
        lowest=_extreme(int(celsius.argmin()), celsius, paper, below=True),
        highest=_extreme(int(celsius.argmax()), celsius, paper, below=False),
        now_celsius=float(climate.celsius_at(to_hours(paper.now))) if shows_now else None,
        now_measured=not climate.stale,
        last_measured=None if last is None else from_hours(last),
        holes=[
            (from_hours(start), from_hours(end))
            for start, end in climate.gaps
            if end > paper.grid[0] and start < paper.grid[-1]
        ],
        days=list(_days(climate, celsius, paper)),
    )


def kind_at(climate: Climate, hour: float) -> str:
    if climate.last_measured is None or hour > climate.last_measured:
        return "expected"
    if any(start < hour < end for start, end in climate.gaps):
        return "bridged"
    return "measured"


def courses(climate: Climate, celsius: Floats, paper: Paper) -> Iterator[Course]:
    """Each stretch starts where the one before ended, so that the line has no holes of its own."""
    points = [paper.point(number, float(value)) for number, value in enumerate(celsius)]
    place = 0
    kinds = (kind_at(climate, float(hour)) for hour in paper.grid)
    for kind, stretch in groupby(kinds):
        length = sum(1 for _ in stretch)
        yield Course(kind, " ".join(points[max(0, place - 1) : place + length]))
        place += length


def _extreme(place: int, celsius: Floats, paper: Paper, *, below: bool) -> Extreme:
    x = paper.week.clipped(from_hours(float(paper.grid[place])))
    value = float(celsius[place])
    y = paper.scale.y(value)
    return Extreme(
        x=round(x, 2),
        y=round(y, 1),
        text_y=round(y + 11 if below else y - 3.5, 1),
        text=words(value, "temperature", paper.shop),
        anchor="start" if x < 12 else "end" if x > 88 else "middle",
    )


def _days(climate: Climate, celsius: Floats, paper: Paper) -> Iterator[DayAir]:
    week = paper.week
    for day in week.days:
        start, end = (to_hours(week.midnight(edge)) for edge in (day, day + DAY))
        values = celsius[(paper.grid >= start) & (paper.grid <= end)]
        yield DayAir(
            day=day,
            lowest=float(values.min()),
            highest=float(values.max()),
            mean=float(values.mean()),
            measured=round(100 * float(climate.measured_share(start, end))),
        )
