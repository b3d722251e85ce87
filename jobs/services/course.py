"""A piece's course from casting to ready: its air, its age, its strength, over one time.

Pure but for `open_piece`, which reads the facts. Times are hours as the engine counts them.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from curing.climate import Climate
from jobs.models import Job, Piece
from jobs.services.course_bands import Bands, bands_of, reached_within
from jobs.services.derive import derive_job
from jobs.services.drying_course import DryingCourse, drying_course
from jobs.services.facts import Facts, load_facts
from jobs.services.how_sure import Drawn, drawn_of
from jobs.services.outlook import JobOutlook, PieceOutlook
from jobs.services.route_steps import PieceStep, piece_steps
from shop.localtime import from_hours, to_hours
from shop.services.curves import basis_of, basis_shortly, curve_of

Floats = NDArray[np.float64]

POINTS = 240
PAD = 0.03  # of the span, before casting and after ready
MOST_LATE = 1.6  # times the span from casting to ready
STRENGTH, AGE = "strength", "equivalent age"


@dataclass(frozen=True)
class Gate:
    """What a step asks of the concrete; a time is None where this curve and air never reach it."""

    steps: tuple[str, ...]
    criterion: str
    needed: float  # MPa, or hours at 20 °C
    reached_at: dt.datetime | None
    soonest_at: dt.datetime | None = None  # in 10 of 100 draws of the curve and the air
    latest_at: dt.datetime | None = None  # in 90 of them


@dataclass(frozen=True, eq=False)
class Course:
    """hours, celsius, ages [h at 20 °C], strengths [MPa] : (n,); measured : (n-1,)."""

    hours: Floats
    celsius: Floats
    ages: Floats
    strengths: Floats
    measured: NDArray[np.bool_]
    cast: float
    now: float
    gates: tuple[Gate, ...]
    bands: Bands
    placeholder: bool
    basis: str  # of the strength curve, with its band
    basis_shortly: str
    drying: DryingCourse | None = None

    def gates_of(self, criterion: str) -> list[Gate]:
        return [gate for gate in self.gates if gate.criterion == criterion]


@dataclass(frozen=True)
class OpenPiece:
    """One piece with the facts it was derived from, for pages that look closely at it."""

    facts: Facts
    job: Job
    piece: Piece
    job_outlook: JobOutlook
    outlook: PieceOutlook
    course: Course | None


def open_piece(code: str, now: dt.datetime | None = None) -> OpenPiece | None:
    number, _, letter = code.rpartition("-")
    facts = load_facts(now, [number])
    for job in facts.jobs:
        for piece in job.pieces.all():
            if piece.letter == letter:
                return _opened(facts, job, piece)
    return None


def _opened(facts: Facts, job: Job, piece: Piece) -> OpenPiece:
    derived = derive_job(facts, job)
    outlook = next(known for known in derived.pieces if known.piece_id == piece.pk)
    return OpenPiece(facts, job, piece, derived, outlook, course_of(facts, piece, outlook))


def course_of(facts: Facts, piece: Piece, outlook: PieceOutlook) -> Course | None:
    """None where nothing can be drawn: no route, or no casting time in sight."""
    started = outlook.cast_at or outlook.cast_assumed
    if started is None or not outlook.steps:
        return None
    climate = facts.climate_of(piece.room_id)
    cast, now = to_hours(started), to_hours(facts.now)
    hours = _sampled(cast, _ends(outlook, cast), now, climate)
    energy = piece.mix.activation_energy
    steps = piece_steps(piece, facts.shop, facts.gate_of(piece))
    ages = climate.equivalent_age(cast, np.maximum(hours, cast), energy)
    lines = {
        "hours": hours,
        "celsius": climate.celsius_at(hours),
        "ages": ages,
        "strengths": curve_of(piece.mix).at(ages),
    }
    drawn = drawn_of(facts, piece)
    return Course(
        **lines,
        measured=np.array([climate.measured_share(a, b) > 0.5 for a, b in pairwise(hours)]),
        cast=cast,
        now=now,
        gates=tuple(_gates(piece, steps, climate, cast, drawn)),
        bands=bands_of(drawn, energy, cast=cast, **lines),
        placeholder=piece.mix.placeholder,
        basis=basis_of(piece.mix),
        basis_shortly=basis_shortly(piece.mix),
        drying=drying_course(
            piece, steps, outlook, climate, float(hours[-1]), off=drawn.doubt.drying
        ),
    )


def _ends(outlook: PieceOutlook, cast: float) -> float:
    """Ready; where nobody can see that yet, the last moment that is known. With its late time,
    but for one so late that little could be seen of the rest."""
    known = [outlook.ready_at] if outlook.ready_at else [s.workable for s in outlook.steps]
    ends = max([cast + 1.0, *(to_hours(moment) for moment in known if moment)])
    late = to_hours(outlook.ready_late) if outlook.ready_late else ends
    return max(ends, min(late, cast + MOST_LATE * (ends - cast)))


def _sampled(cast: float, ends: float, now: float, climate: Climate) -> Floats:
    pad = PAD * (ends - cast)
    since = cast - pad
    # A cast that is close shows how far off it is.
    if since > now > cast - 0.25 * (ends - cast):
        since = now - pad
    grid = np.linspace(since, ends + pad, POINTS)
    marks = [hour for hour in (cast, now, climate.last_measured) if hour is not None]
    inside = [hour for hour in marks if since < hour < ends + pad]
    return np.unique(np.append(grid, inside))


def _gates(
    piece: Piece, steps: list[PieceStep], climate: Climate, cast: float, drawn: Drawn
) -> list[Gate]:
    curve, energy = curve_of(piece.mix), piece.mix.activation_energy

    def reached(age: float) -> dt.datetime | None:
        until = climate.time_of_age(cast, age, energy) if math.isfinite(age) else math.inf
        return from_hours(until) if math.isfinite(until) else None

    gates = []
    for mpa, names in _needed({s.engine.name: s.engine.strength_mpa for s in steps}):
        likely = reached(curve.age_at(mpa))
        within = reached_within(drawn, energy, cast, drawn.curves.ages_at(mpa), likely)
        gates.append(Gate(names, STRENGTH, mpa, likely, *within))
    for age, names in _needed({s.engine.name: _age_asked(s) for s in steps}):
        likely = reached(age)
        within = reached_within(drawn, energy, cast, age, likely)
        gates.append(Gate(names, AGE, age, likely, *within))
    return gates


def _age_asked(step: PieceStep) -> float | None:
    asked = (step.engine.equivalent_hours, step.engine.trusted_hours)
    return max((hours for hours in asked if hours), default=None)


def _needed(asked: dict[str, float | None]) -> list[tuple[float, tuple[str, ...]]]:
    """Each figure once, from low to high, with the steps that ask for it."""
    figures = sorted({figure for figure in asked.values() if figure})
    return [(figure, tuple(name for name in asked if asked[name] == figure)) for figure in figures]
