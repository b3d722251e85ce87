"""What the part 'Seal coats' shows, on the page and on the sheet."""

from __future__ import annotations

from dataclasses import dataclass

from jobs.piece.coat_figure import NARROW, WIDE, CoatFigure, HourRow, hour_rows
from jobs.piece.coat_words import (
    CoatRow,
    LimitRow,
    NowWords,
    coat_rows,
    limit_rows,
    now_words,
)
from jobs.services.coats import SealCoats, seal_coats
from jobs.services.course import OpenPiece
from shop.localtime import to_hours
from shop.models import Shop


@dataclass(frozen=True)
class CoatPart:
    seal: SealCoats
    shop: Shop
    at: float  # the present moment [h]

    @property
    def rows(self) -> list[CoatRow]:
        return coat_rows(self.seal, self.shop)

    @property
    def all_fit(self) -> bool:
        return all(row.fits for row in self.rows)

    @property
    def limits(self) -> list[LimitRow]:
        return limit_rows(self.seal, self.shop)

    @property
    def now(self) -> NowWords | None:
        return now_words(self.seal, self.shop)

    @property
    def figures(self) -> list[CoatFigure]:
        return [CoatFigure(self.seal, self.shop, size, self.at) for size in (WIDE, NARROW)]

    @property
    def hours(self) -> list[HourRow]:
        return hour_rows(CoatFigure(self.seal, self.shop, WIDE, self.at))


def coat_part(opened: OpenPiece) -> CoatPart | None:
    """None for a route without coats."""
    facts = opened.facts
    seal = seal_coats(facts, opened.piece, opened.outlook)
    return None if seal is None else CoatPart(seal, facts.shop, to_hours(facts.now))
