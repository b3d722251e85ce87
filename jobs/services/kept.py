"""A piece's measurements and photos as they are shown on its page and on its batch's record."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext as _

from jobs.models import Measured, Photo, Piece
from jobs.services.measured import Against, against, may_strike
from jobs.services.photos import may_remove
from shop import measures
from shop.models import Person, Shop
from shop.templatetags.measures import moment


@dataclass(frozen=True)
class MeasuredRow:
    against: Against
    words: str
    who: str
    struck: str
    strikable: bool


@dataclass(frozen=True)
class PhotoRow:
    photo: Photo
    of: str
    caption: str
    removable: bool


@dataclass(frozen=True)
class Kept:
    """Newest photos last; measurements in order of time, struck ones too."""

    measured: tuple[MeasuredRow, ...]
    photos: tuple[PhotoRow, ...]

    @property
    def standing(self) -> list[MeasuredRow]:
        return [row for row in self.measured if not row.struck]


def kept_of(piece: Piece, shop: Shop, person: Person) -> Kept:
    """Two queries. Needs the piece's mix loaded."""
    measured = Measured.objects.filter(piece=piece).select_related("by", "struck_by")
    photos = Photo.objects.filter(piece=piece).select_related("by", "piece")
    return Kept(
        tuple(measured_rows(against(piece, measured), shop, person)),
        tuple(photo_rows(photos, person)),
    )


def measured_rows(rows: Iterable[Against], shop: Shop, person: Person) -> list[MeasuredRow]:
    return [
        MeasuredRow(
            one,
            measured_words(one, shop),
            f"{one.row.by.name}, {moment(one.row.at)}",
            f"struck by {one.row.struck_by.name}, {moment(one.row.struck_at)}"
            if one.row.struck_by
            else "",
            may_strike(one.row, person),
        )
        for one in rows
    ]


def measured_words(one: Against, shop: Shop) -> str:
    said = []
    if one.row.thickness_m is not None:
        said.append(
            _beside(one.row.thickness_m, one.thickness_m, "length", one.thickness_off, shop)
        )
    if one.row.kg is not None:
        said.append(_beside(one.row.kg, one.kg, "scale", one.kg_off, shop))
    return "; ".join(said)


def _beside(measured: float, reckoned: float, kind: str, off: float | None, shop: Shop) -> str:
    facts = {
        "measured": measures.words(measured, kind, shop),
        "reckoned": measures.words(reckoned, kind, shop),
        "percent": f"{100 * (off or 0.0):+.1f} %".replace("-", "−"),
    }
    return _("%(measured)s (reckoned %(reckoned)s, %(percent)s)") % facts


def photo_rows(photos: Iterable[Photo], person: Person) -> list[PhotoRow]:
    return [
        PhotoRow(
            photo,
            photo.piece.code if photo.piece else "",
            f"{photo.by.name}, {moment(photo.at)}",
            may_remove(photo, person),
        )
        for photo in photos
    ]
