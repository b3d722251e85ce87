"""What keeps a section from being cast, in the shop's words. The engine judges; this tells why."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from curing.panel import Panel
from jobs.services.shape import PARTS, panel_from
from shop import measures
from shop.models import Shop

LEAST_DENSITY, GREATEST_DENSITY = 1000.0, 3000.0  # kg/m3, as `curing.panel.Panel` takes it


@dataclass(frozen=True)
class Fault:
    """`part` is a key of the stored shape, `place` the row in its list, `name` the figure."""

    message: str
    part: str = ""
    place: int = 0
    name: str = ""


def fault_of(shape: dict[str, Any], *, face: float, density: float, shop: Shop) -> Fault | None:
    """The first thing that is impossible; None for a section that can be cast."""
    outline = {"length": shape["length"], "width": shape["width"]}
    if not LEAST_DENSITY <= density <= GREATEST_DENSITY:
        return Fault(_density_words(shop))
    if not _casts(outline, face, density):
        return Fault(_("Length, width and thickness must be above nought."), name="length")
    for part in PARTS:
        for place, item in enumerate(shape.get(part, ())):
            if not _casts(outline | {part: [item]}, face, density):
                name, message = _WHY[part](item, outline, face, shop)
                return Fault(message, part, place, name)
    if not _casts(shape, face, density):
        last = len(shape.get("cutouts", ())) - 1
        words = _("Together the cutouts cut the piece in two. Leave concrete beside them.")
        return Fault(words, "cutouts", max(last, 0), "length")
    return None


def _casts(shape: dict[str, Any], face: float, density: float) -> Panel | None:
    try:
        return panel_from(shape, face=face, density=density)
    except ValueError:
        return None


def _long(value: float, shop: Shop) -> str:
    return measures.words(value, "length", shop)


def _density_words(shop: Shop) -> str:
    least, greatest = (
        measures.words(value, "density", shop) for value in (LEAST_DENSITY, GREATEST_DENSITY)
    )
    return _(
        "The mix's unit weight must be from %(least)s to %(greatest)s. Set it on the mix's page."
    ) % {"least": least, "greatest": greatest}


def _edge(
    edge: dict[str, Any], outline: dict[str, float], face: float, shop: Shop
) -> tuple[str, str]:
    reach = outline["width" if edge["side"] in ("front", "back") else "length"]
    if edge["width"] > reach:
        words = _("Wider than the piece, which has %(reach)s there.")
        return "width", words % {"reach": _long(reach, shop)}
    words = _(
        "Measured from the show face down, so it is more than the piece's thickness, %(face)s. "
        "Empty: no edge built down."
    )
    return "depth", words % {"face": _long(face, shop)}


def _rib(
    rib: dict[str, Any], outline: dict[str, float], face: float, shop: Shop
) -> tuple[str, str]:
    reach = outline["width" if rib["along"] == "length" else "length"]
    if rib["width"] > reach:
        words = _("Wider than the piece, which has %(reach)s there.")
        return "width", words % {"reach": _long(reach, shop)}
    least, most = rib["width"] / 2, reach - rib["width"] / 2
    words = _("The rib's middle lies from %(least)s to %(most)s, so that it stays in the piece.")
    return "at", words % {"least": _long(least, shop), "most": _long(most, shop)}


def _cutout(
    hole: dict[str, Any], outline: dict[str, float], face: float, shop: Shop
) -> tuple[str, str]:
    for start, reach, size in (("x", "length", "length"), ("y", "width", "width")):
        if hole[start] >= outline[reach] or hole[start] + hole[size] <= 0:
            words = _("This cutout lies outside the piece, which ends at %(reach)s.")
            return start, words % {"reach": _long(outline[reach], shop)}
    through = "width" if hole["y"] <= 0 and hole["y"] + hole["width"] >= outline["width"] else ""
    words = _("This cutout cuts the piece in two. Leave concrete on one side of it.")
    return through or "length", words


def _bar(
    bar: dict[str, Any], outline: dict[str, float], face: float, shop: Shop
) -> tuple[str, str]:
    for start, size in (("x", "length"), ("y", "width")):
        reach = outline[size]
        if bar[size] > reach:
            words = _("Longer than the piece there, which has %(reach)s.")
            return size, words % {"reach": _long(reach, shop)}
        if bar[start] < 0 or bar[start] + bar[size] > reach:
            words = _("The bar runs off the piece. With this size it begins from 0 to %(most)s.")
            return start, words % {"most": _long(reach - bar[size], shop)}
    return "modulus", _("Stiffness and unit weight of the bar must be above nought.")


_WHY = {"edges": _edge, "ribs": _rib, "cutouts": _cutout, "strongbacks": _bar}
