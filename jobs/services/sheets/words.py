"""What a step waits for, as figures that hold whenever it is cast; and what its time rests on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from jobs.services.outlook import PieceOutlook, StepOutlook, WaitOutlook
from jobs.services.trust import round_up
from shop import measures
from shop.measures import hours_words
from shop.models import Shop, StepKind

SEALER_CELSIUS = 23.0  # a sealer's data sheet counts its hours at this
NOT_TOLD = {"previous step", "crew hours", "cast"}

Say = Callable[[float, Shop], str]

ASKED: dict[str, Say] = {
    "strength": lambda value, shop: f"{_mpa(value, shop)} by the mix's curve",
    "handling": lambda value, shop: f"{_mpa(value, shop)} to be lifted, by its section",
    "equivalent age": lambda value, shop: f"{value:g} h at {measures.warmth(shop)}",
    "clock floor": lambda value, shop: f"{hours_words(value)} after water-in",
    "step wait": lambda value, shop: f"{hours_words(value)} after the step before",
    "drying": lambda value, shop: f"{hours_words(value)} of drying since the last wetting",
    "moisture": lambda value, shop: f"dry to {value:.0f} % RH inside",
    "concrete age": lambda value, shop: f"{hours_words(value)} of concrete age for the sealer",
    "recoat wait": lambda value, shop: f"{hours_words(value)} after the coat before",
    "sealer cure": lambda value, shop: (
        f"{hours_words(value)} of sealer cure at {measures.warmth(shop, SEALER_CELSIUS)}"
    ),
}


def _mpa(value: float, shop: Shop) -> str:
    return measures.words(value, "strength", shop)


def asked(step: StepOutlook, shop: Shop) -> list[str]:
    """Everything it waits for beside the step before, the last to be met first."""
    return [_asked(wait, shop) for wait in step.waits if wait.criterion not in NOT_TOLD]


def _asked(wait: WaitOutlook, shop: Shop) -> str:
    if wait.criterion == "trusted age" and wait.needed is not None:
        age = f"{round_up(wait.needed):g} h at {measures.warmth(shop)}"
        return f"{age}, from {wait.demolds} demolds of this shop"
    say = ASKED.get(wait.criterion)
    return say(wait.needed, shop) if say and wait.needed is not None else wait.words


@dataclass(frozen=True)
class Rests:
    """What a time that is printed rests on, in one sentence each."""

    casting: str
    curve: str
    air: str

    @property
    def words(self) -> str:
        return " ".join(part for part in (self.casting, self.curve, self.air) if part)


def rests(piece: PieceOutlook, say: Callable[..., str]) -> Rests:
    """say : how a moment is written"""
    curve = (
        "Strength by a placeholder curve, not this shop's tests."
        if piece.placeholder
        else f"Strength by the curve the shop entered for {piece.mix}."
    )
    return Rests(_casting(piece, say), curve, _air(piece, say))


def _casting(piece: PieceOutlook, say: Callable[..., str]) -> str:
    if piece.cast_at:
        return f"Water in {say(piece.cast_at)}."
    if piece.cast_planned and piece.cast_planned == piece.cast_assumed:
        return f"If the water goes in as planned, {say(piece.cast_planned)}; later moves it."
    if piece.cast_assumed:
        return f"No cast is set that can still be kept: taken as {say(piece.cast_assumed)}."
    return ""


def _air(piece: PieceOutlook, say: Callable[..., str]) -> str:
    if piece.measured_until is None:
        return f"{piece.room}: air expected, none measured."
    stale = " The readings have stopped." if piece.air_stale else ""
    return f"{piece.room}: air measured to {say(piece.measured_until)}, expected after.{stale}"


def people_words(people: int) -> str:
    return f"{people} {'person' if people == 1 else 'people'}"


def step_of(piece: PieceOutlook, kind: StepKind) -> StepOutlook | None:
    return next((step for step in piece.steps if step.kind == kind), None)


def cast_is_known(piece: PieceOutlook) -> bool:
    """Cast, or set for a time that can still be kept: only then is a date worth its ink."""
    if piece.cast_at:
        return True
    return piece.cast_planned is not None and piece.cast_planned == piece.cast_assumed
