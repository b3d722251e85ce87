"""A batch on record: what was put down about it, and what its pieces' marks and the room's air say.

Read in a number of queries that does not grow with pieces, runs, marks or photos.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from django.db.models import Prefetch, Q

from curing.weigh_record import Record
from jobs.models import Batch, Demold, Mark, Measured, MixerRun, Photo, Piece, Specimen, Weighed
from jobs.services.coat_air import Air, CoatingRooms, air_of
from jobs.services.measured import Against, against
from jobs.services.route_steps import engine_sealer
from jobs.services.run_record import Made, made_of
from jobs.services.weigh_sheets import ShownLine, record_of, shown_lines
from shop.localtime import settle, to_hours
from shop.models import Reading, Room, RouteStep, Shop, StepKind
from shop.services.climate import climates
from shop.services.materials import curve_of

DUSK, DAWN = dt.time(18, 0), dt.time(8, 0)
# A coat rests on the readings this near to it [h].
NEAR = 0.05


@dataclass(frozen=True)
class Night:
    """The room in the first night after casting, by its readings.

    over : it is past; gap : the longest stretch of it without a reading
    """

    start: dt.datetime
    end: dt.datetime
    over: bool
    low: tuple[dt.datetime, float] | None
    high: tuple[dt.datetime, float] | None
    gap: dt.timedelta


@dataclass(frozen=True)
class Demolded:
    """age_hours : equivalent [h at 20 °C]; strength_mpa : the mix's curve at that age, today's"""

    mark: Mark
    age_hours: float | None
    strength_mpa: float | None
    step: RouteStep | None


@dataclass(frozen=True)
class CoatOn:
    mark: Mark
    room: str
    air: Air
    measured: bool
    dew_margin: float  # K that the sealer asks for


@dataclass(frozen=True)
class CastPiece:
    """A piece of the batch, with the marks of this casting alone.

    cast : None while it waits for it; lost : the mark by which the casting was given up
    """

    piece: Piece
    cast: Mark | None
    lost: Mark | None
    demolded: Demolded | None
    wettings: tuple[Mark, ...]
    coats: tuple[CoatOn, ...]
    measured: tuple[Against, ...]


@dataclass(frozen=True)
class RunOn:
    """record, made : None for a run without a sheet, or one that cannot be read any more"""

    run: MixerRun
    lines: tuple[ShownLine, ...]
    record: Record | None
    made: Made | None
    specimens: tuple[Specimen, ...]


@dataclass(frozen=True)
class BatchRecord:
    batch: Batch
    pieces: tuple[CastPiece, ...]
    runs: tuple[RunOn, ...]
    photos: tuple[Photo, ...]  # of the batch and of its pieces, in order of time
    night: Night | None

    @property
    def water_in(self) -> dt.datetime | None:
        """Age zero: the earliest cast mark."""
        return min((one.cast.happened_at for one in self.pieces if one.cast), default=None)

    @property
    def empty(self) -> bool:
        return not self.runs and not self.photos and self.water_in is None


def batch_record(batch_id: int, *, now: dt.datetime, shop: Shop) -> BatchRecord | None:
    """None where there is no such batch."""
    batch = Batch.objects.select_related("mix", "room", "planned_by").filter(pk=batch_id).first()
    if batch is None:
        return None
    pieces = _pieces(batch)
    castings = {piece.pk: casting_in(piece.marks.all(), batch.pk) for piece in pieces}
    coats = _coats(pieces, castings, now, shop)
    ages = dict(Demold.objects.filter(mark__piece__in=pieces).values_list("mark_id", "age_hours"))
    measured: dict[int, list[Measured]] = defaultdict(list)
    for row in Measured.objects.filter(piece__in=pieces).select_related("by", "struck_by"):
        measured[row.piece_id].append(row)
    cast = tuple(
        _cast_piece(piece, castings[piece.pk], ages, coats[piece.pk], measured[piece.pk])
        for piece in pieces
    )
    water_in = min((one.cast.happened_at for one in cast if one.cast), default=None)
    photos = Photo.objects.filter(Q(batch=batch) | Q(piece__in=pieces))
    return BatchRecord(
        batch=batch,
        pieces=cast,
        runs=_runs(batch, {piece.code: piece for piece in pieces}, shop),
        photos=tuple(photos.select_related("by", "piece")),
        night=night_of(batch.room, water_in, now=now, shop=shop) if water_in else None,
    )


def _pieces(batch: Batch) -> list[Piece]:
    """Those that are in the batch, and those that were cast in it and lost."""
    cast_here = Mark.objects.filter(
        batch=batch, kind=Mark.Kind.DONE, struck_by__isnull=True
    ).values("piece")
    found = Piece.objects.filter(Q(batch=batch) | Q(pk__in=cast_here)).order_by("code")
    return list(
        found.select_related("job", "mix", "route", "sealer", "room").prefetch_related(
            "route__steps", Prefetch("marks", Mark.objects.select_related("by").order_by("pk"))
        )
    )


@dataclass(frozen=True)
class Casting:
    done: Mapping[str, Mark]
    lost: Mark | None


def casting_in(marks: Iterable[Mark], batch_id: int) -> Casting:
    """Of a piece's marks those of its last casting in this batch: what came before it, or after it
    was given up, belongs to another."""
    recorded = sorted(marks, key=lambda mark: mark.pk)
    struck = {mark.strikes_id for mark in recorded if mark.strikes_id}
    found, done = Casting({}, None), dict[str, Mark]()
    for mark in recorded:
        if mark.pk in struck:
            continue
        if mark.kind == Mark.Kind.DONE:
            done[mark.step_key] = mark
        elif mark.kind == Mark.Kind.RECAST:
            if _is_of(done, batch_id):
                found = Casting(done, mark)
            done = {}
    return Casting(done, None) if _is_of(done, batch_id) else found


def _is_of(done: Mapping[str, Mark], batch_id: int) -> bool:
    return any(mark.batch_id == batch_id for mark in done.values())


def _cast_piece(
    piece: Piece,
    casting: Casting,
    ages: Mapping[int, float],
    coats: Sequence[CoatOn],
    measured: Sequence[Measured],
) -> CastPiece:
    steps = {step.key: step for step in piece.route.steps.all()}
    kinds = {key: step.kind for key, step in steps.items()}
    done = casting.done
    demold = next((mark for key, mark in done.items() if kinds.get(key) == StepKind.DEMOLD), None)
    return CastPiece(
        piece=piece,
        cast=next((mark for mark in done.values() if mark.batch_id is not None), None),
        lost=casting.lost,
        demolded=_demolded(demold, piece, ages, steps) if demold else None,
        wettings=tuple(m for key, m in done.items() if key in steps and steps[key].wets),
        coats=tuple(coats),
        # What was measured belongs to the casting that stands.
        measured=() if casting.lost else tuple(against(piece, measured)),
    )


def _demolded(
    mark: Mark, piece: Piece, ages: Mapping[int, float], steps: Mapping[str, RouteStep]
) -> Demolded:
    age = ages.get(mark.pk)
    strength = None if age is None else max(float(curve_of(piece.mix).at(age)), 0.0)
    return Demolded(mark, age, strength, steps.get(mark.step_key))


def _coats(
    pieces: Sequence[Piece], castings: Mapping[int, Casting], now: dt.datetime, shop: Shop
) -> dict[int, list[CoatOn]]:
    """Four queries, none where no coat is on."""
    on: dict[int, list[Mark]] = {}
    for piece in pieces:
        keys = {step.key for step in piece.route.steps.all() if step.kind == StepKind.COAT}
        on[piece.pk] = [
            mark
            for key, mark in castings[piece.pk].done.items()
            if key.rpartition("-")[0] in keys or key in keys
        ]
    every = [mark.happened_at for marks in on.values() for mark in marks]
    if not every:
        return {piece.pk: [] for piece in pieces}
    rooms = CoatingRooms.read([piece.room_id for piece in pieces])
    used = {piece.pk: rooms.room_for(piece.room_id) for piece in pieces}
    airs = climates(
        {room.pk: room for room in used.values()}.values(),
        since=min(every),
        until=max(every) + dt.timedelta(hours=1),
        now=now,
        shop=shop,
    )
    found: dict[int, list[CoatOn]] = {}
    for piece in pieces:
        room, limits = used[piece.pk], engine_sealer(piece.sealer).limits
        climate = airs[room.pk]
        found[piece.pk] = [
            CoatOn(
                mark=mark,
                room=room.name,
                air=air_of(
                    limits,
                    float(climate.celsius_at(hours := to_hours(mark.happened_at))),
                    float(climate.humidity_at(hours)),
                ),
                measured=float(climate.measured_share(hours - NEAR, hours)) > 0.5,
                dew_margin=limits.dew_margin,
            )
            for mark in on[piece.pk]
        ]
    return found


def _runs(batch: Batch, pieces: Mapping[str, Piece], shop: Shop) -> tuple[RunOn, ...]:
    specimens = Specimen.objects.select_related("made_by", "test__by", "test__room")
    rows = batch.runs.select_related("recipe__mix", "opened_by", "recorded_by", "struck_by")
    rows = rows.prefetch_related(
        Prefetch("weighed", Weighed.objects.select_related("by").order_by("pk")),
        Prefetch("specimens", specimens.order_by("label")),
    )
    return tuple(_run(run, pieces, shop) for run in rows.order_by("number"))


def _run(run: MixerRun, pieces: Mapping[str, Piece], shop: Shop) -> RunOn:
    try:
        record = record_of(run)
    except ValueError:  # without a sheet there is nothing to hold against it
        record = None
    return RunOn(
        run=run,
        lines=tuple(shown_lines(run, shop)),
        record=record,
        made=made_of(run, record, pieces, shop) if record else None,
        specimens=tuple(run.specimens.all()),
    )


def night_of(room: Room, water_in: dt.datetime, *, now: dt.datetime, shop: Shop) -> Night | None:
    """From six in the evening of the casting day, or water-in if that is later, to eight in the
    morning. One query; None while it has not begun."""
    local = water_in.astimezone(shop.zone)
    day = local.date() - dt.timedelta(days=1 if local.time() < DAWN else 0)
    start = max(settle(dt.datetime.combine(day, DUSK), shop.zone), water_in)
    end = settle(dt.datetime.combine(day + dt.timedelta(days=1), DAWN), shop.zone)
    if now <= start:
        return None
    until = min(end, now)
    rows = list(
        Reading.objects.filter(room=room, at__range=(start, until))
        .order_by("at")
        .values_list("at", "celsius")
    )
    stops = [start, *(at for at, _celsius in rows), until]
    return Night(
        start=start,
        end=end,
        over=now >= end,
        low=min(rows, key=lambda row: row[1], default=None),
        high=max(rows, key=lambda row: row[1], default=None),
        gap=max(later - sooner for sooner, later in pairwise(stops)),
    )
