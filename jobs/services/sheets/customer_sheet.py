"""The customer's own sheet: what the pieces are, what they weigh, how to live with them.

In plain words and the shop's own. No price, no name of staff, nothing of another customer; no day
that the office has not told, as on the customer's page.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

from django.core.cache import cache
from django.utils import timezone, translation

from jobs.models import Job, Piece
from jobs.services.customer_view import CustomerView, customer_view
from jobs.services.drawings import PieceDrawings, paper_drawings
from jobs.services.errors import Refused
from jobs.services.sheets.paper import fitted, markup, rendered, written
from jobs.services.sheets.size import size_words
from jobs.services.substance import Substance, substance_of
from shop import defaults
from shop.models import Shop

SIZES = (9.5, 8.5, 7.5)
WIDE, TALL = 86.0, 30.0  # mm, of a plan
ONE_PAGE = 2  # pieces with a drawing that one page may hold
KEPT = 3600  # s: a link that anybody may open should not draw the same sheet again and again


@dataclass(frozen=True)
class OwnPiece:
    name: str
    size: str
    substance: Substance
    drawings: PieceDrawings | None


@dataclass(frozen=True)
class CustomerSheet:
    view: CustomerView
    pieces: tuple[OwnPiece, ...]
    about: tuple[str, ...]
    ageing: tuple[str, ...]
    care: tuple[str, ...]
    weight_kg: float
    solid_kg: float
    stone_kg: float
    on: dt.date

    @property
    def hollow(self) -> bool:
        """Whether it is deeper at its edge than it is thick: only then is there a difference."""
        return any(
            piece.substance.edge_depth > 1.05 * _thickness(piece.substance) for piece in self.pieces
        )

    @property
    def lighter(self) -> int:
        """By so many percent than the same in solid concrete."""
        return round(100 * (1 - self.weight_kg / self.solid_kg)) if self.solid_kg else 0


def customer_pdf(job: Job, shop: Shop, paper: str, today: dt.date) -> bytes:
    with translation.override("en"), timezone.override(shop.zone):
        sheet = customer_sheet(job, shop, today)
    context, template = {"sheet": sheet, "size": SIZES[0]}, "sheets/customer.html"
    said = markup(template, context, shop, paper)
    key = f"customer-sheet-{hashlib.sha256(said.encode()).hexdigest()}"
    pdf: bytes | None = cache.get(key)
    if pdf is None:
        drawn = sum(piece.drawings is not None for piece in sheet.pieces)
        sizes = SIZES if drawn <= ONE_PAGE else SIZES[:1]
        document = fitted(template, context, shop, paper, sizes=sizes)
        if len(document.pages) > 1 and sizes is SIZES:
            document = rendered(said)  # on two, then in easy letters
        pdf = written([document])
        cache.set(key, pdf, KEPT)
    return pdf


def customer_sheet(job: Job, shop: Shop, today: dt.date) -> CustomerSheet:
    """Needs the job's customer loaded. Raises Refused for a job without pieces or called off."""
    if job.called_off:
        raise Refused(f"Job {job.number} is called off: there is no sheet for its customer.")
    pieces = list(Piece.objects.filter(job=job).select_related("mix").order_by("letter"))
    if not pieces:
        raise Refused(f"Job {job.number} has no pieces yet: there is nothing to say of them.")
    own = tuple(
        OwnPiece(
            name=piece.name,
            size=size_words(piece, shop),
            substance=substance_of(piece, shop),
            drawings=paper_drawings(piece, shop, WIDE, TALL),
        )
        for piece in sorted(pieces, key=lambda piece: (len(piece.letter), piece.letter))
    )
    return CustomerSheet(
        view=customer_view(job=job, shop=shop, today=today),
        pieces=own,
        about=_lines(shop.about_words or defaults.ABOUT_WORDS),
        ageing=_lines(shop.ageing_words or defaults.AGEING_WORDS),
        care=_lines(shop.care_words or defaults.CARE_WORDS),
        weight_kg=_sum([piece.substance.dry_kg for piece in own]),
        solid_kg=_sum([piece.substance.saved[0].solid_kg for piece in own]),
        stone_kg=_sum([piece.substance.saved[1].solid_kg for piece in own]),
        on=today,
    )


def _sum(values: Sequence[float]) -> float:
    return sum(values)


def _lines(text: str) -> tuple[str, ...]:
    return tuple(line.strip() for line in text.splitlines() if line.strip())


def _thickness(substance: Substance) -> float:
    """Of the slab alone, as its face and backer make it."""
    flat = [part.volume for part in substance.parts if part.layer in {"face coat", "backer"}]
    return sum(flat) / substance.area if substance.area else substance.edge_depth
