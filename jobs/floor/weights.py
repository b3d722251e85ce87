"""Weights on the floor: what the scale has shown of a piece whose next step waits for it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from django.utils.translation import gettext as _

from jobs.floor.wording import when
from jobs.models import Piece
from jobs.services.outlook import PieceOutlook
from jobs.services.weighing import LEAST_APART
from jobs.services.weighing_entry import may_strike
from jobs.services.weighing_record import WeighRecord, WeighRow, record_of
from shop import measures
from shop.models import DryingRule, Person, Shop, StepKind
from shop.templatetags.measures import moment

WEIGHING = "weighing"


@dataclass(frozen=True)
class WeightLine:
    row: WeighRow
    weight: str
    loss: str
    strikable: bool


@dataclass(frozen=True)
class Weights:
    """What is said of a piece's weights, in words."""

    record: WeighRecord
    shop: Shop
    person: Person
    now: dt.datetime

    @property
    def limit(self) -> str:
        return percent(self.record.limit_percent)

    @property
    def limit_weight(self) -> str:
        """What the limit is of this piece, where its weight is known: its scale must show it."""
        if self.record.limit_kg is None:
            return ""
        return fine_weight(self.record.limit_kg, self.shop)

    @property
    def standing(self) -> str:
        """Where it stands, in a sentence."""
        last = self.record.last
        if last is None:
            return _("Not weighed since its last wetting.")
        facts = {
            "weight": measures.words(last.weighing.kg, "scale", self.shop),
            "when": when_shown(last.weighing.at, self.now),
        }
        return _("Last %(weight)s, %(when)s.") % facts + " " + self._loss(last.percent_a_day)

    def _loss(self, percent_a_day: float | None) -> str:
        if percent_a_day is None:
            return _("Weigh it again a day later to see the loss.")
        if percent_a_day < 0:
            return _("It has gained weight. Look at the scale, and whether it was wet.")
        facts = {"loss": percent(percent_a_day), "limit": self.limit}
        if self.record.dry_at is not None:
            return _("Loses %(loss)s a day, under the limit of %(limit)s: dry.") % facts
        return _("Loses %(loss)s a day; dry under %(limit)s.") % facts

    @property
    def again(self) -> str:
        """When it is time to weigh it again; empty while that is now, or it is dry."""
        at = self.record.next_at
        if at is None or self.due or self.record.dry_at is not None:
            return ""
        return when(at, self.now)

    @property
    def due(self) -> bool:
        """Another weight would show something: never weighed, or long enough since."""
        last = self.record.last
        if self.record.dry_at is not None:
            return False
        return last is None or self.now - last.weighing.at >= dt.timedelta(hours=LEAST_APART)

    @property
    def last_line(self) -> WeightLine | None:
        last = self.record.last
        return next((line for line in self.lines if line.row is last), None)

    @cached_property
    def lines(self) -> list[WeightLine]:
        return [
            WeightLine(
                row=row,
                weight=measures.words(row.weighing.kg, "scale", self.shop),
                loss=percent(row.percent_a_day) if row.percent_a_day is not None else "–",
                strikable=may_strike(row.weighing, self.person, self.now),
            )
            for row in self.record.rows
        ]


def percent(value: float) -> str:
    text = f"{value:.2f}".replace("-", "−")
    return f"{text} %"


def fine_weight(kg: float, shop: Shop) -> str:
    """A small weight to two figures: '0.10 lb', '0.045 kg'."""
    decimals = 2 if shop.us else 3
    sign = measures.sign("scale", shop)
    return f"{measures.shown(kg, 'scale', shop):.{decimals}f} {sign}"


def when_shown(at: dt.datetime, now: dt.datetime) -> str:
    return when(at, now) if at > now else moment(at)


def waits_for_scale(piece: PieceOutlook) -> bool:
    """Its next step waits for the scale to show it dry, or the scale has just shown it."""
    step = piece.next_step
    return step is not None and any(wait.criterion == WEIGHING for wait in step.waits)


def last_wetting(piece: PieceOutlook) -> dt.datetime | None:
    wetting = (s.done_at for s in piece.steps if s.wets or s.kind == StepKind.DEMOLD)
    return max((at for at in wetting if at), default=None)


def records_of(pieces: Iterable[PieceOutlook]) -> Mapping[int, WeighRecord]:
    """By piece, of those that wait for the scale; in as many queries for one as for a hundred."""
    waiting = {piece.piece_id: piece for piece in pieces if waits_for_scale(piece)}
    rows = Piece.objects.filter(pk__in=waiting).select_related("route")
    return {
        row.pk: record_of(
            list(row.weighings.all()), last_wetting(waiting[row.pk]), row.route.weigh_percent
        )
        for row in rows.prefetch_related("weighings__by", "weighings__struck_by")
    }


def record_on_page(piece: Piece, outlook: PieceOutlook) -> WeighRecord | None:
    """None for a piece that was never weighed and whose route does not ask for it."""
    rows = list(piece.weighings.select_related("by", "struck_by"))
    if not rows and piece.route.drying_rule != DryingRule.WEIGHING:
        return None
    return record_of(rows, last_wetting(outlook), piece.route.weigh_percent)
