"""A piece's route as the engine takes it: coats unfolded, labour and people for this piece."""

from __future__ import annotations

import math
from dataclasses import dataclass

from curing.sealing import CoatLimits
from curing.sealing import Sealer as EngineSealer
from curing.timeline import Step
from jobs.models import Piece
from shop.models import RouteStep, Sealer, Shop, StepKind

LIFTED = {StepKind.DEMOLD, StepKind.CRATE, StepKind.DELIVER, StepKind.INSTALL}


@dataclass(frozen=True)
class PieceStep:
    engine: Step
    kind: str
    people: int


def weight_kg(piece: Piece) -> float:
    """Of a plain slab: area, thickness and the mix's density."""
    return piece.area_m2 * piece.thickness_m * piece.mix.density


def people_for(step: RouteStep, piece: Piece, shop: Shop) -> int:
    if step.kind not in LIFTED:
        return step.people
    return max(step.people, math.ceil(weight_kg(piece) / shop.carry_limit_kg))


def piece_steps(piece: Piece, shop: Shop) -> list[PieceStep]:
    """Needs `piece.route.steps`, `piece.sealer` and `piece.mix` loaded."""
    unfolded: list[PieceStep] = []
    for step in piece.route.steps.all():
        people = people_for(step, piece, shop)
        if step.kind != StepKind.COAT:
            unfolded.append(PieceStep(_engine_step(step, piece), step.kind, people))
            continue
        for coat in range(1, piece.sealer.coats + 1):
            unfolded.append(PieceStep(_engine_step(step, piece, coat), step.kind, people))
    return unfolded


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
