"""The same numbers as the figure, in rows, for those who can't see it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from jobs.services.course import Course, OpenPiece
from jobs.services.drying_course import value_at
from jobs.services.route_steps import wetted_at
from jobs.services.weighing_record import WeighRecord, record_of
from shop.localtime import from_hours

ROWS = 24
EVERY = (1, 2, 3, 6, 12, 24, 48, 96, 168)


@dataclass(frozen=True)
class CourseRow:
    at: dt.datetime
    celsius: float
    measured: bool
    age: float
    mpa: float
    low: float
    high: float
    dried: float | None  # as the drying's panel counts it


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


def _row(course: Course, hour: float) -> CourseRow:
    place = int(np.searchsorted(course.hours, hour, side="right")) - 1
    celsius, age, mpa = (
        float(np.interp(hour, course.hours, values))
        for values in (course.celsius, course.ages, course.strengths)
    )
    return CourseRow(
        at=from_hours(float(hour)),
        celsius=celsius,
        measured=bool(course.measured[min(place, len(course.measured) - 1)]),
        age=age,
        mpa=mpa,
        low=mpa * (1 - course.band),
        high=mpa * (1 + course.band),
        dried=value_at(course.drying, float(hour)) if course.drying else None,
    )
