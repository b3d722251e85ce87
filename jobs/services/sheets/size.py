"""A piece's size in a few words: its box where its shape is known, else its area."""

from __future__ import annotations

from jobs.models import Piece
from jobs.shapes.regions import outline_region
from jobs.shapes.stored import read
from shop import measures
from shop.models import Shop


def box_m(piece: Piece) -> tuple[float, float] | None:
    """Length and width of the box around its outline; None where no shape can be read."""
    if not piece.shape:
        return None
    try:
        left, front, right, back = outline_region(read(piece.shape)).bounds
    except (ValueError, TypeError, KeyError):
        return None
    return right - left, back - front


def size_words(piece: Piece, shop: Shop) -> str:
    """'96 × 25 1/2 in', or '16.1 ft²' of a plain slab."""
    box = box_m(piece)
    if box is None:
        return measures.words(piece.area_m2, "area", shop)
    length, width = (measures.words(side, "length", shop) for side in box)
    sign = measures.sign("length", shop)
    return f"{length.removesuffix(sign).strip()} × {width}"


def thickness_words(piece: Piece, shop: Shop) -> str:
    """'3/4 in thick, of it 1/8 in face coat'."""
    whole = f"{measures.words(piece.thickness_m, 'length', shop)} thick"
    if not piece.coat_m:
        return f"{whole}, one layer"
    return f"{whole}, of it {measures.words(piece.coat_m, 'length', shop)} face coat"
