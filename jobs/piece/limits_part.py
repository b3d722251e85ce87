"""Where a piece's dates rest on a law beyond its range, in the shop's words."""

from __future__ import annotations

from jobs.services.course import OpenPiece
from jobs.services.limits import notes_of
from shop.limit_words import LimitNote, in_words


def limits_part(opened: OpenPiece) -> list[LimitNote]:
    return in_words(notes_of(opened.facts, opened.piece, opened.outlook), opened.facts.shop)
