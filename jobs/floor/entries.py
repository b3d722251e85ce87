"""One line of the floor: a piece with its next step, or a cast with its pieces."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

from django.utils import timezone

from jobs.floor import wording
from jobs.floor.coating import CoatCard, CoatingAir, coat_card
from jobs.floor.forms import CastForm, MarkForm, ReasonForm, WeighForm
from jobs.floor.lifting import lifting_line
from jobs.floor.weights import Weights, waits_for_scale
from jobs.models import Mark, Outcome
from jobs.services.corrections import TAKE_BACK
from jobs.services.evaporation import CastAir
from jobs.services.outlook import JobOutlook, PieceOutlook, StepOutlook
from jobs.services.standing import Standing
from jobs.services.weighing_record import WeighRecord
from shop.cautions import for_step
from shop.models import Person, Shop, StepKind

if TYPE_CHECKING:
    from jobs.floor.wording import Care, Wait


# Moments are whole minutes, rounded up: what is due within this one is due.
SAME_MINUTE = dt.timedelta(minutes=1)


@dataclass(frozen=True)
class Looker:
    """Who looks at the floor, when, and what they may do."""

    person: Person
    shop: Shop
    now: dt.datetime
    may_mark: bool
    urethanes: frozenset[str] = frozenset()  # sealers with isocyanates

    @cached_property
    def coating(self) -> CoatingAir:
        """Asked for where a coat is next; read once."""
        return CoatingAir.read()

    def can_take_back(self, mark: Mark) -> bool:
        return self.may_mark and self.is_fresh(mark)

    def is_fresh(self, mark: Mark) -> bool:
        return mark.by_id == self.person.pk and self.now - mark.recorded_at <= TAKE_BACK


@dataclass(frozen=True)
class OutcomeChoice:
    value: str
    label: str


@dataclass(frozen=True)
class Entry:
    looker: Looker
    job: JobOutlook
    piece: PieceOutlook
    standing: Standing
    forms: Mapping[str, Any] = field(default_factory=dict)  # what was typed and refused
    notice: str = ""  # why it was refused
    said: str = ""  # what was recorded just now
    record: WeighRecord | None = None  # what the scale has shown

    @property
    def slot(self) -> str:
        return f"piece-{self.piece.code}"

    @cached_property
    def step(self) -> StepOutlook | None:
        return self.piece.next_step

    @property
    def step_name(self) -> str:
        return wording.step_name(self.step) if self.step else ""

    @property
    def mark_label(self) -> str:
        return wording.mark_label(self.step.kind) if self.step else ""

    @property
    def demolds(self) -> bool:
        """Its next step is the demold, which comes out one way or another."""
        return bool(self.step and self.step.kind == StepKind.DEMOLD)

    @property
    def outcomes(self) -> list[OutcomeChoice]:
        return [OutcomeChoice(one, str(words)) for one, words in wording.OUTCOME_LABELS.items()]

    @property
    def said_outcome(self) -> str:
        """What was tapped before the mark was refused."""
        said = self.mark_form.data.get("outcome", "") if self.mark_form.is_bound else ""
        return said if said in Outcome.values else ""

    @property
    def said_outcome_words(self) -> str:
        return str(wording.OUTCOME_WORDS[Outcome(self.said_outcome)]) if self.said_outcome else ""

    @property
    def broken(self) -> bool:
        """It broke on demolding, and nobody has held it or given it up since."""
        marks = self.standing.done.values()
        return not self.hold and any(mark.outcome == Outcome.BROKEN for mark in marks)

    @property
    def hold(self) -> Mark | None:
        return self.standing.hold

    @cached_property
    def fresh(self) -> Mark | None:
        """The mark just made here, which a second tap takes back."""
        last = self.standing.last
        return last if last and self.looker.can_take_back(last) else None

    @property
    def fresh_name(self) -> str:
        return wording.translated(self.fresh.step_name) if self.fresh else ""

    @property
    def fresh_outcome(self) -> str:
        return wording.outcome_words(self.fresh)

    @property
    def fresh_when(self) -> str:
        return wording.when(self.fresh.happened_at, self.looker.now) if self.fresh else ""

    @property
    def open_now(self) -> bool:
        """The concrete, the sealer's air and the shift allow the step at this moment."""
        step, now = self.step, self.looker.now
        return bool(
            step
            and not self.hold
            and not self.unplanned
            and not self.unweighed
            and step.earliest
            and step.workable
            and step.earliest < now + SAME_MINUTE
            and step.workable < now + SAME_MINUTE
        )

    @property
    def unplanned(self) -> bool:
        """To be cast, but the owner has set no time for it."""
        return self.piece.cast_at is None and self.piece.cast_planned is None

    @property
    def allowed_now(self) -> bool:
        """Marked now, it would not be early: crew hours keep nobody from having done it."""
        step = self.step
        if step and step.kind == StepKind.CAST:
            return True
        if self.unweighed or step is None or step.earliest is None:
            return False
        if step.earliest >= self.looker.now + SAME_MINUTE:
            return False
        return step.held_by != "sealing air" or self.open_now

    @property
    def when(self) -> str:
        step = self.step
        if self.unplanned:
            return ""
        return wording.when(step.workable, self.looker.now) if step and step.workable else ""

    @cached_property
    def coat(self) -> CoatCard | None:
        """The air for the next step, where that is a coat."""
        return coat_card(self.step, self.piece, self.looker)

    @property
    def waits(self) -> list[Wait]:
        return wording.waits(self.step, self.piece, self.looker) if self.step else []

    @property
    def lifting(self) -> str:
        return lifting_line(self.step, self.piece, self.looker)

    @property
    def cautions(self) -> list[Care]:
        return step_cautions(self.step, self.piece, self.looker)

    @property
    def heavy(self) -> bool:
        return bool(self.step and self.step.people > 2)

    @cached_property
    def mark_form(self) -> MarkForm:
        return self.forms.get("mark") or MarkForm(
            shop=self.looker.shop,
            auto_id=f"{self.piece.code}-%s",
            initial={
                "step_key": self.step.key if self.step else "",
                "happened_at": [timezone.localdate(self.looker.now), None, None],
            },
        )

    @property
    def to_weigh(self) -> bool:
        """Its next step waits for the scale."""
        return waits_for_scale(self.piece) and self.weights is not None

    @property
    def unweighed(self) -> bool:
        """It waits for the scale, which has not shown it dry."""
        return self.to_weigh and self.record is not None and self.record.dry_at is None

    @property
    def weighing_due(self) -> bool:
        return bool(self.to_weigh and self.weights and self.weights.due)

    @cached_property
    def weights(self) -> Weights | None:
        if self.record is None:
            return None
        return Weights(self.record, self.looker.shop, self.looker.person, self.looker.now)

    @cached_property
    def weigh_form(self) -> WeighForm:
        return self.forms.get("weigh") or WeighForm(
            shop=self.looker.shop,
            auto_id=f"{self.piece.code}-weigh-%s",
            initial={"happened_at": [timezone.localdate(self.looker.now), None, None]},
        )

    @cached_property
    def hold_form(self) -> ReasonForm:
        return self._reason_form("hold")

    @cached_property
    def release_form(self) -> ReasonForm:
        return self._reason_form("release")

    @cached_property
    def recast_form(self) -> ReasonForm:
        return self._reason_form("recast")

    @cached_property
    def strike_form(self) -> ReasonForm:
        return self._reason_form("strike")

    def _reason_form(self, action: str) -> ReasonForm:
        return self.forms.get(action) or ReasonForm(
            shop=self.looker.shop, auto_id=f"{self.piece.code}-{action}-%s"
        )


@dataclass(frozen=True)
class CastEntry:
    """One batch: pieces of one mix cast at one time, from as many runs as that takes."""

    looker: Looker
    batch_id: int
    planned_for: dt.datetime
    entries: tuple[Entry, ...]
    marks: tuple[Mark, ...] = ()  # made here in the last ten minutes
    form: CastForm | None = None  # what was typed and refused
    air: CastAir | None = None  # over the fresh pieces

    @property
    def slot(self) -> str:
        return f"batch-{self.batch_id}"

    @property
    def first(self) -> PieceOutlook:
        return self.entries[0].piece

    @property
    def when(self) -> str:
        return wording.when(self.planned_for, self.looker.now)

    @property
    def codes(self) -> str:
        return ", ".join(entry.piece.code for entry in self.entries)

    @property
    def waiting(self) -> list[Entry]:
        return [entry for entry in self.entries if entry.piece.cast_at is None]

    @property
    def area_m2(self) -> float:
        return sum(entry.piece.area_m2 for entry in self.entries)

    @property
    def people(self) -> int:
        return max((e.step.people for e in self.waiting if e.step), default=0)

    @property
    def overdue(self) -> bool:
        return self.planned_for < self.looker.now

    @property
    def held(self) -> list[Entry]:
        return [entry for entry in self.entries if entry.hold]

    @property
    def cautions(self) -> list[Care]:
        own = [self.air.caution] if self.air and self.air.caution else []
        return wording.cares([*own, *for_step(StepKind.CAST)])

    @cached_property
    def cast_form(self) -> CastForm:
        if self.form is not None:
            return self.form
        return CastForm(
            shop=self.looker.shop,
            auto_id=f"{self.slot}-%s",
            initial={"water_in": [timezone.localdate(self.looker.now), None, None]},
        )


@dataclass(frozen=True)
class DoneLine:
    mark: Mark
    code: str
    step_name: str
    when: str


def step_cautions(step: StepOutlook | None, piece: PieceOutlook, looker: Looker) -> list[Care]:
    return wording.cares(for_step(step.kind, piece.sealer in looker.urethanes)) if step else []
