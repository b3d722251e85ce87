"""A cast's runs and one run's weigh sheet, as the crew reads them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

from django.utils.translation import gettext as _

from curing.mixture import GRAINS
from jobs.floor import mix_words, wording
from jobs.floor.run_forms import AddedForm, OpenForm, SpoiledForm, TickForm
from jobs.floor.wording import Care
from jobs.models import Batch, Mark, MixerRun, Weighed
from jobs.services.added_water import added_seen
from jobs.services.last_lots import last_lots
from jobs.services.mix_names import basis, component, line_name
from jobs.services.mixing import CastRuns, Planned, cast_runs, moisture_of_day
from jobs.services.standing import standing_of
from jobs.services.ticks import may_strike_tick
from jobs.services.weigh_sheets import ShownLine, layer_words, shown_lines
from shop import measures
from shop.access import may
from shop.cautions import AT_MIXER
from shop.limit_words import LimitNote
from shop.models import Person, Shop

NO_LOT = {"water"}


def cautions() -> list[Care]:
    return wording.cares(AT_MIXER)


def percent(share: float) -> str:
    return f"{100 * share:.3g} %"


@dataclass(frozen=True)
class Mixing:
    """Who stands at the mixer, and when."""

    person: Person
    shop: Shop
    now: dt.datetime

    @property
    def may_weigh(self) -> bool:
        return may(self.person, "mixing.weigh")

    def weight(self, kg: float) -> str:
        return measures.words(kg, "scale", self.shop)


@dataclass(frozen=True)
class RunCard:
    """A run on the list of a cast's runs; opened, or still only planned."""

    number: int
    serves: list[tuple[str, str]]
    weight: str
    opened: MixerRun | None = None
    planned: Planned | None = None
    form: OpenForm | None = None
    weighed: int = 0
    lines: int = 0

    @property
    def full(self) -> bool:
        return self.weighed == self.lines

    @property
    def started(self) -> bool:
        return self.weighed > 0


@dataclass(frozen=True)
class CastPage:
    mixing: Mixing
    runs: CastRuns
    notice: str = ""
    forms: Mapping[int, OpenForm] = field(default_factory=dict)

    @property
    def batch(self) -> Batch:
        return self.runs.batch

    @property
    def codes(self) -> str:
        return ", ".join(piece.code for piece in self.runs.pieces)

    @property
    def when(self) -> str:
        return wording.when(self.batch.planned_for, self.mixing.now)

    @property
    def notes(self) -> list[LimitNote]:
        """As few as say it: what is split by area is split by layer, too; a basis is said once."""
        notes = self.runs.notes
        if any(note.key == "split-by-area" for note in notes):
            notes = tuple(note for note in notes if note.key != "split-by-layer")
        after = [*(note.basis for note in notes), ""][1:]
        return [
            replace(note, basis="") if note.basis == follows else note
            for note, follows in zip(notes, after, strict=True)
        ]

    @cached_property
    def cards(self) -> list[RunCard]:
        cards = [self._opened(run) for run in self.runs.opened]
        cards += [self._planned(one) for one in self.runs.planned]
        return sorted(cards, key=lambda card: card.number)

    @property
    def whole(self) -> str:
        return measures.words(self.runs.kg, "weight", self.mixing.shop)

    @property
    def all_weighed(self) -> bool:
        return all(card.opened and card.full for card in self.cards)

    @property
    def all_cast(self) -> bool:
        return all(cast_at(list(piece.marks.all())) for piece in self.runs.pieces)

    def _opened(self, run: MixerRun) -> RunCard:
        lines = shown_lines(run, self.mixing.shop)
        return RunCard(
            number=run.number,
            serves=serves([(part["layer"], part["piece"]) for part in run.parts]),
            weight=self._weight(sum(part["kg"] for part in run.parts)),
            opened=run,
            weighed=sum(line.weighed is not None for line in lines),
            lines=len(lines),
        )

    def _planned(self, one: Planned) -> RunCard:
        return RunCard(
            number=one.number,
            serves=serves([(part.layer, part.piece) for part in one.run.parts]),
            weight=self._weight(one.run.kg),
            planned=one,
            form=self.forms.get(one.number) or self.open_form(one),
        )

    def open_form(self, one: Planned, data: Any = None) -> OpenForm:
        wet = self.moist_today if data is None else {}
        initial = {
            f"moisture_{place}": wet.get(name) for place, name in enumerate(self.runs.grains)
        }
        return OpenForm(
            data,
            shop=self.mixing.shop,
            grains=self.runs.grains,
            written=self.written,
            auto_id=f"run-{one.number}-%s",
            initial={**initial, "seal": one.seal},
        )

    @cached_property
    def moist_today(self) -> dict[str, float]:
        return moisture_of_day(self.mixing.now, self.mixing.shop)

    @cached_property
    def written(self) -> list[str]:
        """The moisture at which the recipe has each sand."""
        parts = self.runs.recipe.parts.all() if self.runs.recipe else ()
        return [
            _("surface-dry") if part.written_moisture is None else percent(part.written_moisture)
            for part in parts
            if part.role in GRAINS
        ]

    def _weight(self, kg: float) -> str:
        return measures.words(kg, "weight", self.mixing.shop)


def serves(parts: Iterable[tuple[str, str]]) -> list[tuple[str, str]]:
    """(layers, pieces) from (layer, piece): layers that go to the same pieces stand together."""
    pieces: dict[str, set[str]] = {}
    for layer, piece in parts:
        pieces.setdefault(layer, set()).add(piece)
    layers: dict[str, list[str]] = {}
    for layer, codes in pieces.items():
        layers.setdefault(pieces_of(sorted(codes)), []).append(layer)
    return [(layers_of(these), codes) for codes, these in layers.items()]


def layers_of(layers: Sequence[str]) -> str:
    return ", ".join(layer_words(layer) for layer in dict.fromkeys(layers))


def pieces_of(codes: Sequence[str]) -> str:
    return ", ".join(sorted(set(codes)))


def cast_at(marks: Sequence[Mark]) -> dt.datetime | None:
    """Of a piece; only a mark of its casting names a batch."""
    done = standing_of(marks).done.values()
    return next((mark.happened_at for mark in done if mark.batch_id), None)


def cast_page(mixing: Mixing, batch: Batch, **more: Any) -> CastPage:
    return CastPage(mixing, cast_runs(batch), **more)


@dataclass(frozen=True)
class SheetLine:
    """One line of the sheet with its forms and what is said of it."""

    sheet: RunSheet
    place: int
    shown: ShownLine
    lots: list[str]
    notice: str = ""
    typed: TickForm | None = None

    @property
    def slot(self) -> str:
        return f"line-{self.place}"

    @property
    def name(self) -> str:
        return component(self.shown.name)

    @property
    def is_next(self) -> bool:
        return self.sheet.next_place == self.place

    @property
    def opens(self) -> bool:
        return self.is_next or bool(self.notice)

    @property
    def has_lot(self) -> bool:
        return self.shown.role not in NO_LOT

    @property
    def weighed(self) -> Weighed | None:
        return self.shown.weighed

    @property
    def strikable(self) -> bool:
        mixing = self.sheet.mixing
        row = self.weighed
        return bool(
            row and self.sheet.may_weigh and may_strike_tick(row, mixing.person, mixing.now)
        )

    @cached_property
    def form(self) -> TickForm:
        if self.typed is not None:
            return self.typed
        return self.make_form()

    def make_form(self, data: Any = None) -> TickForm:
        lot = self.shown.lot or (self.lots[0] if self.lots else "")
        form = TickForm(
            data,
            scale=self.shown.scale,
            shop=self.sheet.mixing.shop,
            auto_id=f"{self.slot}-%s",
            initial={"line": self.shown.key, "lot": lot},
        )
        scale, line = self.shown.scale, self.shown.line
        # So that the phone says at once, without signal too, what is off.
        form.fields["weight"].widget.attrs |= {
            "data-wanted": f"{scale.number(line.exact_kg):.6f}",
            "data-off": f"{scale.number(line.tolerance_kg):.6f}",
            "data-unit": scale.unit,
            "data-decimals": str(scale.decimals),
        }
        form.fields["lot"].widget.attrs["list"] = f"{self.slot}-lots"
        return form

    @property
    def off(self) -> str:
        """What is wrong with the weight that stands, and what to do; empty within tolerance."""
        if self.weighed is None or self.shown.within is not False:
            return ""
        off = self.weighed.kg - self.shown.line.exact_kg
        amount = self.shown.scale.words(abs(off), more=1)
        words = mix_words.TOO_MUCH if off > 0 else mix_words.TOO_LITTLE
        said = str(words) % {"off": amount, "tolerance": self.shown.tolerance}
        if off > 0 and self.shown.role == "water":
            said += " " + _("More water makes it weaker.")
        return said

    @property
    def is_last(self) -> bool:
        """What was recorded last of all."""
        rows = [row.pk for row in self.sheet.run.weighed.all()]
        return self.weighed is not None and self.weighed.pk == max(rows)

    @property
    def basis(self) -> str:
        return basis(self.shown.basis)


@dataclass(frozen=True)
class RunSheet:
    mixing: Mixing
    run: MixerRun
    shown: tuple[ShownLine, ...]
    lots: Mapping[str, list[str]]
    line_key: str = ""  # whose form came back
    notice: str = ""
    form: TickForm | None = None
    added: AddedForm | None = None
    added_notice: str = ""
    strike: SpoiledForm | None = None

    @cached_property
    def lines(self) -> list[SheetLine]:
        return [
            SheetLine(
                self,
                place,
                shown,
                list(self.lots.get(shown.name, ())),
                notice=self.notice if shown.key == self.line_key else "",
                typed=self.form if shown.key == self.line_key else None,
            )
            for place, shown in enumerate(self.shown, start=1)
        ]

    def line(self, key: str) -> SheetLine | None:
        return next((line for line in self.lines if line.shown.key == key), None)

    def name_of(self, key: str) -> str:
        line = self.line(key)
        return line_name(line.shown.name, line.shown.line.layer) if line else key

    @cached_property
    def next_place(self) -> int | None:
        waiting = (n for n, line in enumerate(self.shown, start=1) if line.weighed is None)
        return next(waiting, None)

    @property
    def done(self) -> int:
        return sum(line.weighed is not None for line in self.shown)

    @property
    def complete(self) -> bool:
        return self.next_place is None

    @property
    def weighed(self) -> str:
        return self.mixing.weight(sum(line.weighed.kg for line in self.shown if line.weighed))

    @property
    def whole(self) -> str:
        return self.mixing.weight(sum(line.line.weigh_kg for line in self.shown))

    @property
    def left(self) -> str:
        rest = sum(line.line.weigh_kg for line in self.shown if line.weighed is None)
        return self.mixing.weight(rest)

    @property
    def serves(self) -> list[tuple[str, str]]:
        return serves([(part["layer"], part["piece"]) for part in self.run.parts])

    @property
    def pieces(self) -> str:
        return pieces_of([part["piece"] for part in self.run.parts])

    @property
    def takes(self) -> list[tuple[str, str, str]]:
        """How much matrix each layer gets and for which pieces, where the run serves several."""
        rows = self.run.sheet.get("matrix_kg", {})
        if len(rows) < 2:
            return []
        codes: dict[str, list[str]] = {}
        for part in self.run.parts:
            codes.setdefault(part["layer"], []).append(part["piece"])
        return [
            (layer_words(layer), pieces_of(codes.get(layer, ())), self.mixing.weight(kg))
            for layer, kg in rows.items()
        ]

    @property
    def sands(self) -> list[tuple[str, str]]:
        wet = self.run.sheet.get("moisture", {})
        return [(component(name), percent(share)) for name, share in wet.items()]

    @property
    def may_weigh(self) -> bool:
        return self.mixing.may_weigh and self.run.struck_at is None

    @property
    def code(self) -> str:
        """How a kept tick is called on the phone."""
        return _("%(pieces)s, run %(number)d") % {"pieces": self.pieces, "number": self.run.number}

    @property
    def token(self) -> str:
        """Changes when something on the page did."""
        rows = list(self.run.weighed.all())
        struck = sum(row.struck_at is not None for row in rows)
        fresh = sum(line.strikable for line in self.lines)
        last = max((row.pk for row in rows), default=0)
        gone = int(self.run.struck_at is not None)
        return f"{last}-{struck}-{fresh}-{self.run.version}-{gone}"

    @cached_property
    def added_form(self) -> AddedForm:
        if self.added is not None:
            return self.added
        initial: dict[str, Any] = {"version": self.run.version, "why": self.run.added_why}
        initial["seen"] = added_seen(self.run)
        if self.run.added_water_kg:
            initial["added"] = self.run.added_water_kg
        return AddedForm(shop=self.mixing.shop, auto_id="added-%s", initial=initial)

    @cached_property
    def strike_form(self) -> SpoiledForm:
        return self.strike or SpoiledForm(shop=self.mixing.shop, auto_id="spoiled-%s")

    @property
    def added_words(self) -> str:
        if not self.run.added_water_kg:
            return ""
        return f"{self.mixing.weight(self.run.added_water_kg)}: {self.run.added_why}"


def load_run(run_id: int) -> MixerRun | None:
    runs = MixerRun.objects.select_related(
        "batch__mix", "batch__room", "recipe__mix", "opened_by", "struck_by"
    )
    return runs.prefetch_related("weighed__by").filter(pk=run_id).first()


def run_sheet(mixing: Mixing, run: MixerRun, **more: Any) -> RunSheet:
    shown = tuple(shown_lines(run, mixing.shop))
    return RunSheet(mixing, run, shown, last_lots({line.name for line in shown}), **more)
