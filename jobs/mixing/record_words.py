"""A batch's record as it is read, on the screen and on paper."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from curing.yield_check import DENSITY_TOLERANCE
from jobs.mixing import run_meaning
from jobs.models import Specimen
from jobs.services.batch_record import BatchRecord, CastPiece, CoatOn, Demolded, Night, RunOn
from jobs.services.coat_air import STANDARD_MARGIN
from jobs.services.kept import MeasuredRow, PhotoRow, measured_rows, photo_rows
from jobs.services.specimens import is_broken
from shop import measures
from shop.models import Person, Shop
from shop.templatetags.measures import clock, moment

QUARTER = dt.timedelta(minutes=15)


@dataclass(frozen=True)
class Row:
    """Label and words; `soft` stands after them, `warn` says that somebody should look."""

    label: str
    words: str
    soft: str = ""
    warn: bool = False


@dataclass(frozen=True)
class LineRow:
    name: str
    layer: str
    wanted: str
    weighed: str
    deviation: str
    off: bool
    lot: str
    who: str


@dataclass(frozen=True)
class SpecimenRow:
    specimen: Specimen
    state: str
    open: bool  # it waits to be broken


@dataclass(frozen=True)
class PieceRow:
    one: CastPiece
    demold: list[Row]
    wettings: str
    coats: list[Row]
    measured: list[MeasuredRow]


@dataclass(frozen=True)
class RunRow:
    on: RunOn
    title: str
    facts: list[Row]
    lines: list[LineRow]
    meaning: list[run_meaning.Sentence]
    specimens: list[SpecimenRow]


class RecordPage:
    def __init__(self, record: BatchRecord, shop: Shop, person: Person, now: dt.datetime) -> None:
        self.record, self.shop, self.person, self.now = record, shop, person, now

    @cached_property
    def runs(self) -> list[RunRow]:
        return [self._run(on) for on in self.record.runs]

    @cached_property
    def pieces(self) -> list[PieceRow]:
        return [
            PieceRow(
                one,
                demold_rows(one.demolded, self.shop) if one.demolded else [],
                ", ".join(f"{m.step_name} {moment(m.happened_at)}" for m in one.wettings),
                [coat_row(coat, self.shop) for coat in one.coats],
                measured_rows(one.measured, self.shop, self.person),
            )
            for one in self.record.pieces
        ]

    @cached_property
    def photos(self) -> list[PhotoRow]:
        return photo_rows(self.record.photos, self.person)

    @property
    def any_coats(self) -> bool:
        return any(row.coats for row in self.pieces)

    @property
    def recipes(self) -> list[str]:
        found = {f"version {on.run.recipe.number}" for on in self.record.runs if _stands(on)}
        return sorted(found)

    @cached_property
    def night(self) -> Row | None:
        return night_row(self.record.night, self.shop) if self.record.night else None

    @cached_property
    def doubts(self) -> list[str]:
        """What does not fit together."""
        return [*self._water_doubts(), *self._density_doubts()]

    def _water_doubts(self) -> Iterable[str]:
        marked = self.record.water_in
        runs = [on.run for on in self.record.runs if _stands(on) and on.run.water_in_at]
        if marked is None or not runs:
            return
        first = min(runs, key=lambda run: run.water_in_at or marked)
        written = first.water_in_at or marked
        if abs(written - marked) <= QUARTER:
            return
        sooner = written < marked
        effect = (
            "every age here is reckoned shorter than it is"
            if sooner
            else "every age here is reckoned longer than it is, and a demold may be too early"
        )
        yield (
            f"Water went into run {first.number} at {moment(written)}, but the cast is marked for "
            f"{moment(marked)}. Ages count from the mark, so {effect}: if the mark is wrong, the "
            "owner strikes it and the cast is marked again."
        )

    def _density_doubts(self) -> Iterable[str]:
        stated = self.record.batch.mix.density
        for on in self.record.runs:
            found = on.run.unit_weight
            if not found or not _stands(on) or abs(found / stated - 1) <= DENSITY_TOLERANCE:
                continue
            yield (
                f"Run {on.run.number} weighed {measures.words(found, 'density', self.shop)}, "
                f"{abs(found / stated - 1):.1%} {'more' if found > stated else 'less'} than the "
                f"{measures.words(stated, 'density', self.shop)} that weights and runs of "
                f"{self.record.batch.mix} are reckoned with. If it comes again, change the mix's."
            )

    def _run(self, on: RunOn) -> RunRow:
        run = on.run
        return RunRow(
            on=on,
            title=f"Run {run.number}",
            facts=run_facts(on, self.shop),
            lines=[line_row(line) for line in on.lines],
            meaning=run_meaning.sentences(on, self.shop),
            specimens=[specimen_row(row, self.shop) for row in on.specimens],
        )


def _stands(on: RunOn) -> bool:
    return on.run.struck_at is None


def run_facts(on: RunOn, shop: Shop) -> list[Row]:
    """What was put down of the run; what nobody measured is said as that."""
    run = on.run
    warm = {
        "Mix": run.mix_celsius,
        "air": run.air_celsius,
        "form": run.form_celsius,
    }
    said = [
        f"{name} {measures.words(value, 'temperature', shop)}"
        for name, value in warm.items()
        if value is not None
    ]
    if run.humidity is not None:
        said.append(f"humidity {run.humidity:.0%}".replace("%", " %"))
    added = measures.words(run.added_water_kg, "scale", shop)
    rows = [
        Row("Water in", moment(run.water_in_at) if run.water_in_at else ""),
        Row(
            "Beyond the sheet",
            f"{added}: {run.added_why}" if run.added_water_kg else run.added_why or "nothing",
            warn=bool(run.added_water_kg),
        ),
        Row("Temperatures", ", ".join(said)),
        Row("Spread", measures.words(run.spread_m, "length", shop) if run.spread_m else ""),
        Row(
            "Unit weight",
            measures.words(run.unit_weight, "density", shop) if run.unit_weight else "",
        ),
        Row("Covered", moment(run.covered_at) if run.covered_at else ""),
    ]
    if run.recorded_by_id is None and run.water_in_at is None:
        rows = []
    if run.note:
        rows.append(Row("Note", run.note))
    return rows


def line_row(line: run_meaning.ShownLine) -> LineRow:
    return LineRow(
        name=line.name,
        layer=line.layer,
        wanted=line.amount,
        weighed=line.weighed_amount,
        deviation=line.deviation,
        off=line.within is False,
        lot=line.lot,
        who=f"{line.weighed.by.name}, {clock(line.at)}" if line.weighed else "",
    )


def specimen_row(specimen: Specimen, shop: Shop) -> SpecimenRow:
    if is_broken(specimen) and specimen.test:
        test = specimen.test
        return SpecimenRow(
            specimen,
            f"{measures.words(test.strength_mpa, 'strength', shop)} at "
            f"{measures.hours_words(test.age_hours)}, {moment(test.tested_at)}, {test.by.name}",
            open=False,
        )
    if specimen.lost_because:
        return SpecimenRow(specimen, f"lost: {specimen.lost_because}", open=False)
    struck = "its result was struck, " if specimen.test_id else ""
    return SpecimenRow(specimen, f"{struck}waits to be broken", open=True)


def demold_rows(demolded: Demolded, shop: Shop) -> list[Row]:
    mark = demolded.mark
    out = f", came out {mark.get_outcome_display()}" if mark.outcome else ""
    rows = [Row("Demolded", f"{moment(mark.happened_at)}, {mark.by.name}{out}")]
    warm = measures.warmth(shop)
    if demolded.age_hours is not None:
        strength = measures.words(demolded.strength_mpa, "strength", shop)
        curve = "a placeholder curve" if mark.piece.mix.placeholder else "the mix's curve"
        rows.append(
            Row("Its age", f"{demolded.age_hours:.1f} h at {warm}, about {strength} by {curve}")
        )
    asked = [] if demolded.step is None else _asked(demolded, shop)
    if asked:
        rows.append(Row("The route asks", " and ".join(asked), "as the shop has set it"))
    if mark.early_before:
        rows.append(
            Row("Before its time", f"{moment(mark.early_before)}: {mark.reason}", warn=True)
        )
    return rows


def _asked(demolded: Demolded, shop: Shop) -> list[str]:
    step = demolded.step
    if step is None:
        return []
    asked = []
    if step.strength_mpa:
        asked.append(measures.words(step.strength_mpa, "strength", shop))
    if step.equivalent_hours:
        asked.append(f"{step.equivalent_hours:g} h at {measures.warmth(shop)}")
    if step.hours_after_cast:
        asked.append(f"{step.hours_after_cast:g} h by the clock")
    if step.by_section:
        asked.append("what lifting its section asks for")
    return asked


def coat_row(coat: CoatOn, shop: Shop) -> Row:
    """The dew-point check as the coat went on, against the sealer's own margin."""
    air = coat.air
    said = f"{coat.room} {measures.words(air.celsius, 'temperature', shop)}"
    label = f"{coat.mark.step_name}, {moment(coat.mark.happened_at)}"
    soft = "measured" if coat.measured else "expected air: no reading near"
    if air.humidity is None or air.dew_point is None or air.above is None:
        return Row(label, f"{said}, humidity not known: no dew point", soft, warn=True)
    margin = measures.words(coat.dew_margin, "temperature_step", shop)
    above = measures.words(abs(air.above), "temperature_step", shop)
    where = "above" if air.above >= 0 else "below"
    said += (
        f", {air.humidity * 100:.0f} % humidity, dew point "
        f"{measures.words(air.dew_point, 'temperature', shop)}: {above} {where} it, {margin} asked"
    )
    return Row(label, said, soft, warn=air.above < coat.dew_margin)


def dew_basis(shop: Shop) -> str:
    least = measures.words(STANDARD_MARGIN, "temperature_step", shop)
    return (
        "Dew point by the air of the room where coats go on, which the surface is taken to share; "
        f"margin by the sealer's record, ISO 8502-4 asks for {least}. The data sheet governs."
    )


def night_row(night: Night, shop: Shop) -> Row:
    label = f"First night, {moment(night.start)} to {clock(night.end)}"
    if night.low is None or night.high is None:
        return Row(label, "no readings", warn=True)
    low, high = (
        f"{measures.words(celsius, 'temperature', shop)} at {clock(at)}"
        for at, celsius in (night.low, night.high)
    )
    so_far = "" if night.over else "So far: "
    hole = night.gap > dt.timedelta(hours=shop.stale_after_hours)
    gap = measures.hours_words(night.gap / dt.timedelta(hours=1))
    return Row(
        label,
        f"{so_far}lowest {low}, highest {high}",
        f"{gap} of it without a reading" if hole else "by the room's readings",
        warn=hole,
    )
