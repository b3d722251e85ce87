"""What sheets share: paper, black ink, type that steps down until it fits. Nothing is fetched."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Any

from django.template.loader import render_to_string
from django.utils import timezone, translation

from jobs.services.letter import fetch_nothing
from shop.models import Shop

if TYPE_CHECKING:
    from weasyprint import Document

LETTER, A4 = "Letter", "A4"
PAPERS = {LETTER: (215.9, 279.4), A4: (210.0, 297.0)}  # mm, upright
# Letters in points, from easy to small. Below 7 pt nobody reads it on a wall.
SIZES = (10.0, 9.0, 8.0, 7.0)
LEAST, SMALLER = 7.0, 0.88
# How text gets shorter with its size: by its square where lines are full, by less where they stay
# as many. Drawings keep theirs.
MOST_GAIN, USUAL_GAIN = 2.0, 1.4
END = "end"  # the anchor after the last line


def paper_of(asked: str, shop: Shop) -> str:
    """The paper that was asked for; anything else means the one that goes with the shop's units."""
    named = {paper.lower(): paper for paper in PAPERS}
    return named.get(asked.strip().lower(), LETTER if shop.us else A4)


def markup(template: str, context: dict[str, Any], shop: Shop, paper: str) -> str:
    """In English and by the shop's clock, whoever prints it."""
    width, height = PAPERS[paper]
    size = context.get("size", 9.0)
    page = {
        "shop": shop,
        "paper": paper,
        "paper_width": width,
        "paper_height": height,
        "small": max(LEAST, round(SMALLER * size, 2)),
    }
    with translation.override("en"), timezone.override(shop.zone):
        return render_to_string(template, page | context)


def rendered(text: str) -> Document:
    from weasyprint import HTML  # workers and commands that print nothing start without it

    return HTML(string=text, url_fetcher=fetch_nothing).render()


def fitted(
    template: str,
    context: dict[str, Any],
    shop: Shop,
    paper: str,
    *,
    sizes: Sequence[float] = SIZES,
    pages: int = 1,
) -> Document:
    """At the largest type by which it stands on so many pages, as `largest` has it."""
    return largest(
        lambda size: rendered(markup(template, context | {"size": size}, shop, paper)),
        sizes,
        pages,
    )


def largest(drawn: Callable[[float], Document], sizes: Sequence[float], pages: int = 1) -> Document:
    """At the largest type by which it stands on so many pages; where none does, in easy letters on
    more. Seldom drawn more than twice.

    drawn : at a size of type, an anchor named `END` after its last line
    """
    first = drawn(sizes[0])
    if len(first.pages) <= pages:
        return first
    for size in promising(first, sizes, pages):
        document = drawn(size)
        if len(document.pages) <= pages:
            return document
    return first


def promising(drawn: Document, sizes: Sequence[float], pages: int) -> Sequence[float]:
    """Which smaller sizes are worth drawing, by how long it came out at the first."""
    length = len(drawn.pages) - 1 + reached(drawn)

    def fits(size: float, gain: float) -> bool:
        return length * (size / sizes[0]) ** gain <= pages

    if not fits(sizes[-1], MOST_GAIN):
        return ()
    return [size for size in sizes[1:] if fits(size, USUAL_GAIN)] or sizes[-1:]


def reached(document: Document) -> float:
    """How far down its last page it goes, as a share of the page; `END` marks where it ends."""
    last = document.pages[-1]
    return float(last.anchors[END][1]) / float(last.height) if END in last.anchors else 0.5


def written(documents: Iterable[Document]) -> bytes:
    """One file of several documents, each beginning a new page."""
    first, *others = documents
    sheets = [*first.pages, *(page for document in others for page in document.pages)]
    pdf: bytes = first.copy(sheets).write_pdf()
    return pdf
