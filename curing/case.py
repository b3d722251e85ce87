"""One piece from a file, for `python -m curing timeline`. See examples/case.toml."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

from curing.calibration import PLACEHOLDER_BAND
from curing.climate import Climate, Readings, compose
from curing.doubt import TYPED_BAND, AirDoubt, Doubt, within
from curing.drying_rate import DryingRate
from curing.files import HOUR, BadFile, read_case
from curing.moisture import DRY_HUMIDITY, Concrete, Slab
from curing.sealing import CoatLimits, Sealer
from curing.shifts import Shifts
from curing.spread import Range, spread
from curing.strength import ACI209, EN1992, PLACEHOLDER, Curve, Exponential, Hyperbolic
from curing.timeline import Milestone, Step, derive

CURVES: dict[str, type[Any]] = {
    "hyperbolic": Hyperbolic,
    "exponential": Exponential,
    "en1992": EN1992,
    "aci209": ACI209,
}
DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
AHEAD = 60 * 24.0
DRAWS = 1000


@dataclass(frozen=True, eq=False)
class Case:
    cast: dt.datetime
    milestones: tuple[Milestone, ...]
    ranges: tuple[Range, ...]  # of the moment each step can be done
    doubt: Doubt
    curve_band: float

    def moment(self, hours: float) -> dt.datetime | None:
        """An engine time on the clock of the case's own casting time."""
        if not np.isfinite(hours):
            return None
        return dt.datetime.fromtimestamp(hours * HOUR, tz=self.cast.tzinfo)


def load_case(path: Path) -> Case:
    """Read and derive a case.

    Raises
    ------
    BadFile
        Something is missing, unknown or impossible; the message names it.
    """
    data = read_case(path)
    try:
        return _case(data)
    except KeyError as error:
        raise BadFile(f"{path}: {error.args[0]} is missing") from None
    except (TypeError, ValueError) as error:
        raise BadFile(f"{path}: {error}") from None


def _case(data: Mapping[str, Any]) -> Case:
    cast = _moment(data["cast"], "cast").astimezone(_zone(data))
    start = _hours(cast)
    steps = [_step(entry) for entry in data["steps"]]
    curve, energy = _curve(data.get("mix", {}))
    sealer = _sealer(data["sealer"]) if "sealer" in data else None
    done = {key: _hours(_moment(at, key)) for key, at in data.get("done", {}).items()}
    astray = sorted(set(done) - {step.key for step in steps})
    if astray:
        raise BadFile(f"done: no step has the key {', '.join(astray)}")
    climate = _climate(data["air"], start)
    piece: dict[str, Any] = {
        "cast": start,
        "steps": steps,
        "climate": climate,
        "curve": curve,
        "shifts": _shifts(data["hours"], cast),
        "activation_energy": energy,
        "sealer": sealer,
        "done": done,
    }
    usual = TYPED_BAND if "curve" in data.get("mix", {}) else PLACEHOLDER_BAND
    doubt, band = _doubt(data.get("doubt", {}), usual)
    found = spread(**piece, doubt=doubt, curves=within(curve, band, doubt))
    return Case(cast, derive(**piece), found.ranges(), doubt, band)


def _moment(value: Any, name: str) -> dt.datetime:
    if not isinstance(value, dt.datetime) or value.tzinfo is None:
        raise BadFile(f"{name} must be a time with its zone, like 2026-03-03T14:00:00-06:00")
    return value


def _zone(data: Mapping[str, Any]) -> dt.tzinfo | None:
    """The zone whose clock the working hours follow; without one, the casting time's offset."""
    if "zone" not in data:
        return data["cast"].tzinfo if isinstance(data["cast"], dt.datetime) else None
    try:
        return ZoneInfo(data["zone"])
    except (ValueError, OSError, ZoneInfoNotFoundError):
        raise BadFile(f"zone: there is no time zone {data['zone']!r}") from None


def _hours(moment: dt.datetime) -> float:
    return moment.timestamp() / HOUR


def _build(kind: type[Any], values: Mapping[str, Any], place: str) -> Any:
    known = {field.name for field in dataclasses.fields(kind)}
    unknown = sorted(set(values) - known)
    if unknown:
        raise BadFile(f"{place}: unknown {', '.join(unknown)}; known are {sorted(known)}")
    return kind(**values)


def _step(entry: Mapping[str, Any]) -> Step:
    """`dries` is a slab with its target: thickness in metres, faces, target from 0 to 1."""
    plain = dict(entry)
    slab = plain.pop("dries", None)
    step: Step = _build(Step, plain, "steps")
    if slab is None:
        return step
    target = float(slab.get("target", DRY_HUMIDITY))
    sizes = {name: value for name, value in slab.items() if name != "target"}
    rate = DryingRate.of(_build(Slab, sizes, "steps.dries"), Concrete(), target)
    return dataclasses.replace(step, dries=rate)


def _doubt(values: Mapping[str, Any], band: float) -> tuple[Doubt, float]:
    """[doubt]: air_sd, air_memory, curve, drying, labour, draws, seed; what is left out is as
    `curing.doubt` has it."""
    plain = dict(values)
    air = AirDoubt(
        float(plain.pop("air_sd", AirDoubt().sd)), float(plain.pop("air_memory", AirDoubt().memory))
    )
    band = float(plain.pop("curve", band))
    if "drying" in plain:
        plain["drying"] = tuple(plain["drying"])
    doubt: Doubt = _build(Doubt, {"draws": DRAWS, **plain, "air": air}, "doubt")
    return doubt, band


def _curve(mix: Mapping[str, Any]) -> tuple[Curve, float]:
    values = dict(mix)
    energy = float(values.pop("activation_energy", 41500.0))
    name = values.pop("curve", None)
    if name is None:
        if values:
            raise BadFile(f"mix: name its curve, one of {sorted(CURVES)}")
        return PLACEHOLDER, energy
    if name not in CURVES:
        raise BadFile(f"mix: there is no curve {name!r}; known are {sorted(CURVES)}")
    curve: Curve = _build(CURVES[name], values, "mix")
    return curve, energy


def _sealer(values: Mapping[str, Any]) -> Sealer:
    plain = dict(values)
    limits = _build(CoatLimits, plain.pop("limits", {}), "sealer.limits")
    sealer: Sealer = _build(Sealer, {**plain, "limits": limits}, "sealer")
    return sealer


def _climate(air: Mapping[str, Any], start: float) -> Climate:
    """[[air.readings]] with time, celsius and humidity, then the planned air."""
    entries = air.get("readings", [])
    times = [_hours(_moment(entry["time"], "air.readings.time")) for entry in entries]
    readings = Readings.of(
        times,
        [float(entry["celsius"]) for entry in entries],
        [float(entry.get("humidity", np.nan)) for entry in entries] or None,
    )
    knots = np.arange(start - 48.0, start + AHEAD, 1.0)
    planned = Readings.of(
        knots,
        np.full(len(knots), float(air["planned_celsius"])),
        np.full(len(knots), float(air.get("planned_humidity", 0.5))),
    )
    return compose(readings=readings, planned=planned, now=max([start, *times]))


def _shifts(hours: Mapping[str, Any], cast: dt.datetime) -> Shifts:
    """Weekday -> list of 'HH:MM-HH:MM' on the clock of the case's zone."""
    unknown = sorted(set(hours) - set(DAYS))
    if unknown:
        raise BadFile(f"hours: unknown day {', '.join(unknown)}; known are {list(DAYS)}")
    week = {day: [_stretch(text) for text in stretches] for day, stretches in hours.items()}
    windows = []
    for number in range(int(AHEAD / 24)):
        date = cast.date() + dt.timedelta(days=number)
        for stretch in week.get(DAYS[date.weekday()], []):
            start, end = (_hours(dt.datetime.combine(date, at, cast.tzinfo)) for at in stretch)
            if end > start:  # else the clocks jump over it
                windows.append((start, end))
    return Shifts(windows)


def _stretch(text: str) -> tuple[dt.time, dt.time]:
    try:
        start, end = (dt.time.fromisoformat(part.strip()) for part in text.split("-"))
    except ValueError:
        raise BadFile(f"hours: {text!r} is not a stretch such as '07:00-12:00'") from None
    if end <= start:
        raise BadFile(f"hours: {text!r} must end after it starts")
    return start, end
