"""Form tags: half a page each, to hang on the form. Two stand on a sheet, to be cut apart."""

from __future__ import annotations

import datetime as dt
import math
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from django.utils import timezone, translation

from jobs.models import Piece
from jobs.services.outlook import PieceOutlook, StepOutlook
from jobs.services.sheets.chosen import Chosen
from jobs.services.sheets.paper import markup, rendered
from jobs.services.sheets.qr import QrCode, floor_address, qr_of
from jobs.services.sheets.size import size_words, thickness_words
from jobs.services.sheets.words import asked, cast_is_known, people_words, rests, step_of
from shop import cautions, measures
from shop.cautions import Caution
from shop.models import Shop, StepKind
from shop.templatetags.measures import day, moment

CAUTIONS: tuple[Caution, ...] = (cautions.WET_CEMENT, cautions.EARLY_DEMOLD, cautions.LIFTING)
BESIDE, ROOM = 106.0, 92.0  # width and height beside the code [mm]
MM = 72 / 25.4  # pt
# What letters take of their size; a bold one more. Measured in DejaVu Sans, rounded up.
WIDE, CAPITAL, SMALL, BOLDER = 1.03, 0.72, 0.6, 1.13
# How many letters of this size go into a line of a tag, at the most [em].
LONGEST = {"name": 62.0, "job": 56.0, "hold": 58.0, "mix": 30.0, "room": 24.0}


@dataclass(frozen=True)
class Letters:
    """Sizes [pt] of the code, the name, the facts and what stands in the demold box."""

    code: float
    name: float
    facts: float
    box: float


# From roomy to dense; the first by which everything stands beside the code.
TIERS = (
    Letters(48.0, 18.0, 9.0, 8.0),
    Letters(46.0, 16.0, 8.5, 7.5),
    Letters(42.0, 13.0, 7.5, 7.0),
    Letters(30.0, 10.0, 7.0, 7.0),
)


@dataclass(frozen=True)
class Demold:
    """When the form may be opened. `at`: empty where no date is worth its ink."""

    at: str
    range: str  # early, likely, late
    asked: tuple[str, ...]
    rests: str
    done: str  # when and by whom, once it is

    @property
    def asked_words(self) -> str:
        return "; ".join(self.asked)


@dataclass(frozen=True)
class Tag:
    code: str
    name: str
    job: str  # number and title
    facts: tuple[tuple[str, str], ...]
    demold: Demold
    on_hold: str
    qr: QrCode
    as_of: dt.datetime

    @cached_property
    def letters(self) -> Letters:
        fitting = (tier for tier in map(self._capped, TIERS) if self._height(tier) <= ROOM)
        return next(fitting, self._capped(TIERS[-1]))

    def _capped(self, tier: Letters) -> Letters:
        """The code, and a name that nearly fits, on one line."""
        code = min(tier.code, BESIDE * MM / (_em(self.code) * BOLDER))
        name = max(min(tier.name, BESIDE * MM / (_em(self.name) * BOLDER)), 0.7 * tier.name)
        return replace(tier, code=round(code, 1), name=round(name, 1))

    def _height(self, letters: Letters) -> float:
        """About what it takes beside the code [mm]."""
        line = 1.25 / MM
        facts, box = letters.facts * line, letters.box * line
        rows = sum(_lines(said, 87.0, letters.facts) for _, said in self.facts)
        rest = self.demold.rests + " " * 100  # and when it was worked out
        inside = [self.demold.range + " " * 24, self.demold.asked_words + " " * 12, rest]
        held = _lines(self.on_hold, 90.0, letters.facts * BOLDER) if self.on_hold else 0
        return (
            letters.code / MM
            + _lines(self.name, BESIDE, letters.name * BOLDER) * letters.name * line
            + _lines(self.job, BESIDE, letters.facts) * facts
            + (held * facts + 3.0 if held else 0.0)
            + rows * (facts + 0.7)
            + facts + 17.0 * line
            + sum(_lines(part, 100.0, letters.box) for part in inside) * box
            + 6.5
        )  # fmt: skip


def tags_pdf(found: Sequence[Chosen], shop: Shop, paper: str) -> bytes:
    pdf: bytes = rendered(tags_markup(found, shop, paper)).write_pdf()
    return pdf


def tags_markup(found: Sequence[Chosen], shop: Shop, paper: str) -> str:
    with translation.override("en"), timezone.override(shop.zone):
        tags = [tag_of(one, shop) for one in found]
    pairs = [tags[first : first + 2] for first in range(0, len(tags), 2)]
    cares = [_care(caution) for caution in CAUTIONS]
    context = {"pairs": pairs, "cares": cares, "title": _title(tags)}
    return markup("sheets/tags.html", context, shop, paper)


def _title(tags: Sequence[Tag]) -> str:
    codes = [tag.code for tag in tags]
    if len(codes) > 4:
        return f"Form tags {codes[0]} to {codes[-1]}, {len(codes)} of them"
    return f"Form tag{'s' if len(codes) > 1 else ''} {', '.join(codes)}"


def _care(caution: Caution) -> tuple[str, str, str]:
    """Its first sentence apart: that much is read with gloves on."""
    with translation.override("en"):
        headline, _, rest = str(caution.text).partition(". ")
        return headline, rest, str(caution.reference)


def tag_of(one: Chosen, shop: Shop) -> Tag:
    """Moments are written by the active time zone."""
    piece, outlook = one.piece, one.outlook
    return Tag(
        code=piece.code,
        name=_short(piece.name, "name"),
        job=_short(f"Job {one.job.number}, {one.job.title}", "job"),
        facts=tuple(_facts(piece, one, shop)),
        demold=demold_of(outlook, shop),
        on_hold=_short(outlook.on_hold, "hold"),
        qr=qr_of(floor_address(piece.code)),
        as_of=one.job.derived_at,
    )


def _em(words: str) -> float:
    """About the width of plain letters, of their size."""
    return max(sum(_letter(letter) for letter in words), 1.0)


def _letter(letter: str) -> float:
    if letter in "MW@%—…" or unicodedata.east_asian_width(letter) in "WF":
        return WIDE
    return CAPITAL if letter.isupper() else SMALL


def _lines(words: str, width: float, points: float) -> int:
    """Words are broken between words: a line is seldom full."""
    return math.ceil(_em(words) * points / MM / (0.94 * width))


def _short(words: str, what: str) -> str:
    """As much as a tag has room for, in whole words where it has any."""
    if _em(words) <= LONGEST[what]:
        return words
    kept = words
    while _em(kept) > LONGEST[what] - WIDE:
        kept = kept[:-1]
    whole = kept.rpartition(" ")[0]
    return (whole if len(whole) > len(kept) / 2 else kept).rstrip(" ,;") + "…"


def _facts(piece: Piece, one: Chosen, shop: Shop) -> list[tuple[str, str]]:
    step = step_of(one.outlook, StepKind.DEMOLD)
    people = f", {people_words(step.people)} to demold" if step else ""
    weight = measures.words(one.outlook.weight_kg, "weight", shop)
    return [
        ("Mix", _short(piece.mix.name, "mix")),
        ("Size", f"{size_words(piece, shop)}, {thickness_words(piece, shop)}"),
        ("Weight", f"about {weight}{people}"),
        ("Cast", _cast(one.outlook)),
        ("Promised", day(one.job.promised_on) if one.job.promised_on else "nothing yet"),
    ]


def _cast(piece: PieceOutlook) -> str:
    room = _short(piece.room, "room")
    if piece.cast_at:
        return f"water in {moment(piece.cast_at)}, {room}"
    if piece.cast_planned:
        return f"set for {moment(piece.cast_planned)}, {room}"
    return f"not set yet, {room}"


def demold_of(piece: PieceOutlook, shop: Shop) -> Demold:
    step = step_of(piece, StepKind.DEMOLD)
    if step is None:
        why = "No demold step can be told for it: ask before you pull."
        return Demold("", "", (), why, "")
    asks = tuple(asked(step, shop))
    if step.done_at:
        by = f", {step.done_by}" if step.done_by else ""
        return Demold("", "", asks, "", f"{moment(step.done_at)}{by}")
    if not cast_is_known(piece):
        why = "No cast is set that can still be kept, so no time is printed."
        return Demold("", "", asks, why, "")
    at = moment(step.earliest) if step.earliest else "not within sight"
    return Demold(at, range_words(step), asks, rests(piece, moment).words, "")


def range_words(step: StepOutlook) -> str:
    """With somebody on shift: early, likely, late; one time where they are the same."""
    times = (step.early, step.workable, step.late)
    if len({*times} - {None}) == 1 and (step.early is None) == (step.late is None):
        return moment(step.workable) if step.workable else "not within sight"
    words = zip(("early", "likely", "late"), times, strict=True)
    return ", ".join(f"{word} {moment(at) if at else 'not within sight'}" for word, at in words)
