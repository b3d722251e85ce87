"""A room's air: measured up to the last reading, expected after it.

Times are hours on one axis (any origin), temperatures °C, humidity a fraction 0..1 with NaN for
what is not known.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from curing.air import Climate, Readings
from curing.gains import Gains

__all__ = ["Climate", "Readings", "compose"]

Array = NDArray[np.float64]

JOIN = 2.0  # h in which the last reading's own jump from the expected curve closes


def compose(
    *,
    readings: Readings,
    planned: Readings,
    now: float,
    gap_after: float = 3.0,
    lookback: float = 24.0,
    fade: float = 24.0,
    stale_after: float = 3.0,
) -> Climate:
    """Measured air where there is any, expected air elsewhere.

    Parameters
    ----------
    readings : what was measured; readings after `now` are left out
    planned : the room's planned air over the whole time that is asked for, hourly or finer
    now : [h]
    gap_after : a hole between readings longer than this is bridged by the planned curve [h]
    lookback : how many hours of readings tell how far the room sits from its plan [h]
    fade : the correction falls to 1/e in this time [h]
    stale_after : the last reading may be this old [h]

    Returns
    -------
    Climate over the span of `planned`, or longer where readings reach further back

    Raises
    ------
    ValueError
        `planned` has fewer than two knots, or a time constant is not above 0.
    """
    if len(planned.hours) < 2 or min(gap_after, lookback, fade, stale_after) <= 0:
        raise ValueError("planned air needs two knots or more, and time constants above 0")
    known = readings.first(int(np.searchsorted(readings.hours, now, side="right")))
    made = _Composed(planned, gap_after, lookback, fade, stale_after, known.since(lookback))
    if not len(known.hours):
        return _expected_only(made, now)
    plan = _Plan(planned)
    settled, gaps = _settled(plan, known, gap_after)
    before = _before(plan, float(known.hours[0]), float(known.celsius[0]), fade)
    return _joined(made, [before, settled], gaps, now, {})


@dataclass(frozen=True, eq=False)
class _Part:
    """Knots, and whether the interval that ends at each of them is measured."""

    hours: Array
    celsius: Array
    humidity: Array
    measured: NDArray[np.bool_]

    @classmethod
    def expected(cls, hours: Array, celsius: Array, humidity: Array) -> _Part:
        return cls(hours, celsius, humidity, np.zeros(len(hours), dtype=bool))


@dataclass(frozen=True, eq=False)
class _Composed:
    """What a climate was composed by.

    recent : the readings that correct the plan
    air : what came of it, to tell whether a climate has been changed since
    """

    planned: Readings
    gap_after: float
    lookback: float
    fade: float
    stale_after: float
    recent: Readings
    air: _Part | None = None

    def extended(self, climate: Climate, readings: Readings, now: float) -> Climate:
        """See `Climate.extended`."""
        if self.air is None or climate.celsius is not self.air.celsius:
            raise ValueError("readings can be added only to a climate as compose made it")
        if not climate.settled:
            return compose(
                readings=readings,
                planned=self.planned,
                now=now,
                gap_after=self.gap_after,
                lookback=self.lookback,
                fade=self.fade,
                stale_after=self.stale_after,
            )
        if now < self.recent.hours[-1]:
            raise ValueError(f"now, hour {now:g}, lies before the last reading")
        added = readings.first(int(np.searchsorted(readings.hours, now, side="right")))
        recent = self.recent.followed_by(added)
        # From the last reading that was known on: its own knot is there already.
        new, gaps = _settled(_Plan(self.planned), recent.last(len(added.hours) + 1), self.gap_after)
        count = climate.settled
        parts = [
            _Part(
                climate.hours[:count],
                climate.celsius[:count],
                climate.humidity[:count],
                np.concatenate([[False], climate.measured[: count - 1]]),
            ),
            _Part(new.hours[1:], new.celsius[1:], new.humidity[1:], new.measured[1:]),
        ]
        made = replace(self, recent=recent.since(self.lookback))
        return _joined(made, parts, (*climate.gaps, *gaps), now, climate.settled_gains())


class _Plan:
    """Planned air with its steps kept: two knots at one hour are one side and the other."""

    def __init__(self, planned: Readings) -> None:
        self.knots = planned

    def celsius(self, times: ArrayLike) -> Array:
        return np.asarray(
            np.interp(np.asarray(times, dtype=float), self.knots.hours, self.knots.celsius)
        )

    def humidity(self, times: ArrayLike) -> Array:
        return np.asarray(
            np.interp(np.asarray(times, dtype=float), self.knots.hours, self.knots.humidity)
        )

    def inside(self, start: float, end: float) -> tuple[Array, Array, Array]:
        """Knots strictly between, with their own values on either side of a step."""
        chosen = (self.knots.hours > start) & (self.knots.hours < end)
        return (
            self.knots.hours[chosen],
            self.knots.celsius[chosen],
            self.knots.humidity[chosen],
        )


def _expected_only(made: _Composed, now: float) -> Climate:
    planned = made.planned
    return Climate(
        hours=planned.hours,
        celsius=planned.celsius,
        humidity=planned.humidity,
        measured=np.zeros(len(planned.hours) - 1, dtype=bool),
        now=now,
        stale=True,
        composed=replace(
            made, air=_Part.expected(planned.hours, planned.celsius, planned.humidity)
        ),
    )


def _settled(
    plan: _Plan, readings: Readings, gap_after: float
) -> tuple[_Part, tuple[tuple[float, float], ...]]:
    """From the first reading to the last, the holes bridged, and the holes."""
    hours, celsius, humidity = readings.hours, readings.celsius, readings.humidity
    # What was not measured of the humidity is taken from the plan.
    missing = ~np.isfinite(humidity)
    if missing.any():
        humidity = humidity.copy()
        humidity[missing] = plan.humidity(hours[missing])
    lengths = np.diff(hours)
    measured = np.concatenate([[False], lengths <= gap_after])
    holes = np.flatnonzero(lengths > gap_after)
    parts = []
    for start, end in pairwise([0, *(holes + 1).tolist(), len(hours)]):
        if start:
            parts.append(
                _bridge(plan, hours[start - 1 : start + 1], celsius[start - 1 : start + 1])
            )
        run = slice(start, end)
        parts.append(_Part(hours[run], celsius[run], humidity[run], measured[run]))
    gaps = tuple((float(hours[hole]), float(hours[hole + 1])) for hole in holes)
    return _concatenated(parts), gaps


def _concatenated(parts: Sequence[_Part]) -> _Part:
    if len(parts) == 1:
        return parts[0]
    return _Part(
        np.concatenate([part.hours for part in parts]),
        np.concatenate([part.celsius for part in parts]),
        np.concatenate([part.humidity for part in parts]),
        np.concatenate([part.measured for part in parts]),
    )


def _recent_mean(hours: Array, deviation: Array, gap_after: float) -> float:
    """Time-weighted mean deviation of the recent readings, holes left out."""
    if len(hours) < 2:
        return float(deviation[-1])
    lengths = np.diff(hours)
    lengths = np.where(lengths > gap_after, 0.0, lengths)
    if not lengths.sum() > 0:
        return float(deviation.mean())
    return float((lengths * 0.5 * (deviation[:-1] + deviation[1:])).sum() / lengths.sum())


def _before(plan: _Plan, first: float, measured: float, fade: float) -> _Part:
    hours, celsius, humidity = plan.inside(-np.inf, first)
    deviation = measured - float(plan.celsius(first))
    return _Part.expected(hours, celsius + deviation * np.exp(-(first - hours) / fade), humidity)


def _bridge(plan: _Plan, gap: Array, measured: Array) -> _Part:
    hours, celsius, humidity = plan.inside(float(gap[0]), float(gap[1]))
    left, right = measured - plan.celsius(gap)
    share = (hours - gap[0]) / (gap[1] - gap[0])
    return _Part.expected(hours, celsius + left + (right - left) * share, humidity)


def _after(plan: _Plan, last: float, offset: float, jump: float, fade: float) -> _Part:
    hours, celsius, humidity = plan.inside(last, np.inf)
    # The corrections bend: a few knots of their own keep the curve true between planned ones.
    own = last + np.array([0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 9.0, 12.0])
    own = own[own < plan.knots.hours[-1]]
    hours = np.concatenate([hours, own])
    celsius = np.concatenate([celsius, plan.celsius(own)])
    humidity = np.concatenate([humidity, plan.humidity(own)])
    order = np.argsort(hours, kind="stable")
    hours, celsius, humidity = hours[order], celsius[order], humidity[order]
    since = hours - last
    corrected = celsius + offset * np.exp(-since / fade) + jump * np.exp(-since / JOIN)
    return _Part.expected(hours, corrected, humidity)


def _joined(
    made: _Composed,
    parts: Sequence[_Part],
    gaps: tuple[tuple[float, float], ...],
    now: float,
    kept: dict[Any, Gains],
) -> Climate:
    """The parts up to the last reading, and the expected one after it."""
    plan, recent = _Plan(made.planned), made.recent
    last = float(recent.hours[-1])
    deviation = recent.celsius - plan.celsius(recent.hours)
    offset = _recent_mean(recent.hours, deviation, made.gap_after)
    after = _after(plan, last, offset, float(deviation[-1]) - offset, made.fade)
    air = _concatenated([*parts, after])
    if len(air.hours) == 1:  # one reading at the very end of the plan
        one = _Part.expected(air.hours + 1.0, air.celsius, air.humidity)
        air = _concatenated([air, one])
    return Climate(
        hours=air.hours,
        celsius=air.celsius,
        humidity=air.humidity,
        measured=air.measured[1:],
        now=now,
        last_measured=last,
        gaps=gaps,
        offset=offset,
        stale=now - last > made.stale_after,
        settled=sum(len(part.hours) for part in parts),
        composed=replace(made, air=air),
        _clocks=kept,
    )
