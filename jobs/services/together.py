"""Waiting pieces proposed as casts: what shares a mix, saves a run of the mixer and lies on the
room's tables, on the first day that has them free. A proposal, never a fact: nothing is written."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import groupby

from curing.runs import Mixer, Plan, plan_runs
from jobs.models import Batch, Piece
from jobs.services.casting import waiting_pieces
from jobs.services.laying import Box, Lay, Table, fits_one, lay
from jobs.services.pours import pours_of
from jobs.services.readiness import open_outlooks
from jobs.services.run_words import plan_note
from jobs.services.standing import standing_of
from jobs.shapes.sizes import turned_box
from jobs.shapes.stored import read
from shop.limit_words import LimitNote
from shop.models import CastingTable, Mix, Room, Shop
from shop.services.calendar import open_days

# All common practice, no source.
WALL = 0.05  # m around a piece, for the form's wall and a hand
DEPTH = 0.648  # m, 25 1/2 in: how deep a piece is taken to be of which only the area is known
NEAR = dt.timedelta(days=10)  # a piece holds its place on a rack no longer
AHEAD = dt.timedelta(days=42)
MOST = 8  # sets in one cast, so that every way of sharing the mixer is tried
DAY = dt.timedelta(days=1)


@dataclass
class Group:
    """Pieces for one cast.

    lay : on the tables of `day`; None where no table is entered, or no day has room
    too_large : pieces that fit no table of the room; guessed : those whose size is not known
    cast_by : of the piece that must be cast first; too_late : one that can't be in time any more
    """

    mix: Mix
    room: Room
    pieces: list[Piece]
    plan: Plan
    shop: Shop
    too_large: list[str] = field(default_factory=list)
    guessed: list[str] = field(default_factory=list)
    day: dt.date | None = None
    lay: Lay | None = None
    cast_by: dt.datetime | None = None
    too_late: list[str] = field(default_factory=list)

    @property
    def codes(self) -> str:
        return ", ".join(piece.code for piece in self.pieces)

    @property
    def promised_on(self) -> dt.date | None:
        return min((p.job.promised_on for p in self.pieces if p.job.promised_on), default=None)

    @property
    def kg(self) -> float:
        return sum(run.kg for run in self.plan.runs)

    @property
    def full(self) -> float:
        """Share of the runs' room that is used."""
        return self.kg / (len(self.plan.runs) * self.shop.mixer_kg) if self.plan.runs else 0.0

    @property
    def area_m2(self) -> float:
        return sum(piece.area_m2 for piece in self.pieces)

    @property
    def notes(self) -> list[LimitNote]:
        return [plan_note(note, self.shop) for note in self.plan.notes]

    @property
    def after_promise(self) -> bool:
        """The day is past the last casting time that keeps its promise."""
        zone = self.shop.zone
        return bool(self.day and self.cast_by and self.day > self.cast_by.astimezone(zone).date())

    @property
    def query(self) -> str:
        chosen = "&".join(f"pieces={piece.pk}" for piece in self.pieces)
        return f"{chosen}&day={self.day}" if self.day else chosen


@dataclass(frozen=True)
class Proposal:
    """groups : in the order of their promises; held : pieces on hold, which wait; tables : of all
    rooms"""

    groups: tuple[Group, ...]
    held: tuple[str, ...]
    tables: tuple[CastingTable, ...]


def propose(shop: Shop, now: dt.datetime) -> Proposal:
    """From pieces of open jobs for which no cast is set. Queries do not grow with pieces."""
    waiting = [piece for piece in waiting_pieces() if piece.batch_id is None]
    held = [piece for piece in waiting if standing_of(piece.marks.all()).hold]
    tables = tuple(CastingTable.objects.filter(in_use=True).select_related("room"))
    groups = grouped([piece for piece in waiting if piece not in held], tables, shop)
    _place(groups, tables, shop, now)
    latest = {p.piece_id: p.latest_cast for job in open_outlooks() for p in job.pieces}
    for group in groups:
        known = [latest[piece.pk] for piece in group.pieces if latest.get(piece.pk)]
        group.cast_by = min((at for at in known if at), default=None)
        group.too_late = [
            p.code
            for p in group.pieces
            if p.job.promised_on and p.pk in latest and latest[p.pk] is None
        ]
    return Proposal(tuple(groups), tuple(piece.code for piece in held), tables)


def grouped(pieces: Iterable[Piece], tables: Sequence[CastingTable], shop: Shop) -> list[Group]:
    """Sets that must stay together, joined where that saves a run and the tables take them."""
    ordered = sorted(pieces, key=lambda p: (p.job.promised_on or dt.date.max, p.code))
    groups: list[Group] = []
    for mine in _sets(ordered):
        beds = _beds(tables, mine[0].room_id)
        alone = _group(mine, shop, beds)
        joined = next((g for g in groups if _takes(g, alone, beds)), None)
        if joined is None:
            groups.append(alone)
            continue
        groups[groups.index(joined)] = _group(joined.pieces + mine, shop, beds)
    return sorted(groups, key=lambda group: group.promised_on or dt.date.max)


def _sets(ordered: Sequence[Piece]) -> list[list[Piece]]:
    """Pieces that are to match one another, or a piece alone; of one mix and room."""
    sets: dict[tuple[object, ...], list[Piece]] = {}
    for piece in ordered:
        name = f"job {piece.job_id}" if piece.matches_job else piece.code
        sets.setdefault((piece.mix_id, piece.room_id, name), []).append(piece)
    return list(sets.values())


def _group(pieces: list[Piece], shop: Shop, beds: Sequence[Table]) -> Group:
    boxes = {piece.code: box_of(piece) for piece in pieces}
    return Group(
        mix=pieces[0].mix,
        room=pieces[0].room,
        pieces=pieces,
        plan=plan_runs(pours_of(pieces, shop), Mixer(kg=shop.mixer_kg)),
        shop=shop,
        too_large=[code for code, box in boxes.items() if beds and not fits_one(box, beds)],
        guessed=[piece.code for piece in pieces if not piece.shape],
    )


def _takes(group: Group, other: Group, beds: Sequence[Table]) -> bool:
    if (group.mix.pk, group.room.pk) != (other.mix.pk, other.room.pk):
        return False
    if len(_sets(group.pieces)) >= MOST or not _near(group, other):
        return False
    pieces = group.pieces + other.pieces
    if beds and lay(_boxes(pieces, beds), beds).left:
        return False
    both = plan_runs(pours_of(pieces, group.shop), Mixer(kg=group.shop.mixer_kg))
    return len(both.runs) < len(group.plan.runs) + len(other.plan.runs)


def _near(group: Group, other: Group) -> bool:
    """Promises that lie near one another; without a promise a piece waits for its like."""
    one, two = group.promised_on, other.promised_on
    if one is None or two is None:
        return one is two
    return abs(two - one) <= NEAR


def box_of(piece: Piece) -> Box:
    """The smallest rectangle around it, turned as it may be, with its form's walls."""
    length = piece.area_m2 / min(DEPTH, math.sqrt(piece.area_m2))
    width = piece.area_m2 / length
    if piece.shape:
        try:
            around = turned_box(read(piece.shape))
            length, width = around.length, around.width
        except (ValueError, TypeError, KeyError):
            pass  # as one of which only the area is known; its own page says what is wrong
    return Box(piece.code, length + 2 * WALL, width + 2 * WALL)


def _boxes(pieces: Iterable[Piece], beds: Sequence[Table]) -> list[Box]:
    """Without those that fit no table, which are named by themselves."""
    return [box for box in map(box_of, pieces) if fits_one(box, beds)]


def _beds(tables: Iterable[CastingTable], room_id: int) -> list[Table]:
    """Those of the room; of a room without any, all that there are."""
    every = list(tables)
    own = [table for table in every if table.room_id == room_id]
    return [Table(t.name, t.length_m, t.width_m) for t in own or every]


def _place(
    groups: Sequence[Group], tables: Sequence[CastingTable], shop: Shop, now: dt.datetime
) -> None:
    """Give each group the first working day on which its tables are free; a table takes one cast
    a day. Without tables, a day takes one of the groups."""
    today = now.astimezone(shop.zone).date()
    days = sorted(open_days(today + DAY, today + AHEAD))
    taken = _taken(tables, shop, now)
    for group in groups:
        for day in days:
            used = taken.setdefault(day, set())
            beds = [bed for bed in _beds(tables, group.room.pk) if bed.name not in used]
            if tables and not beds:
                continue
            found = lay(_boxes(group.pieces, _beds(tables, group.room.pk)), beds)
            if (tables and found.left) or (not tables and used):
                continue
            group.day, group.lay = day, found if tables else None
            used.update(found.tables if tables else {"a cast"})
            break


def _taken(tables: Sequence[CastingTable], shop: Shop, now: dt.datetime) -> dict[dt.date, set[str]]:
    """Tables that casts which are set already take, laid in the same way."""
    ahead = Batch.objects.filter(planned_for__gte=now - DAY, planned_for__lte=now + AHEAD)
    batches = ahead.filter(pieces__isnull=False).distinct().order_by("planned_for")
    taken: dict[dt.date, set[str]] = {}
    rows = batches.prefetch_related("pieces")
    for day, same in groupby(rows, key=lambda b: b.planned_for.astimezone(shop.zone).date()):
        used = taken.setdefault(day, set())
        for batch in same:
            beds = [bed for bed in _beds(tables, batch.room_id) if bed.name not in used]
            used.update(lay(_boxes(batch.pieces.all(), beds), beds).tables if beds else {"a cast"})
    return taken
