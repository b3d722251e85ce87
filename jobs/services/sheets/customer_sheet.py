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
from jobs.services.sheets.paper import fitted, markup, written
from jobs.services.sheets.size import size_words
from jobs.services.substance import Substance, substance_of
from jobs.shapes.drawing import Drawing
from shop import defaults
from shop.boxes import boxes_heard, tell
from shop.models import Shop

SIZES = (9.5, 9.0, 8.5, 8.0, 7.5)
# How wide and tall its face is drawn, and its underside and section beside what explains them [mm].
HERO, BESIDE = (165.0, 32.0), (84.0, 22.0)
# The same where there are several: two of them stand on a page.
HEROES, BESIDES = (150.0, 27.0), (84.0, 18.0)
KEPT = 3600  # s: a link that anybody may open should not draw the same sheet again and again


@dataclass(frozen=True)
class OwnPiece:
    name: str
    size: str
    substance: Substance
    face: Drawing | None
    drawings: PieceDrawings | None  # small, beside each other


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
    def alone(self) -> OwnPiece | None:
        """The one piece, where there is only one and it is drawn: all of it stands on a page."""
        return self.pieces[0] if len(self.pieces) == 1 and self.pieces[0].drawings else None

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
    context = {"sheet": sheet, "size": SIZES[0], "title": sheet.view.title}
    template = "sheets/customer.html"
    said = markup(template, context, shop, paper)
    key = f"customer-sheet-{hashlib.sha256(said.encode()).hexdigest()}"
    kept: tuple[bytes, tuple[str, ...]] | None = cache.get(key)
    if kept is None:
        document = fitted(template, context, shop, paper, sizes=SIZES)
        with boxes_heard() as boxes:
            pdf = written([document])
        cache.set(key, (pdf, tuple(boxes)), KEPT)
        return pdf
    tell(kept[1])
    return kept[0]


def customer_sheet(job: Job, shop: Shop, today: dt.date) -> CustomerSheet:
    """Needs the job's customer loaded. Raises Refused for a job without pieces or called off."""
    if job.called_off:
        raise Refused(f"Job {job.number} is called off: there is no sheet for its customer.")
    pieces = list(Piece.objects.filter(job=job).select_related("mix").order_by("letter"))
    if not pieces:
        raise Refused(f"Job {job.number} has no pieces yet: there is nothing to say of them.")
    hero, beside = (HERO, BESIDE) if len(pieces) == 1 else (HEROES, BESIDES)
    own = tuple(
        OwnPiece(
            name=piece.name,
            size=size_words(piece, shop),
            substance=substance_of(piece, shop),
            face=face.face
            if (face := paper_drawings(piece, shop, *hero, delivered=True))
            else None,
            drawings=paper_drawings(piece, shop, *beside, delivered=True),
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
