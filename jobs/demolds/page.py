"""What the page says of one kind of piece: its gates, its suggestion, its numbers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from curing.outcomes import STEP_CLEAN, Because, Outcome
from jobs.demolds.chart import Chart, ages_for
from jobs.models import PieceKind, TrustedAge
from jobs.services.trust import round_up
from jobs.services.trusted_ages import DemoldKind, Learned
from shop import measures
from shop.models import Shop

ROWS = 9


@dataclass(frozen=True)
class ChanceRow:
    age: float
    mean: float
    low: float
    high: float


@dataclass(frozen=True)
class CountRow:
    """Demolds of one hour of equivalent age."""

    hour: int
    clean: int
    soft: int
    chipped: int
    broken: int


@dataclass(frozen=True)
class PastLine:
    row: TrustedAge
    words: str
    struck: bool


@dataclass(frozen=True)
class KindPart:
    kind: DemoldKind
    shop: Shop

    @property
    def slot(self) -> str:
        return f"kind-{self.kind.alike.route_id}-{self.kind.alike.kind}"

    @property
    def title(self) -> str:
        return f"{self.kind.route.name}: {PieceKind(self.kind.alike.kind).label}"

    @property
    def learned(self) -> Learned | None:
        return self.kind.learned

    @property
    def at(self) -> str:
        return measures.warmth(self.shop)

    def _hours(self, hours: float) -> str:
        return f"{round_up(hours):.1f} h"

    @property
    def default(self) -> str:
        return self._hours(self.learned.default) if self.learned else ""

    @property
    def in_force(self) -> str:
        return self._hours(self.learned.in_force) if self.learned else ""

    @property
    def floor(self) -> str:
        return self._hours(self.learned.floor) if self.learned else ""

    @property
    def floor_words(self) -> str:
        """The floor, and whose it is."""
        if self.learned and self.learned.floor < self.shop.demold_floor_hours:
            return f"{self.floor}: the route's own gate, under the shop's floor"
        return f"{self.floor}, set by the owner in the settings"

    @property
    def in_force_words(self) -> str:
        learned, agreed = self.learned, self.kind.agreed
        if learned is None or learned.in_force == learned.default:
            return "the route's own gate"
        if learned.in_force > learned.default:
            return "later than the route's own gate, raised by the demolds" + self._raised_by()
        if agreed and agreed.by and learned.in_force == agreed.hours:
            return f"by {agreed.by.name}'s yes, from {agreed.outcomes} demolds"
        return "raised by the demolds" + self._raised_by()

    def _raised_by(self) -> str:
        agreed = self.kind.agreed
        if agreed is None or agreed.mark is None:
            return ""
        return f" when {agreed.mark.piece.code} came out {agreed.mark.outcome}"

    @cached_property
    def counts(self) -> dict[str, int]:
        tally = dict.fromkeys(map(str, Outcome), 0)
        for _age, outcome in self.kind.outcomes:
            tally[outcome] += 1
        return tally

    @property
    def counts_words(self) -> str:
        total = len(self.kind.outcomes)
        parts = [f"{count} {outcome}" for outcome, count in self.counts.items() if count]
        said = f"{total} {'demold' if total == 1 else 'demolds'} with an outcome"
        return f"{said}: {', '.join(parts)}." if parts else "No demold has an outcome yet."

    @property
    def asks(self) -> bool:
        return bool(self.learned and self.learned.suggestion.asks_yes)

    @property
    def suggested(self) -> str:
        return self._hours(self.learned.suggested) if self.learned else ""

    @property
    def gain(self) -> str:
        if self.learned is None:
            return ""
        return f"{self.learned.in_force - self.learned.suggested:.1f} h"

    @property
    def verdict(self) -> str:
        """Why this age, or why none earlier."""
        learned = self.learned
        if learned is None:
            return (
                "The demold step of this route asks for no strength and no age that this mix "
                "reaches, so there is no gate to learn from."
            )
        trusted = learned.evidence.trusted(learned.suggestion.target)
        because = Because.FLOOR if learned.floor > trusted.hours else trusted.because
        return self._reason(because, trusted.hours)

    def _reason(self, because: Because, hours: float) -> str:
        clean = self.counts[Outcome.CLEAN]
        if because is Because.FLOOR:
            return f"The demolds would allow less: {self.floor} is the shop's floor."
        if because is Because.BROKEN:
            return "It stays 5 % above the latest age at which a piece broke."
        if because is Because.STEP and clean < STEP_CLEAN:
            return (
                f"The age comes down only after {STEP_CLEAN} came out clean: {clean} "
                f"{'has' if clean == 1 else 'have'} so far."
            )
        if because is Because.STEP:
            return (
                f"It comes down by steps that were seen to hold: never more than 10 % below an age "
                f"by which {STEP_CLEAN} came out clean."
            )
        return (
            f"By these demolds at least 95 % come out clean from {self._hours(hours)} on, with a "
            "credence of 95 %: there the band's lower edge meets 95 %."
        )

    @property
    def charts(self) -> list[Chart]:
        if self.learned is None:
            return []
        sizes = ((760, 400, "wide"), (380, 380, "narrow"))
        return [Chart(self.kind, self.learned, *size) for size in sizes]

    @property
    def chances(self) -> list[ChanceRow]:
        if self.learned is None:
            return []
        learned = self.learned
        marks = {learned.default, learned.in_force, learned.floor, learned.suggestion.suggested}
        low, high = ages_for(self.kind, learned)
        ages = sorted({round(float(age)) for age in np.geomspace(low, high, ROWS)} | marks)
        curve = learned.evidence.curve([age for age in ages if age > 0])
        rows = zip(curve.ages, curve.mean, curve.low, curve.high, strict=True)
        return [ChanceRow(*map(float, row)) for row in rows]

    @property
    def rows(self) -> list[CountRow]:
        found: dict[int, dict[str, int]] = {}
        for age, outcome in self.kind.outcomes:
            row = found.setdefault(int(age), dict.fromkeys(map(str, Outcome), 0))
            row[outcome] += 1
        return [CountRow(hour, **found[hour]) for hour in sorted(found)]

    @property
    def past(self) -> Iterator[PastLine]:
        for row in self.kind.history[:12]:
            struck = row.mark is not None and hasattr(row.mark, "struck_by")
            yield PastLine(row, self._past_words(row), struck)

    def _past_words(self, row: TrustedAge) -> str:
        if row.mark is not None:
            return (
                f"raised to {self._hours(row.hours or 0.0)} when {row.mark.piece.code} came out "
                f"{row.mark.outcome}"
            )
        who = row.by.name if row.by else ""
        if row.hours is None:
            return f"taken back by {who}"
        return f"{self._hours(row.hours)} by {who}'s yes, from {row.outcomes} demolds"
