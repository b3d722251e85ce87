"""One run as the desk shows it: its sheet, what was weighed, the forms for both."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from curing.weigh_record import Record
from curing.weigh_sheet import Sheet
from jobs.mixing.forms import StrikeForm, TickForm
from jobs.models import MixerRun
from jobs.services.mixing import CastRuns, Planned
from jobs.services.run_words import sheet_note
from jobs.services.scales import large_scale
from jobs.services.sheet_words import RatioLine, Take, ratio_lines, takes_of
from jobs.services.ticks import may_strike_tick
from jobs.services.weigh_sheets import (
    Frozen,
    ShownLine,
    layer_words,
    lines_of,
    read_sheet,
    record_with,
    weighed_of,
)
from shop.limit_words import LimitNote
from shop.models import Person, Shop


@dataclass(frozen=True)
class ForPiece:
    """What a run gives to a layer of some pieces [m³, kg]."""

    layer: str
    pieces: str
    m3: float
    kg: float


@dataclass(frozen=True)
class LineRow:
    line: ShownLine
    form: TickForm | None
    may_take_back: bool


class SheetCard:
    """What an opened and a planned run have in common."""

    shop: Shop
    frozen: Frozen
    parts: list[Mapping[str, object]]

    @cached_property
    def sheet(self) -> Sheet | None:
        return read_sheet(self.frozen) if self.frozen.get("lines") else None

    @cached_property
    def lines(self) -> list[ShownLine]:
        return lines_of(self.frozen, self.shop)

    @property
    def kg(self) -> float:
        return sum(float(str(part["kg"])) for part in self.parts)

    @property
    def m3(self) -> float:
        return sum(float(str(part["m3"])) for part in self.parts)

    @property
    def serves(self) -> list[ForPiece]:
        found = []
        for layer in dict.fromkeys(str(part["layer"]) for part in self.parts):
            these = [part for part in self.parts if part["layer"] == layer]
            codes = dict.fromkeys(str(part["piece"]) for part in these)
            m3, kg = (sum(float(str(part[name])) for part in these) for name in ("m3", "kg"))
            found.append(ForPiece(layer_words(layer), ", ".join(codes), m3, kg))
        return found

    @property
    def layers(self) -> str:
        return ", ".join(one.layer for one in self.serves)

    @property
    def takes(self) -> list[Take]:
        return takes_of(self.sheet, large_scale(self.shop)) if self.sheet else []

    @property
    def ratios(self) -> list[RatioLine]:
        return ratio_lines(self.sheet) if self.sheet else []

    @property
    def notes(self) -> list[LimitNote]:
        scales = {line.key: line.scale for line in self.lines}
        found = []
        for note in self.sheet.notes if self.sheet else ():
            scale = scales.get(note.text.partition(": ")[0], large_scale(self.shop))
            found.append(sheet_note(note, scale))
        return found

    @property
    def moisture(self) -> list[tuple[str, float]]:
        return list(self.frozen.get("moisture", {}).items())


class PlannedCard(SheetCard):
    def __init__(self, planned: Planned, shop: Shop) -> None:
        self.planned, self.shop, self.frozen = planned, shop, planned.sheet
        self.parts = [
            {"piece": p.piece, "layer": p.layer, "m3": p.m3, "kg": p.kg} for p in planned.run.parts
        ]

    @property
    def number(self) -> int:
        return self.planned.number

    @property
    def trouble(self) -> str:
        return self.planned.trouble


@dataclass
class Looker:
    """Who looks, when, what they may, and the lot that was last written down by line."""

    person: Person
    shop: Shop
    now: dt.datetime
    may_weigh: bool
    lots: Mapping[str, str] = field(default_factory=dict)


class RunCard(SheetCard):
    """forms : what was typed and refused, by line; strike_form : the same of a reason"""

    def __init__(
        self,
        run: MixerRun,
        looker: Looker,
        forms: Mapping[str, TickForm] | None = None,
        strike_form: StrikeForm | None = None,
        said: str = "",
    ) -> None:
        self.run, self.looker, self.shop, self.frozen = run, looker, looker.shop, run.sheet
        self.parts, self.forms, self.said = run.parts, forms or {}, said
        self._strike_form = strike_form

    @property
    def number(self) -> int:
        return self.run.number

    @property
    def struck(self) -> bool:
        return self.run.struck_at is not None

    @cached_property
    def lines(self) -> list[ShownLine]:
        return lines_of(self.frozen, self.shop, weighed_of(self.run))

    @property
    def rows(self) -> list[LineRow]:
        return [self._row(place, line) for place, line in enumerate(self.lines)]

    def _row(self, place: int, line: ShownLine) -> LineRow:
        looker, weighed = self.looker, line.weighed
        may = looker.may_weigh and not self.struck
        form = self.forms.get(line.key)
        if may and form is not None:
            form.fields["weight"].widget.attrs["autofocus"] = True
        if may and form is None:
            lot = line.lot or looker.lots.get(line.key, "")
            form = self.tick_form(place, line, initial={"line": line.key, "lot": lot})
            if self.said and line.key == self.next_key:
                form.fields["weight"].widget.attrs["autofocus"] = True
        back = bool(may and weighed and may_strike_tick(weighed, looker.person, looker.now))
        return LineRow(line, form if may else None, back)

    def tick_form(self, place: int, line: ShownLine, **kwargs: object) -> TickForm:
        return TickForm(
            shop=self.shop,
            scale=line.scale,
            name=line.key,
            auto_id=f"run-{self.run.pk}-{place}-%s",
            **kwargs,
        )

    @cached_property
    def next_key(self) -> str:
        """The line to weigh next; where the hand goes after one is kept."""
        return next((line.key for line in self.lines if line.weighed is None), "")

    @property
    def strike_form(self) -> StrikeForm:
        return self._strike_form or StrikeForm(shop=self.shop, auto_id=f"strike-{self.run.pk}-%s")

    @property
    def strike_typed(self) -> bool:
        return self._strike_form is not None

    @cached_property
    def done(self) -> int:
        return sum(line.weighed is not None for line in self.lines)

    @property
    def complete(self) -> bool:
        return bool(self.lines) and self.done == len(self.lines)

    @property
    def off(self) -> list[ShownLine]:
        return [line for line in self.lines if line.within is False]

    @cached_property
    def record(self) -> Record | None:
        """Once something is weighed."""
        if not self.done:
            return None
        try:
            return record_with(
                self.run, {line.key: line.weighed.kg for line in self.lines if line.weighed}
            )
        except ValueError:  # weighed without cement: the lines say so by themselves
            return None

    @property
    def ratios(self) -> list[RatioLine]:
        return ratio_lines(self.sheet, self.record) if self.sheet else []


@dataclass(frozen=True)
class CastCards:
    runs: CastRuns
    opened: list[RunCard]
    planned: list[PlannedCard]
    struck: list[RunCard]


def cards_of(runs: CastRuns, looker: Looker, changed: RunCard | None = None) -> CastCards:
    def card(run: MixerRun) -> RunCard:
        return changed if changed and changed.run.pk == run.pk else RunCard(run, looker)

    return CastCards(
        runs=runs,
        opened=[card(run) for run in runs.opened],
        planned=[PlannedCard(one, runs.shop) for one in runs.planned],
        struck=[card(run) for run in runs.struck],
    )
