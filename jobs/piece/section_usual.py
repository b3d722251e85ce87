"""Cutouts of usual sizes, to start a row from. Sizes: common practice, no source; what is to be
set in comes with its own template, which comes first."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from django.utils.translation import gettext_lazy as lazy

from shop import measures
from shop.lengths import INCH
from shop.models import Shop

if TYPE_CHECKING:
    from django_stubs_ext import StrPromise


@dataclass(frozen=True)
class Usual:
    key: str
    words: StrPromise
    use: str
    length: float = 0.0  # in, as the others
    width: float = 0.0
    radius: float = 0.0
    diameter: float = 0.0
    around: bool = False
    opens: bool = False

    def label(self, shop: Shop) -> str:
        def long(inches: float) -> str:
            return measures.words(inches * INCH, "length", shop).rsplit(" ", 1)[0]

        if self.diameter:
            return f"{self.words} ⌀ {long(self.diameter)}"
        return f"{self.words} {long(self.length)} × {long(self.width)}"


USUAL = (
    Usual("sink", lazy("Sink"), "sink", 30, 16, radius=0.75),
    Usual("basin", lazy("Basin"), "sink", 18, 12, radius=2),
    Usual("oval", lazy("Oval basin"), "sink", 17, 14, around=True),
    Usual("apron", lazy("Apron sink"), "sink", 33, 20, opens=True),
    Usual("faucet", lazy("Faucet"), "faucet hole", diameter=1.375),
    Usual("cooktop", lazy("Cooktop"), "cooktop", 28.5, 19.5),
)
BY_KEY = {usual.key: usual for usual in USUAL}


def row_typed(usual: Usual, typed: Mapping[str, Any], shop: Shop) -> dict[str, str]:
    """Its row as somebody would type it, in the middle of the piece where that is known, a faucet
    behind the last sink."""
    row = {"use": usual.use, "opens": "yes" if usual.opens else ""}
    sizes = {"length": usual.length, "width": usual.width, "radius": usual.radius,
             "diameter": usual.diameter}  # fmt: skip
    metres = {name: size * INCH for name, size in sizes.items() if size}
    row["figure"] = "circle" if usual.diameter else "around" if usual.around else ""
    metres |= _placed(usual, metres, typed, shop)
    return row | {name: measures.typed(size, "length", shop) for name, size in metres.items()}


def _placed(
    usual: Usual, size: Mapping[str, float], typed: Mapping[str, Any], shop: Shop
) -> dict[str, float]:
    if typed.get("outline") not in ("", None, "rectangle", "rounded"):
        return {}
    box = [_read(typed.get(name), shop) for name in ("length", "width")]
    if box[0] is None or box[1] is None:
        return {}
    long, wide = box[0], box[1]
    if usual.diameter:
        middle, back = _behind_the_last(typed, shop) or (long / 2, 0.75 * wide)
        return {"cx": middle, "cy": (back + wide) / 2}
    y = 0.0 if usual.opens else (wide - size["width"]) / 2
    return {"x": (long - size["length"]) / 2, "y": y}


def _behind_the_last(typed: Mapping[str, Any], shop: Shop) -> tuple[float, float] | None:
    """The middle and the back of the last rectangular cutout."""
    found = None
    for place in range(len(typed)):
        start = f"cutout_{place}_"
        if f"{start}x" not in typed:
            break
        x, y, long, wide = (
            _read(typed.get(start + name), shop) for name in ("x", "y", "length", "width")
        )
        if x is not None and y is not None and long is not None and wide is not None:
            found = (x + long / 2, y + wide)
    return found


def _read(text: Any, shop: Shop) -> float | None:
    try:
        return measures.read(str(text), "length", shop) if text else None
    except ValueError:
        return None
