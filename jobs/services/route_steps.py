"""A piece's route as the engine takes it: coats unfolded, labour and people for this piece."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from curing.drying_rate import DryingRate
from curing.moisture import Concrete, Slab
from curing.sealing import CoatLimits
from curing.sealing import Sealer as EngineSealer
from curing.timeline import Step
from jobs.models import Piece
from jobs.services.shape import carried_kg, strength_asked, weight_kg
from jobs.services.standing import standing_of
from jobs.services.trust import DemoldGate
from jobs.services.weighing import weighed_of
from shop.models import DryingRule, RouteStep, Sealer, Shop, StepKind

LIFTED = {StepKind.DEMOLD, StepKind.CRATE, StepKind.DELIVER, StepKind.INSTALL}


@dataclass(frozen=True)
class PieceStep:
    engine: Step
    kind: str
    people: int
    demolds: int = 0  # that the trusted age rests on


def people_for(step: RouteStep, piece: Piece, shop: Shop) -> int:
    if step.kind not in LIFTED:
        return step.people
    # A weight is taken once it is out of the mould: what lies in it counts as reckoned.
    kg = weight_kg(piece) if step.kind == StepKind.DEMOLD else carried_kg(piece)
    return max(step.people, math.ceil(kg / shop.carry_limit_kg))


def leaving_key(steps: Sequence[PieceStep]) -> str | None:
    """Of the step that takes the piece out of the shop."""
    return next((step.engine.key for step in steps if step.kind == StepKind.DELIVER), None)


def piece_steps(piece: Piece, shop: Shop, gate: DemoldGate | None = None) -> list[PieceStep]:
    """Needs `piece.route.steps`, `piece.sealer`, `piece.mix`, marks, weighings and what was
    measured loaded.

    gate : the age from which pieces like this one are trusted to come out clean
    """
    unfolded: list[PieceStep] = []
    for step in piece.route.steps.all():
        people = people_for(step, piece, shop)
        engine = _engine_step(step, piece)
        if step.by_section:
            engine = replace(engine, handling_mpa=strength_asked(piece, step.kind, shop))
        if step.kind == StepKind.DEMOLD and gate is not None:
            unfolded.append(PieceStep(_trusted(engine, gate), step.kind, people, gate.demolds))
            continue
        if step.kind != StepKind.COAT:
            unfolded.append(PieceStep(engine, step.kind, people))
            continue
        for coat in range(1, piece.sealer.coats + 1):
            unfolded.append(PieceStep(_engine_step(step, piece, coat), step.kind, people))
    return [_drying_by_rule(one, piece) for one in unfolded]


def _trusted(engine: Step, gate: DemoldGate) -> Step:
    if gate.instead:
        engine = replace(engine, strength_mpa=None, equivalent_hours=None)
    return replace(engine, trusted_hours=gate.hours)


def _drying_by_rule(one: PieceStep, piece: Piece) -> PieceStep:
    """The engine's step, waiting for drying the way the route has it."""
    hours, rule = one.engine.drying_hours, piece.route.drying_rule
    if not hours or rule == DryingRule.HOURS:
        return one
    if rule == DryingRule.MODEL:
        rate = drying_rate(piece)
        return one if rate is None else _waiting(one, dries=rate)
    weighed = weighed_of(
        list(piece.weighings.all()),
        wetted_at(piece),
        percent=piece.route.weigh_percent,
        likely_hours=hours,
    )
    return _waiting(one, weighed=weighed)


def _waiting(one: PieceStep, **drying: Any) -> PieceStep:
    return replace(one, engine=replace(one.engine, drying_hours=None, **drying))


def drying_rate(piece: Piece) -> DryingRate | None:
    """None for a piece too thin or too thick for the model: its hours count then."""
    try:
        return _rate(piece.thickness_m, piece.mix.drying_factor, piece.route.moisture_target)
    except ValueError:
        return None


@lru_cache(maxsize=256)
def _rate(thickness: float, factor: float, target: float) -> DryingRate:
    """Both faces open: a demolded piece stands so. The factor stretches the model's time."""
    standard = Concrete()
    concrete = replace(standard, d1=standard.d1 / factor)
    return DryingRate.of(Slab(thickness, faces=2), concrete, target)


def wetted_at(piece: Piece) -> dt.datetime | None:
    """When a step that wets the piece, or uncovers it, was last done."""
    wetting = {
        step.key for step in piece.route.steps.all() if step.wets or step.kind == StepKind.DEMOLD
    }
    done = standing_of(piece.marks.all()).done
    return max((done[key].happened_at for key in wetting & done.keys()), default=None)


def _engine_step(step: RouteStep, piece: Piece, coat: int = 0) -> Step:
    first = coat <= 1  # what a coat step waits for, the first coat has waited for
    return Step(
        key=f"{step.key}-{coat}" if coat else step.key,
        name=f"{step.name} {coat}" if coat and piece.sealer.coats > 1 else step.name,
        since_cast_hours=step.hours_after_cast,
        since_previous_hours=step.hours_after_previous if first else 0.0,
        equivalent_hours=step.equivalent_hours,
        strength_mpa=step.strength_mpa,
        drying_hours=step.drying_hours if first else None,
        coat=coat,
        film=step.after_sealer_cure,
        wets=step.wets,
        labour_hours=step.labour_hours + step.labour_hours_m2 * piece.area_m2,
        kind=step.kind,
    )


def engine_sealer(sealer: Sealer) -> EngineSealer:
    return EngineSealer(
        coats=sealer.coats,
        recoat_least=sealer.recoat_least_hours,
        recoat_greatest=sealer.recoat_greatest_hours,
        handle=sealer.handle_hours,
        light_use=sealer.light_use_hours,
        full_use=sealer.full_use_hours,
        least_age=sealer.least_age_hours,
        abrade_hours=sealer.abrade_hours,
        limits=CoatLimits(
            celsius_least=sealer.celsius_least,
            celsius_greatest=sealer.celsius_greatest,
            humidity_greatest=sealer.humidity_greatest,
            dew_margin=sealer.dew_margin,
        ),
    )
