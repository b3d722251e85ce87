"""Outlooks made by hand, for drawing without a database."""

from __future__ import annotations

import datetime as dt
from typing import Any
from zoneinfo import ZoneInfo

from jobs.services.outlook import JobOutlook, PieceOutlook, StepOutlook, Tone

ZONE = ZoneInfo("America/Chicago")


def at(day: int, hour: int = 0, minute: int = 0) -> dt.datetime:
    """A moment of November 2026 on the shop's clock; Monday is the 23rd."""
    return dt.datetime(2026, 11, day, hour, minute, tzinfo=ZONE).astimezone(dt.UTC)


def make_step(kind: str, when: dt.datetime, *, done: bool = False, **fields: Any) -> StepOutlook:
    values: dict[str, Any] = {
        "key": kind,
        "name": kind,
        "kind": kind,
        "earliest": when,
        "workable": when,
        "finish": when,
        "governs": "cast",
        "held_by": "",
        "waits": (),
        "note": "",
        "people": 2,
        "labour_hours": 1.0,
        "wets": False,
        "done_at": when if done else None,
    }
    return StepOutlook(**values | fields)


def make_tones(start: dt.datetime, end: dt.datetime, count: int = 5) -> tuple[Tone, ...]:
    return tuple(
        Tone(start + (end - start) * number / (count - 1), number / (count - 1))
        for number in range(count)
    )


def make_piece_outlook(code: str = "217-A", **fields: Any) -> PieceOutlook:
    values: dict[str, Any] = {
        "piece_id": 1,
        "code": code,
        "name": "Slab",
        "job_number": "217",
        "room_id": 1,
        "room": "Casting room",
        "mix": "White premix",
        "sealer": "Acrylic",
        "area_m2": 1.5,
        "weight_kg": 59.0,
        "batch_id": None,
        "cast_at": at(23, 9),
        "cast_planned": None,
        "cast_assumed": None,
        "steps": (make_step("cast", at(23, 9), done=True), make_step("deliver", at(27, 7))),
        "ready_at": at(27, 7),
        "latest_cast": None,
        "on_hold": "",
        "equivalent_age": 40.0,
        "strength_mpa": 30.0,
        "placeholder": True,
        "measured_until": None,
        "air_stale": False,
        "air_gap_hours": 0.0,
        "measured_share": 0.5,
        "tones": make_tones(at(23, 9), at(27, 7)),
    }
    return PieceOutlook(**values | fields)


def make_job_outlook(*pieces: PieceOutlook, **fields: Any) -> JobOutlook:
    pieces = pieces or (make_piece_outlook(),)
    values: dict[str, Any] = {
        "job_id": 1,
        "number": "217",
        "title": "Kitchen island",
        "state": "holds",
        "spare_hours": 32.0,
        "promised_at": at(28, 15),
        "promised_on": dt.date(2026, 11, 28),
        "ready_at": at(27, 7),
        "holding_on": dt.date(2026, 11, 28),
        "slowest": pieces[0].code,
        "governs": "cast",
        "reason": "217-A: deliver.",
        "latest_cast": None,
        "pieces": pieces,
        "install_at": None,
        "install_too_early": False,
        "told_on": None,
        "derived_at": at(25, 8),
    }
    return JobOutlook(**values | fields)
