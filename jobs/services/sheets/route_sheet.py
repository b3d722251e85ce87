"""The sheet that travels with a piece: its steps in order, with lines to sign. A page a piece."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils import timezone, translation

from jobs.services.drawings import paper_drawings
from jobs.services.outlook import PieceOutlook, StepOutlook
from jobs.services.sheets.cautions import Cared, Cares, in_columns
from jobs.services.sheets.chosen import Chosen
from jobs.services.sheets.paper import PAPERS, fitted, written
from jobs.services.sheets.qr import QrCode, floor_address, qr_of
from jobs.services.sheets.size import size_words, thickness_words
from jobs.services.sheets.words import asked, cast_is_known, people_words, rests
from jobs.shapes.drawing import Drawing
from shop import measures
from shop.models import Shop, StepKind
from shop.templatetags.measures import day, moment

SIZES = (8.5, 7.7, 7.0)
NOT_IN_SIGHT = "not within sight"
DRAWN = 96.0, 26.0  # mm: how wide and tall the piece is drawn beside its facts
# What is written down at a step of this kind beside when and who.
TO_NOTE: dict[str, str] = {
    StepKind.DEMOLD: "clean · soft · chipped · broken",
    StepKind.COAT: "surface ______ air ______ RH ______",
    StepKind.CRATE: "weight ________ thick ________",
}


@dataclass(frozen=True)
class StepLine:
    """Times are empty where none is worth its ink."""

    name: str
    people: str
    asked: str
    earliest: str
    likely: str
    late: str
    done: str
    note: str  # what is to be written down
    cares: tuple[Cared, ...]


@dataclass(frozen=True)
class RouteSheet:
    code: str
    name: str
    job: str
    facts: tuple[tuple[str, str], ...]
    lines: tuple[StepLine, ...]
    columns: tuple[tuple[Cared, ...], ...]
    rests: str
    on_hold: str
    drawing: Drawing | None
    qr: QrCode
    as_of: dt.datetime


def route_pdf(found: Sequence[Chosen], shop: Shop, paper: str) -> bytes:
    documents = []
    for one in found:
        with translation.override("en"), timezone.override(shop.zone):
            route = route_of(one, shop, paper)
        context = {"sheet": route, "title": f"Route of {route.code}"}
        documents.append(fitted("sheets/route.html", context, shop, paper, sizes=SIZES))
    return written(documents)


def route_of(one: Chosen, shop: Shop, paper: str) -> RouteSheet:
    """Moments are written by the active time zone."""
    piece, outlook = one.piece, one.outlook
    cares = Cares(isocyanates=piece.sealer.two_part_urethane)
    dated = cast_is_known(outlook)
    lines = tuple(_line(step, shop, cares, dated=dated) for step in outlook.steps)
    width = DRAWN[0] - (PAPERS["Letter"][0] - PAPERS[paper][0])
    drawn = paper_drawings(piece, shop, width, DRAWN[1])
    return RouteSheet(
        code=piece.code,
        name=piece.name,
        job=f"Job {one.job.number}, {one.job.title}",
        facts=tuple(_facts(one, shop)),
        lines=lines,
        columns=in_columns(cares.listed),
        rests=_rests(outlook, dated=dated),
        on_hold=outlook.on_hold,
        drawing=drawn.face if drawn else None,
        qr=qr_of(floor_address(piece.code)),
        as_of=one.job.derived_at,
    )


def _facts(one: Chosen, shop: Shop) -> list[tuple[str, str]]:
    piece, outlook = one.piece, one.outlook
    weight = measures.words(outlook.weight_kg, "weight", shop)
    return [
        ("Mix", piece.mix.name),
        ("Sealer", f"{piece.sealer.name}, {piece.sealer.coats} coats"),
        ("Size", size_words(piece, shop)),
        ("Thickness", thickness_words(piece, shop)),
        ("Weight", f"about {weight}"),
        ("Cast", _cast(outlook)),
        ("Promised", day(one.job.promised_on) if one.job.promised_on else "nothing yet"),
    ]


def _cast(piece: PieceOutlook) -> str:
    if piece.cast_at:
        return f"water in {moment(piece.cast_at)}, {piece.room}"
    if piece.cast_planned:
        return f"set for {moment(piece.cast_planned)}, {piece.room}"
    return f"not set yet, {piece.room}"


def _rests(piece: PieceOutlook, *, dated: bool) -> str:
    if not piece.steps:
        return "No steps can be told: the route has none, or no shift is within sight to cast it."
    if not dated:
        return "No cast is set that can still be kept, so no times are printed: print it again."
    return rests(piece, moment).words


def _line(step: StepOutlook, shop: Shop, cares: Cares, *, dated: bool) -> StepLine:
    done = ""
    if step.done_at:
        done = ", ".join(
            part for part in (moment(step.done_at), step.done_by, step.outcome) if part
        )
    timed = dated and not step.done
    early_to_late = (step.earliest, step.workable, _late(step)) if timed else (None,) * 3
    earliest, likely, late = (
        moment(at) if at else NOT_IN_SIGHT if timed else "" for at in early_to_late
    )
    return StepLine(
        name=step.name,
        people=people_words(step.people) if step.people > 1 else "",
        asked="" if step.done else "; ".join(asked(step, shop)),
        earliest=earliest,
        likely=likely,
        late=late,
        done=done,
        note="" if step.done else TO_NOTE.get(step.kind, ""),
        cares=cares.of(step.kind),
    )


def _late(step: StepOutlook) -> dt.datetime | None:
    """Never before the likely one, which is worked out by itself."""
    if step.late is None or step.workable is None:
        return step.late
    return max(step.late, step.workable)
