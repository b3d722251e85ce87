"""What keeps a section from being cast, in the shop's words, with its place. `jobs.shapes` and the
engine judge; this says which figure of what is stored it is, and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from django.utils.translation import gettext as _

from jobs.services.shape import face_area_of, panel_from
from jobs.shapes.checks import faults as shape_faults
from jobs.shapes.faults import Point, ShapeFault
from jobs.shapes.shape import Shape
from jobs.shapes.stored import read
from shop import measures
from shop.models import Shop

LEAST_DENSITY, GREATEST_DENSITY = 1000.0, 3000.0  # kg/m3, as `curing.panel.Panel` takes it
GREATEST_AREA = 50.0  # m2, as a piece may be entered without a section


@dataclass(frozen=True)
class Fault:
    """`part` is a key of the stored shape, `place` the row in its list, `name` the figure; `at` a
    point or the ends of a segment in plan [m], where there is one to show."""

    message: str
    part: str = ""
    place: int = 0
    name: str = ""
    at: tuple[Point, ...] = ()
    judged: ShapeFault | None = None

    def numbered(self, number: int, shop: Shop) -> Fault:
        """The same with its row counted as on the screen where it was typed."""
        if self.judged is None:
            return self
        facts = dict(self.judged.facts)
        for name in _OWN_NUMBER.keys() & facts.keys():
            if _OWN_NUMBER[name] == self.part:
                facts[name] = str(number)
        return replace(self, message=_said(self.judged, facts, shop))


# The fact in a fault's words that counts its own row.
_OWN_NUMBER = {"number": "cutouts", "rib": "ribs"}


def fault_of(
    shape: Mapping[str, Any], *, face: float, coat: float, density: float, shop: Shop
) -> Fault | None:
    """The first thing that is impossible; None for a section that can be cast."""
    found = faults_of(shape, face=face, coat=coat, density=density, shop=shop)
    return found[0] if found else None


def faults_of(
    shape: Mapping[str, Any], *, face: float, coat: float, density: float, shop: Shop
) -> tuple[Fault, ...]:
    """All that is wrong and can be seen at once, in the order in which it should be mended."""
    if not LEAST_DENSITY <= density <= GREATEST_DENSITY:
        return (Fault(_density_words(shop)),)
    try:
        found = read(shape)
        wrong = shape_faults(found, face, coat)
        if not wrong:
            panel_from(dict(shape), face=face, density=density)
    except ShapeFault as fault:
        return (_fault(fault, shape, None, shop),)
    except ValueError as error:
        words = _("This cannot be reckoned with: %(why)s. Look at the sizes.")
        return (Fault(words % {"why": error}, "outline"),)
    if wrong:
        return tuple(_fault(fault, shape, found, shop) for fault in wrong)
    if face_area_of(dict(shape), face=face) > GREATEST_AREA:
        return (Fault(_("No piece is that large: look at the unit."), "outline", 0, "length"),)
    return ()


def _said(fault: ShapeFault, facts: dict[str, str], shop: Shop) -> str:
    def long(metres: float) -> str:
        return measures.words(metres, "length", shop)

    return ShapeFault(fault.key, fault.template, figures=fault.figures, facts=facts).said(long)


def _fault(fault: ShapeFault, shape: Mapping[str, Any], found: Shape | None, shop: Shop) -> Fault:
    name = _figure_at(fault, shape, found)
    message = _said(fault, fault.facts, shop)
    return Fault(message, fault.part, fault.row, name, fault.place, fault)


# Which figure of a row a fault is at.
_FIGURES = {
    "edge-too-shallow": "depth",
    "edge-wider-than-piece": "width",
    "no-such-side": "width",
    "too-many-ribs": "spacing",
    "rib-through-cutout": "start",
    "cut-in-two": "length",
    "no-area": "length",
    "too-large": "length",
    "radius-too-large": "radius",
}


_BESIDE = ("cutout-across-outline", "cutout-outside")


def _figure_at(fault: ShapeFault, shape: Mapping[str, Any], found: Shape | None) -> str:
    if fault.key in _FIGURES:
        return _FIGURES[fault.key]
    if fault.key == "notch-too-large":
        whole = fault.figures["whole"]
        return "notch_length" if whole == shape.get("length") else "notch_width"
    if fault.key in ("not-above-zero", "not-finite"):
        return fault.facts.get("name", "").replace(" ", "_").split("_", 1)[-1]
    if fault.part == "ribs":
        row = shape["ribs"][fault.row]
        return next((name for name in ("at", "spacing", "end") if name in row), "width")
    if fault.part == "cutouts" and fault.key in _BESIDE and found is not None:
        return _side_crossed(found, fault.row)
    return "x" if fault.part in ("cutouts", "inlays", "strongbacks") else ""


def _side_crossed(shape: Shape, row: int) -> str:
    """Whether a cutout sticks out at an end, or at the front or back."""
    left, front, right, back = shape.outline.path.box
    x0, y0, x1, y1 = shape.cutouts[row].path.box
    out_along = max(left - x0, x1 - right)
    return "x" if out_along >= max(front - y0, y1 - back) else "y"


def _density_words(shop: Shop) -> str:
    least, greatest = (
        measures.words(value, "density", shop) for value in (LEAST_DENSITY, GREATEST_DENSITY)
    )
    return _(
        "The mix's unit weight must be from %(least)s to %(greatest)s. Set it on the mix's page."
    ) % {"least": least, "greatest": greatest}
