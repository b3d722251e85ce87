"""A room's air: measured up to the last reading, expected after it.

Times are hours on one axis (any origin), temperatures °C, humidity a fraction 0..1 with NaN for
what is not known.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from curing.air import Climate, Readings

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
    known = readings.hours <= now
    hours, celsius, humidity = (
        part[known] for part in (readings.hours, readings.celsius, readings.humidity)
    )
    plan = _Plan(planned)
    if not len(hours):
        return _expected_only(planned, now)
    deviation = celsius - plan.celsius(hours)
    first, last = float(hours[0]), float(hours[-1])
    offset = _recent_mean(hours, deviation, last - lookback, gap_after)
    pieces = [_before(plan, first, float(deviation[0]), fade)]
    holes = np.flatnonzero(np.diff(hours) > gap_after)
    gaps = tuple((float(hours[i]), float(hours[i + 1])) for i in holes)
    starts = np.concatenate([[0], holes + 1])
    ends = np.concatenate([holes + 1, [len(hours)]])
    for number, (start, end) in enumerate(zip(starts, ends, strict=True)):
        pieces.append(
            _Part(hours[start:end], celsius[start:end], humidity[start:end], measured=True)
        )
        if number < len(gaps):
            pieces.append(
                _bridge(plan, gaps[number], float(deviation[end - 1]), float(deviation[end]))
            )
    pieces.append(_after(plan, last, offset, float(deviation[-1]) - offset, fade))
    return _joined(
        pieces, plan, now=now, last=last, gaps=gaps, offset=offset, stale=now - last > stale_after
    )


@dataclass(frozen=True, eq=False)
class _Part:
    hours: Array
    celsius: Array
    humidity: Array
    measured: bool


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


def _expected_only(planned: Readings, now: float) -> Climate:
    return Climate(
        hours=planned.hours,
        celsius=planned.celsius,
        humidity=planned.humidity,
        measured=np.zeros(len(planned.hours) - 1, dtype=bool),
        now=now,
        stale=True,
    )


def _recent_mean(hours: Array, deviation: Array, since: float, gap_after: float) -> float:
    """Time-weighted mean deviation of the readings since then, holes left out."""
    recent = hours >= since
    times, values = hours[recent], deviation[recent]
    if len(times) < 2:
        return float(values[-1])
    lengths = np.diff(times)
    lengths = np.where(lengths > gap_after, 0.0, lengths)
    if not lengths.sum() > 0:
        return float(values.mean())
    return float((lengths * 0.5 * (values[:-1] + values[1:])).sum() / lengths.sum())


def _before(plan: _Plan, first: float, deviation: float, fade: float) -> _Part:
    hours, celsius, humidity = plan.inside(-np.inf, first)
    return _Part(hours, celsius + deviation * np.exp(-(first - hours) / fade), humidity, False)


def _bridge(plan: _Plan, gap: tuple[float, float], left: float, right: float) -> _Part:
    hours, celsius, humidity = plan.inside(*gap)
    share = (hours - gap[0]) / (gap[1] - gap[0])
    return _Part(hours, celsius + left + (right - left) * share, humidity, False)


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
    return _Part(hours, corrected, humidity, False)


def _joined(
    parts: list[_Part],
    plan: _Plan,
    *,
    now: float,
    last: float,
    gaps: tuple[tuple[float, float], ...],
    offset: float,
    stale: bool,
) -> Climate:
    hours = np.concatenate([part.hours for part in parts])
    celsius = np.concatenate([part.celsius for part in parts])
    humidity = np.concatenate([part.humidity for part in parts])
    owned = np.concatenate([np.full(len(part.hours), part.measured) for part in parts])
    block = np.concatenate([np.full(len(part.hours), n) for n, part in enumerate(parts)])
    if len(hours) == 1:  # one reading at the very end of the plan
        hours, celsius = np.append(hours, hours[0] + 1.0), np.append(celsius, celsius[0])
        humidity, owned = np.append(humidity, humidity[0]), np.append(owned, False)
        block = np.append(block, len(parts))
    # What was not measured of the humidity is taken from the plan.
    humidity = np.where(np.isfinite(humidity), humidity, plan.humidity(hours))
    measured = owned[:-1] & owned[1:] & (block[:-1] == block[1:])
    return Climate(
        hours=hours,
        celsius=celsius,
        humidity=humidity,
        measured=measured,
        now=now,
        last_measured=last,
        gaps=gaps,
        offset=offset,
        stale=stale,
    )
