"""Where a piece's dates rest on a law beyond its range: all such notes in one place."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from curing.climate import Climate
from curing.limits import (
    Note,
    Reach,
    drying_notes,
    maturity_notes,
    sealing_notes,
    strength_notes,
    together,
)
from jobs.models import Piece
from jobs.services.coat_air import CoatingRooms
from jobs.services.facts import AHEAD, Facts
from jobs.services.outlook import PieceOutlook, StepOutlook
from jobs.services.route_steps import engine_sealer, piece_steps
from jobs.services.shape import section_fault
from shop.localtime import to_hours
from shop.models import DryingRule, StepKind
from shop.services.materials import curve_of
from shop.services.reach import reach_of


def notes_of(facts: Facts, piece: Piece, outlook: PieceOutlook) -> tuple[Note, ...]:
    """Each key once. Reads the mix's tests and the last readings; all else is in the facts."""
    reach = reach_of(piece.mix, now=facts.now, shop=facts.shop)
    return together(
        _section_notes(piece),
        list(_strength_notes(facts, piece, reach)),
        _air_notes(facts, piece, outlook),
        _drying_notes(facts, piece, outlook),
        _sealing_notes(facts, piece, outlook),
    )


def _section_notes(piece: Piece) -> list[Note]:
    fault = section_fault(piece)
    return [Note("section", f"{fault}.", "the section as stored")] if fault else []


def _strength_notes(facts: Facts, piece: Piece, reach: Reach | None) -> Iterator[Note]:
    curve = curve_of(piece.mix)
    for step in piece_steps(piece, facts.shop):
        for mpa in (step.engine.strength_mpa, step.engine.handling_mpa):
            if mpa and math.isfinite(mpa):
                yield from strength_notes(mpa, curve, reach)


def _air_notes(facts: Facts, piece: Piece, outlook: PieceOutlook) -> tuple[Note, ...]:
    """From casting until it may leave, or as far as is looked ahead."""
    started = outlook.cast_at or outlook.cast_assumed
    if started is None:
        return ()
    start = to_hours(started)
    end = to_hours(outlook.ready_at or facts.now + AHEAD)
    return maturity_notes(*facts.climate_of(piece.room_id).extremes(start, max(start, end)))


def _drying_notes(facts: Facts, piece: Piece, outlook: PieceOutlook) -> tuple[Note, ...]:
    """Of a route that dries by the model, from the last wetting to the coat that waits for it."""
    if piece.route.drying_rule != DryingRule.MODEL:
        return ()
    wetting = [s for s in outlook.steps if s.wets or s.kind == StepKind.DEMOLD]
    wetted = _finished(wetting[-1]) if wetting else None
    if wetted is None:
        return ()
    coat = next((s for s in outlook.steps if s.kind == StepKind.COAT), None)
    until = coat.earliest if coat else outlook.ready_at
    end = max(wetted, to_hours(until or facts.now + AHEAD))
    climate = facts.climate_of(piece.room_id)
    coldest, warmest = climate.extremes(wetted, end)
    humidity = _humidities(climate, wetted, end)
    return drying_notes(
        piece.thickness_m,
        coldest=coldest,
        warmest=warmest,
        driest=min(humidity, default=math.nan),
        dampest=max(humidity, default=math.nan),
        target=piece.route.moisture_target,
        marched=True,  # the timeline marches the drying where the air comes near the target
    )


def _sealing_notes(facts: Facts, piece: Piece, outlook: PieceOutlook) -> tuple[Note, ...]:
    coats = [step for step in outlook.steps if step.kind == StepKind.COAT]
    last = _finished(coats[-1]) if coats else None
    if last is None:
        return ()
    cured = outlook.full_use_at
    end = max(last, to_hours(cured or facts.now + AHEAD))
    coldest, warmest = facts.climate_of(piece.room_id).extremes(last, end)
    return sealing_notes(
        _humidity_read(piece), coldest, warmest, engine_sealer(piece.sealer).limits
    )


def _humidity_read(piece: Piece) -> bool:
    """Whether the last reading where coats go on has a humidity."""
    rooms = CoatingRooms.read([piece.room_id])
    reading = rooms.latest.get(rooms.room_for(piece.room_id).pk)
    return reading is not None and reading.humidity is not None


def _finished(step: StepOutlook) -> float | None:
    at = step.done_at or step.finish
    return to_hours(at) if at else None


def _humidities(climate: Climate, start: float, end: float) -> list[float]:
    """Known ones at the knots from `start` to `end`, and at both."""
    inside = climate.hours[(climate.hours > start) & (climate.hours < end)]
    values = climate.humidity_at(np.concatenate([[start], inside, [end]]))
    return [float(value) for value in values[np.isfinite(values)]]
