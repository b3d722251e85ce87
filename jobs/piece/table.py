"""The same numbers as the figure, in rows, for those who can't see it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from jobs.piece.words import early_of, governed_shortly, late_of, when
from jobs.services.course import Course, OpenPiece
from jobs.services.course_bands import Band
from jobs.services.drying_course import DryingCourse, value_at
from jobs.services.outlook import PieceOutlook, StepOutlook
from jobs.services.route_steps import wetted_at
from jobs.services.weighing_record import WeighRecord, record_of
from shop.localtime import from_hours

Floats = NDArray[np.float64]

ROWS = 24
LEAST_WIDE = 1e-6  # narrower is the sums' own rounding
EVERY = (1, 2, 3, 6, 12, 24, 48, 96, 168)


@dataclass(frozen=True)
class Within:
    """What lies from 10 to 90 of 100 draws."""

    low: float
    high: float


@dataclass(frozen=True)
class CourseRow:
    at: dt.datetime
    celsius: float
    measured: bool
    age: float
    mpa: float
    celsius_within: Within | None  # None: measured, or nothing to doubt
    age_within: Within | None
    mpa_within: Within | None
    dried: float | None  # as the drying's panel counts it
    dried_within: Within | None


def course_rows(course: Course) -> list[CourseRow]:
    """From casting on, at even distances."""
    span = float(course.hours[-1]) - course.cast
    every = next((hours for hours in EVERY if span / hours <= ROWS), EVERY[-1])
    return [_row(course, hour) for hour in np.arange(course.cast, course.hours[-1], every)]


def weights_of(opened: OpenPiece) -> WeighRecord | None:
    """Its weights, where it was ever weighed."""
    rows = list(opened.piece.weighings.all())
    if not rows:
        return None
    return record_of(rows, wetted_at(opened.piece), opened.piece.route.weigh_percent)


@dataclass(frozen=True)
class StepTimes:
    """A step's times as words; one that is done waits for nobody."""

    allowed: str
    early: str
    likely: str
    half: str  # in half the draws
    late: str
    done: str
    governs: str


Say = Callable[[dt.datetime], str]


def route_rows(piece: PieceOutlook, say: Say = when) -> list[tuple[StepOutlook, StepTimes]]:
    return [(step, _times(step, say)) for step in piece.steps]


def _times(step: StepOutlook, say: Say) -> StepTimes:
    governs = governed_shortly(step)
    allowed = say(step.earliest) if step.earliest else "–"
    if step.done_at:
        return StepTimes(allowed, "–", "–", "–", "–", say(step.done_at), governs)
    early, likely, late = (
        say(at) if at else "not within sight"
        for at in (early_of(step), step.workable, late_of(step))
    )
    half = say(step.likely) if step.likely else "not within sight"
    return StepTimes(allowed, early, likely, half, late, "", governs)


def _row(course: Course, hour: float) -> CourseRow:
    place = int(np.searchsorted(course.hours, hour, side="right")) - 1
    celsius, age, mpa = (
        float(np.interp(hour, course.hours, values))
        for values in (course.celsius, course.ages, course.strengths)
    )
    dried = value_at(course.drying, float(hour)) if course.drying else None
    return CourseRow(
        at=from_hours(float(hour)),
        celsius=celsius,
        measured=bool(course.measured[min(place, len(course.measured) - 1)]),
        age=age,
        mpa=mpa,
        celsius_within=_within(course.hours, course.bands.celsius, hour),
        age_within=_within(course.hours, course.bands.ages, hour),
        mpa_within=_within(course.hours, course.bands.strengths, hour),
        dried=dried,
        dried_within=None if dried is None else _dried_within(course.drying, hour),
    )


def _dried_within(drying: DryingCourse | None, hour: float) -> Within | None:
    if drying is None or drying.low is None or drying.high is None:
        return None
    return _within(drying.hours, Band(drying.low, drying.high), hour)


def _within(hours: Floats, band: Band, hour: float) -> Within | None:
    low, high = (float(np.interp(hour, hours, edge)) for edge in (band.low, band.high))
    return Within(low, high) if high - low > LEAST_WIDE else None
