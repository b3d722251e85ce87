"""The sheet of one cast: its pieces drawn as they lie in the form, what to weigh, what to write."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.utils import timezone, translation

from jobs.models import Batch, Piece
from jobs.services.drawings import PieceDrawings, paper_drawings
from jobs.services.errors import Refused
from jobs.services.mixing import Amount, CastRuns, Planned, casts_runs, with_runs
from jobs.services.scales import large_scale
from jobs.services.sheet_words import RatioLine, Take, ratio_lines, takes_of
from jobs.services.sheets.cautions import Cared, Cares, in_columns
from jobs.services.sheets.chosen import Chosen, with_outlooks
from jobs.services.sheets.paper import markup, rendered
from jobs.services.sheets.size import size_words, thickness_words
from jobs.services.sheets.tags import Demold, demold_of
from jobs.services.substance import Substance, substance_of
from jobs.services.weigh_sheets import (
    Frozen,
    ShownLine,
    layer_words,
    lines_of,
    read_sheet,
    weighed_of,
)
from shop import cautions
from shop.cautions import Caution
from shop.limit_words import LimitNote
from shop.models import Shop
from shop.templatetags.measures import moment

PLANS, TALL = 184.0, 64.0  # mm: as wide as the paper, so that the form can be built by them
POINTS = 8.5

# What is done in which order, and what can hurt somebody there. Common practice, no source.
STEPS: tuple[tuple[str, tuple[Caution, ...]], ...] = (
    (
        "Forms checked against the drawings: sizes, cutouts, edges, level, tight, released; a tag "
        "hangs on each, its arrow to the front edge.",
        (),
    ),
    ("Sand's moisture measured and typed in; then the run is opened, which fixes its sheet.", ()),
    (
        "Each run weighed out by its sheet, every line ticked with its lot.",
        (cautions.DUST_WEIGHING, cautions.BAGS, cautions.GLASS_FIBRE),
    ),
    (
        "Water in: write the time, it is the age of everything that follows.",
        (cautions.WET_CEMENT, cautions.MIXER),
    ),
    ("Spread and unit weight of each run; specimens filled and labelled.", ()),
    ("Face coat, without fibre, as thick as drawn. It stiffens before the backer goes on.", ()),
    ("Backer with its fibre, rolled in; then ribs and edges. Check the depth with a pin.", ()),
    ("Cover each piece as it is done.", (cautions.COVER_AT_ONCE,)),
    ("Mark the cast: scan a tag, or open the cast on the floor.", ()),
)
# Blanks of a run's record, as the app asks for them afterwards.
BLANKS = (
    "Water in at", "Covered at", "Mix temperature", "Air temperature", "Form temperature",
    "Humidity", "Spread", "Unit weight", "Weighed by", "Mixed by", "Water or ice added, why",
)  # fmt: skip


@dataclass(frozen=True)
class CastPiece:
    piece: Piece
    size: str
    thickness: str
    substance: Substance
    drawings: PieceDrawings | None
    demold: Demold

    @property
    def layers(self) -> list[tuple[str, float, float]]:
        """Name, volume [m³] and fresh weight [kg] of each layer, without waste."""
        return [(part.layer, part.volume, part.fresh_kg) for part in self.substance.parts]


@dataclass(frozen=True)
class RunSheet:
    """kg, m3 : waste included; trouble : why there is no sheet"""

    number: int
    serves: str
    kg: float
    m3: float
    opened: bool
    lines: tuple[ShownLine, ...]
    takes: tuple[Take, ...]
    ratios: tuple[RatioLine, ...]
    trouble: str


@dataclass(frozen=True)
class Stage:
    words: str
    cares: tuple[Cared, ...]


@dataclass(frozen=True)
class CastSheet:
    batch: Batch
    recipe: str
    pieces: tuple[CastPiece, ...]
    amounts: tuple[Amount, ...]
    kg: float
    m3: float
    runs: tuple[RunSheet, ...]
    notes: tuple[LimitNote, ...]
    stages: tuple[Stage, ...]
    columns: tuple[tuple[Cared, ...], ...]
    blanks: tuple[str, ...]
    as_of: dt.datetime

    @property
    def drawn(self) -> list[CastPiece]:
        return [one for one in self.pieces if one.drawings]

    @property
    def plain(self) -> list[CastPiece]:
        return [one for one in self.pieces if not one.drawings]


def cast_pdf(batch_id: int, shop: Shop, paper: str) -> bytes:
    with translation.override("en"), timezone.override(shop.zone):
        sheet = cast_of(batch_id, shop)
        title = f"Cast {moment(sheet.batch.planned_for)}, {sheet.batch.mix}"
    context = {"sheet": sheet, "size": POINTS, "title": title}
    pdf: bytes = rendered(markup("sheets/cast.html", context, shop, paper)).write_pdf()
    return pdf


def cast_of(batch_id: int, shop: Shop) -> CastSheet:
    """Moments and words are those of the active time zone and language."""
    batch = with_runs(Batch.objects.filter(pk=batch_id)).first()
    if batch is None:
        raise Refused("There is no such cast any more. Open it from the week.")
    runs = casts_runs([batch])[0]
    if not runs.pieces:
        raise Refused("No piece is set for this cast.")
    chosen = with_outlooks(runs.pieces)
    cares = Cares()
    stages = tuple(
        Stage(words, tuple(cares.named(caution) for caution in needed)) for words, needed in STEPS
    )
    return CastSheet(
        batch=batch,
        recipe=_recipe_words(runs, batch),
        pieces=tuple(_piece(one, shop) for one in chosen),
        amounts=runs.amounts,
        kg=runs.kg,
        m3=runs.m3,
        runs=tuple(_runs(runs, shop)),
        notes=runs.notes,
        stages=stages,
        columns=in_columns(cares.listed),
        blanks=BLANKS,
        as_of=min(one.job.derived_at for one in chosen),
    )


def _recipe_words(runs: CastRuns, batch: Batch) -> str:
    """Its mix is named beside it; another's is said."""
    if runs.recipe is None:
        return ""
    other = "" if runs.recipe.mix_id == batch.mix_id else f"{runs.recipe.mix.name}, "
    return f"{other}version {runs.recipe.number}"


def _piece(one: Chosen, shop: Shop) -> CastPiece:
    piece = one.piece
    return CastPiece(
        piece=piece,
        size=size_words(piece, shop),
        thickness=thickness_words(piece, shop),
        substance=substance_of(piece, shop),
        drawings=paper_drawings(piece, shop, PLANS, TALL),
        demold=demold_of(one.outlook, shop),
    )


@dataclass(frozen=True)
class _Made:
    """A run, opened or planned, as both are printed."""

    number: int
    parts: Sequence[Mapping[str, object]]
    frozen: Frozen
    lines: Sequence[ShownLine]
    opened: bool
    trouble: str = ""


def _runs(runs: CastRuns, shop: Shop) -> list[RunSheet]:
    made = [
        _Made(run.number, run.parts, run.sheet, lines_of(run.sheet, shop, weighed_of(run)), True)
        for run in runs.opened
    ]
    made += [_planned(planned, shop) for planned in runs.planned]
    return [_run(one, shop) for one in sorted(made, key=lambda one: one.number)]


def _planned(planned: Planned, shop: Shop) -> _Made:
    parts = [
        {"piece": part.piece, "layer": part.layer, "m3": part.m3, "kg": part.kg}
        for part in planned.run.parts
    ]
    lines = lines_of(planned.sheet, shop)
    return _Made(planned.number, parts, planned.sheet, lines, False, planned.trouble)


def _run(made: _Made, shop: Shop) -> RunSheet:
    sheet = read_sheet(made.frozen) if made.lines else None
    return RunSheet(
        number=made.number,
        serves="; ".join(_serves(made.parts)),
        kg=sum(float(str(part["kg"])) for part in made.parts),
        m3=sum(float(str(part["m3"])) for part in made.parts),
        opened=made.opened,
        lines=tuple(made.lines),
        takes=tuple(takes_of(sheet, large_scale(shop))) if sheet else (),
        ratios=tuple(ratio_lines(sheet)) if sheet else (),
        trouble=made.trouble or ("" if made.lines else "This run has no weigh sheet."),
    )


def _serves(parts: Sequence[Mapping[str, object]]) -> list[str]:
    """'face coat of 217-A, 217-B'."""
    found = []
    for layer in dict.fromkeys(str(part["layer"]) for part in parts):
        codes = dict.fromkeys(str(part["piece"]) for part in parts if part["layer"] == layer)
        found.append(f"{layer_words(layer)} of {', '.join(codes)}")
    return found
