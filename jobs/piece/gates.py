"""What the steps ask of the concrete, as lines up to where the curve meets them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from jobs.piece.axis import LEFT, Axis, Scale
from jobs.piece.whisker import Whisker, whisker
from jobs.piece.words import listed
from jobs.services.course import AGE, Gate
from jobs.services.drying_course import HOURS, MODEL, WEIGHING
from shop.localtime import to_hours

LETTER = 6.2
UNITS = {AGE: "h", HOURS: "h", MODEL: "%", WEIGHING: "% a day"}
CLOSE = 14.0  # gates nearer than this share one line of words
UNDER, OVER = 14.0, 5.0


@dataclass(frozen=True)
class GateLine:
    gate: Gate
    value: float  # in the shop's unit, or hours
    y: float
    x: float  # where the curve meets it, or the axis' end
    met: bool  # already
    reached: bool  # within sight
    whisker: Whisker | None = None  # from its early to its late time

    @property
    def since(self) -> float:
        return min(self.x, self.whisker.since) if self.whisker else self.x

    @property
    def until(self) -> float:
        return max(self.x, self.whisker.until) if self.whisker else self.x

    @property
    def words(self) -> str:
        unit = UNITS.get(self.gate.criterion)
        figure = f"{self.value:,.0f}" if unit is None else f"{self.value:g} {unit}"
        return f"{listed(self.gate.steps)} {figure}" + ("" if self.reached else ", not reached")


@dataclass(frozen=True)
class GateLabel:
    x: float
    y: float
    words: str
    anchor: str = "start"


def gate_lines(
    gates: Sequence[Gate], values: Sequence[float], scale: Scale, axis: Axis, now: float
) -> list[GateLine]:
    return [
        _line(gate, value, scale.y(value), axis, now)
        for gate, value in zip(gates, values, strict=True)
    ]


def _line(gate: Gate, value: float, y: float, axis: Axis, now: float) -> GateLine:
    met_at = to_hours(gate.reached_at) if gate.reached_at else None
    within = met_at is not None and met_at <= axis.until
    return GateLine(
        gate=gate,
        value=value,
        y=y,
        x=axis.x(met_at) if met_at is not None and within else axis.right,
        met=met_at is not None and met_at <= now,
        reached=within,
        whisker=whisker(axis, y, gate.soonest_at, gate.latest_at),
    )


def gate_labels(lines: Sequence[GateLine], axis: Axis) -> list[GateLabel]:
    return [_label(group, axis) for group in _close_ones(lines)]


def _close_ones(lines: Sequence[GateLine]) -> Iterator[list[GateLine]]:
    group: list[GateLine] = []
    for line in sorted(lines, key=lambda line: line.y, reverse=True):
        if group and group[-1].y - line.y >= CLOSE:
            yield group
            group = []
        group.append(line)
    if group:
        yield group


def _label(group: Sequence[GateLine], axis: Axis) -> GateLabel:
    """Under the curve, right of where it meets the gates; near the end over it, on the left."""
    words = "; ".join(line.words for line in group)
    length = len(words) * LETTER
    x = max(line.until for line in group) + 7.0
    if x + length <= axis.right:
        return GateLabel(round(x, 1), round(max(line.y for line in group) + UNDER, 1), words)
    x = min(line.since for line in group) - 7.0
    y = round(min(line.y for line in group) - OVER, 1)
    if x - length >= LEFT:
        return GateLabel(round(x, 1), y, words, "end")
    return GateLabel(LEFT + 4.0, y, words)
