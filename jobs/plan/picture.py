"""The week drawn: beds seen from above with what lies on them, the racks filling, and a thread for
each station and person with a knot at each piece of work."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from django.utils import timezone

from jobs.plan.axis import Axis
from jobs.services.plan_shown import Shown, Stay, Work

BED = 54.0  # height of a whole table [px]
LEAST = 9.0  # a small piece must still be seen
RACK = 34.0
LETTER = 0.52  # width of a letter, in percent of the picture's usual width
SIGNS = {"form": "other", "cast": "cast", "demold": "demold", "grind": "grind", "fill": "fill",
         "hone": "hone", "coat": "coat", "crate": "crate", "deliver": "deliver",
         "install": "install"}  # fmt: skip
CROWDED = 1.9  # knots nearer than this [percent] share one sign


@dataclass(frozen=True)
class Slab:
    """A piece on a bed: its form from `x` on, concrete from `cast_x` on."""

    code: str
    x: float
    width: float
    y: float
    height: float
    cast_x: float | None
    cast_width: float
    label: str
    said: str
    title: str


@dataclass(frozen=True)
class Bed:
    name: str
    height: float
    slabs: tuple[Slab, ...]
    share: int  # percent of the bed's hours this week that something lies on, by area


@dataclass(frozen=True)
class Racks:
    name: str
    height: float
    points: str
    peak: int
    room: int


@dataclass(frozen=True)
class Knot:
    x: float
    width: float
    sign: str
    many: int
    title: str
    pinned: bool
    show: bool  # its sign: not where the one before it stands too near


@dataclass(frozen=True)
class Span:
    x: float
    width: float


@dataclass(frozen=True)
class Thread:
    name: str
    kind: str
    knots: tuple[Knot, ...]
    runs: tuple[Span, ...]  # a line through each day, from the first piece of work to the last
    said: str


@dataclass(frozen=True)
class Picture:
    beds: tuple[Bed, ...]
    racks: tuple[Racks, ...]
    stations: tuple[Thread, ...]
    people: tuple[Thread, ...]

    @property
    def empty(self) -> bool:
        return not any(
            [*(bed.slabs for bed in self.beds), *(t.knots for t in (*self.stations, *self.people))]
        )


def picture_of(shown: Shown, axis: Axis) -> Picture:
    stays = [stay for stay in shown.stays if axis.touches(stay.begins, stay.ends)]
    works = [work for work in shown.works if axis.touches(work.starts, work.ends)]
    beds, racks, stations = [], [], []
    for name, kind in shown.places:
        mine = [stay for stay in stays if stay.place == name]
        if kind == "table":
            beds.append(_bed(name, mine, axis))
        elif kind == "rack":
            room = next(row.days[0].room for row in shown.load.places if row.name == name)
            racks.append(_racks(name, mine, room, axis))
        else:
            own = [work for work in works if name in work.places]
            stations.append(_thread(name, kind, own, axis))
    people = [
        _thread(
            row.name,
            "people",
            [work for work in works if row.name in work.people],
            axis,
            away_words(row.name, axis),
        )
        for row in shown.load.people
    ]
    return Picture(tuple(beds), tuple(racks), tuple(stations), tuple(people))


def _bed(name: str, stays: Sequence[Stay], axis: Axis) -> Bed:
    placed: list[tuple[Stay, float, float]] = []
    for stay in sorted(stays, key=lambda each: (each.begins, each.code)):
        height = max(LEAST, BED * min(1.0, stay.share))
        near = sorted(
            (y, y + tall)
            for other, y, tall in placed
            if other.begins < stay.ends and stay.begins < other.ends
        )
        y = 0.0
        for begin, end in near:
            if y + height <= begin:
                break
            y = max(y, end)
        placed.append((stay, y, height))
    tall = max([BED, *(y + height for _, y, height in placed)])
    return Bed(name, tall, tuple(_slab(*row, axis) for row in placed), _share(stays, axis))


def _slab(stay: Stay, y: float, height: float, axis: Axis) -> Slab:
    x, end = axis.x(stay.begins), axis.x(stay.ends)
    cast_at = stay.cast_at
    cast_x = axis.x(cast_at) if cast_at and cast_at < axis.ends else None
    room = end - (cast_x if cast_x is not None else x)
    fits = len(stay.code) * LETTER < room and height >= LEAST + 3
    poured = f", cast {_clock(cast_at)}" if cast_at else ""
    return Slab(
        code=stay.code,
        x=x,
        width=round(max(0.2, end - x), 3),
        y=round(y, 1),
        height=round(height - 1.5, 1),
        cast_x=cast_x,
        cast_width=round(max(0.2, end - cast_x), 3) if cast_x is not None else 0.0,
        label=stay.code if fits else "",
        said=f"{_clock(stay.begins)} to {_clock(stay.ends)}",
        title=f"{stay.code}: on {stay.place} {_clock(stay.begins)} to {_clock(stay.ends)}{poured}",
    )


def _share(stays: Iterable[Stay], axis: Axis) -> int:
    whole = axis.ends - axis.starts
    taken = sum(
        (min(s.ends, axis.ends) - max(s.begins, axis.starts)) / whole * s.share for s in stays
    )
    return round(100 * taken)


def _racks(name: str, stays: Sequence[Stay], room: int, axis: Axis) -> Racks:
    """A silhouette: as high as places are taken."""
    edges = sorted({axis.starts, axis.ends, *(m for s in stays for m in (s.begins, s.ends))})
    edges = [edge for edge in edges if axis.starts <= edge <= axis.ends]
    points, peak = [f"0,{RACK:g}"], 0
    for begin, end in pairwise(edges):
        there = sum(s.amount for s in stays if s.begins <= begin < s.ends)
        peak = max(peak, there)
        y = RACK - (RACK - 2) * min(1.0, there / room)
        points += [f"{10 * axis.x(begin):.1f},{y:.1f}", f"{10 * axis.x(end):.1f},{y:.1f}"]
    points.append(f"1000,{RACK:g}")
    return Racks(name, RACK, " ".join(points), peak, room)


def away_words(name: str, axis: Axis) -> str:
    """', away Fri'; of the days that are past nothing is said."""
    today = axis.day_of(axis.now)
    days = [day for day in axis.days if day.day >= today and day.staffed and name in day.gone.away]
    if len(days) > 2:
        return f", away {len(days)} days"
    return f", away {' and '.join(f'{day.day:%a}' for day in days)}" if days else ""


def _thread(name: str, kind: str, works: Sequence[Work], axis: Axis, gone: str = "") -> Thread:
    knots: list[Knot] = []
    days: dict[dt.date, tuple[float, float]] = {}
    last = -10.0
    for work in sorted(works, key=lambda each: each.starts):
        x, end = axis.x(work.starts), axis.x(work.ends)
        middle = (x + end) / 2
        show = middle - last >= CROWDED
        last = middle if show else last
        knots.append(
            Knot(
                x=x,
                width=round(max(0.25, end - x), 3),
                sign=SIGNS.get(work.kind, "other"),
                many=len(work.codes),
                title=f"{_clock(work.starts)} {work.said}",
                pinned=work.pinned,
                show=show,
            )
        )
        day = axis.day_of(work.starts)
        first, until = days.get(day, (x, end))
        days[day] = (min(first, x), max(until, end))
    runs = tuple(Span(x, round(end - x, 3)) for x, end in days.values())
    hours = sum(((w.ends - w.starts) / dt.timedelta(hours=1) for w in works), 0.0)
    return Thread(name, kind, tuple(knots), runs, f"{hours:g} h{gone}")


def _clock(moment: dt.datetime) -> str:
    local = timezone.localtime(moment)
    return f"{local:%a} {local.day} {local:%b} {local:%H:%M}"
