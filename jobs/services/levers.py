"""What would bring a job's day sooner, or make it later: what the office can say on the phone."""

from __future__ import annotations

from jobs.services.outlook import JobOutlook, PieceOutlook, StepOutlook

WARMTH = "a warmer room would bring it sooner, a colder one later"
AIR = "a warmer, drier room would bring it sooner, a damp or cold one later"
CLOCK = "hours by the clock, which no room shortens"
SEALER = "its data sheet sets the hours; only another sealer would be quicker"
# By what a step waits for, or what keeps it back when the concrete would allow it.
LEVERS = {
    "strength": WARMTH,
    "handling": WARMTH,
    "equivalent age": WARMTH,
    "trusted age": WARMTH,
    "clock floor": CLOCK,
    "step wait": CLOCK,
    "drying": "hours since the last wetting, which count half while cold or damp",
    "moisture": AIR,
    "weighing": AIR,
    "concrete age": SEALER,
    "recoat wait": SEALER,
    "sealer cure": "a warmer room would cure the sealer sooner",
    "sealing air": "it can go on when the air fits the sealer",
    "crew hours": "more hours on shift would bring it sooner",
}


def what_would_change(outlook: JobOutlook) -> str:
    """One sentence on the slowest piece, or nothing where nothing is open."""
    piece = next((p for p in outlook.pieces if p.code == outlook.slowest), None)
    if piece is None or piece.finished or piece.left_shop:
        return ""
    held = [other.code for other in outlook.pieces if other.on_hold]
    if held:
        return f"Releasing {', '.join(held)} from its hold comes first."
    if outlook.plan_decides:
        return ""  # what is free and when, not the concrete: the rescue's page tries that
    if piece.cast_at is None:
        return f"The cast of {piece.code}: sooner brings the day sooner, later makes it later."
    step = piece.governing_step
    return _of_step(piece, step) if step else ""


def _of_step(piece: PieceOutlook, step: StepOutlook) -> str:
    waited = step.earliest is not None and step.workable is not None
    held = waited and step.held_by and step.earliest < step.workable  # type: ignore[operator]
    lever = LEVERS.get(step.governs) or (LEVERS.get(step.held_by) if held else None)
    words = f": {lever}" if lever else " comes next"
    return f"{piece.code} {step.name}{words}."
