"""A drawing's items as marks of SVG: paths and words, by class on screen, by attribute on paper."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from django import template
from shapely import LineString, Polygon
from shapely.affinity import rotate

from jobs.shapes.drawing import Arc, Area, Drawing, Item, Line, Words

register = template.Library()

Attributes = tuple[tuple[str, str], ...]

# Hatched areas, by role: which way the lines lean [degrees], how far apart [units]. They are lines
# of their own, not a pattern: every reader and every printer draws them.
HATCH: dict[str, tuple[float, float]] = {
    "backer": (45.0, 7.0),
    "edge": (45.0, 5.0),
    "rib": (-45.0, 5.0),
    "bar": (0.0, 4.0),
}
MOST_LINES = 400
THIN = {"stroke": "#000", "fill": "none", "stroke-width": "0.6"}
DASHED = THIN | {"stroke-dasharray": "3 3"}
# On paper, in black: no class is reached by the sheet's own rules.
INK: dict[str, dict[str, str]] = {
    "face": {"fill": "#fff", "stroke": "none"},
    "outline": THIN | {"stroke-width": "1.6"},
    "cutout": THIN | {"stroke-width": "1.3"},
    "edge": THIN | {"fill": "#fff", "stroke-width": "0.8"},
    "rib": DASHED | {"fill": "#fff", "stroke-width": "0.8"},
    "bar": THIN | {"stroke-width": "0.8"},
    "inlay": DASHED,
    "mark": THIN | {"stroke-width": "2.4"},
    "face coat": THIN | {"fill": "#000"},
    "backer": THIN | {"fill": "#fff", "stroke-width": "0.8"},
    "hatch": THIN | {"stroke-width": "0.45"},
    "dimension": THIN,
    "reach": THIN | {"stroke-width": "0.35"},
    "scale": THIN | {"stroke-width": "1.2"},
}
LETTER = 6.4  # about what a figure takes across
LETTERS = {"font-family": "DejaVu Sans, Arial, sans-serif", "font-size": "11", "fill": "#000"}


@dataclass(frozen=True)
class Stroke:
    d: str
    css: str
    ink: Attributes


@dataclass(frozen=True)
class Text:
    x: float
    y: float
    anchor: str
    turn: float
    words: str
    css: str
    ink: Attributes
    clear: str  # what is left white behind it on paper, so that no line runs through a figure


@dataclass(frozen=True)
class Marks:
    """strokes below, texts on top of all"""

    strokes: tuple[Stroke, ...]
    texts: tuple[Text, ...]


@register.simple_tag
def marks_of(drawing: Drawing) -> Marks:
    return _marks(drawing.items)


@register.filter
def shortly(said: str) -> str:
    """The first part of what a drawing is said to show: its name and size."""
    return said.partition(";")[0].removesuffix(".")


@lru_cache(maxsize=256)
def _marks(items: tuple[Item, ...]) -> Marks:
    strokes: list[Stroke] = []
    texts: list[Text] = []
    for item in items:
        if isinstance(item, Words):
            texts.append(_text(item))
            continue
        strokes.append(_stroke(_path(item), item.role))
        if isinstance(item, Area) and item.role in HATCH and (lines := _hatch(item)):
            strokes.append(_stroke(lines, "hatch"))
    return Marks(tuple(strokes), tuple(texts))


def _stroke(d: str, role: str) -> Stroke:
    return Stroke(d, _css(role), tuple(INK[role].items()))


def _text(words: Words) -> Text:
    x, y = words.at
    ink, clear = tuple(LETTERS.items()), _clear(words) if words.role == "dimension" else ""
    return Text(x, y, words.anchor, words.turn, words.words, _css(words.role), ink, clear)


def _clear(words: Words) -> str:
    """A box about as large as the words, before they are turned."""
    (x, y), wide = words.at, LETTER * len(words.words)
    left = round(x - {"start": 0.0, "middle": 0.5, "end": 1.0}[words.anchor] * wide, 2)
    return f"M{left:g} {round(y - 9, 2):g}h{round(wide, 2):g}v10h-{round(wide, 2):g}z"


def _css(role: str) -> str:
    return "of-" + role.replace(" ", "-")


def _path(item: Line | Area | Arc) -> str:
    if isinstance(item, Line):
        return f"M{_xy(item.start)}L{_xy(item.end)}"
    if isinstance(item, Arc):
        turn = f"A{item.radius:g} {item.radius:g} 0 0 {int(item.clockwise)} "
        return f"M{_xy(item.start)}" + "".join(turn + _xy(end) for end in _turns(item))
    return "".join(f"M{'L'.join(map(_xy, ring))}Z" for ring in item.rings)


def _turns(arc: Arc) -> list[Sequence[float]]:
    """Where its parts end, each little more than a quarter turn at most: what prints the sheets
    draws half a circle as one curve, which bulges."""
    (x, y), (to_x, to_y) = arc.start, arc.end
    chord = math.hypot(to_x - x, to_y - y)
    if not arc.large and chord < 1.5 * arc.radius:
        return [arc.end]
    height = math.sqrt(max(arc.radius**2 - (chord / 2) ** 2, 0.0))
    rise = arc.radius + height if arc.large else arc.radius - height
    share = rise / chord * (1 if arc.clockwise else -1)
    top = ((x + to_x) / 2 + share * (to_y - y), (y + to_y) / 2 - share * (to_x - x))
    halves = replace(arc, end=top, large=False), replace(arc, start=top, large=False)
    return [end for half in halves for end in _turns(half)]


def _hatch(area: Area) -> str:
    """Parallel lines within it; none in what is too small to hold two."""
    lean, apart = HATCH[area.role]
    region = Polygon(area.rings[0], area.rings[1:])
    if not region.is_valid:
        region = region.buffer(0)
    # Turned about the sheet's corner, so that the lines of neighbouring areas meet.
    turned = rotate(region, -lean, origin=(0, 0))
    if turned.is_empty:
        return ""
    left, top, right, bottom = turned.bounds
    count = int((bottom - top) / apart) + 1
    if count > MOST_LINES:
        apart, count = (bottom - top) / MOST_LINES, MOST_LINES
    first = math.ceil(top / apart) * apart
    found: list[str] = []
    for n in range(count):
        y = first + n * apart
        met = turned.intersection(LineString([(left - 1, y), (right + 1, y)]))
        for part in getattr(met, "geoms", [met]):
            if part.length > 0.5:
                ends = rotate(part, lean, origin=(0, 0)).coords
                found.append(f"M{_xy(ends[0])}L{_xy(ends[-1])}")
    return "".join(found)


def _xy(point: Sequence[float]) -> str:
    return f"{round(point[0], 2):g} {round(point[1], 2):g}"
