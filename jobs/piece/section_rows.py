"""The rows of a section's form: how each is stored, and read back."""

from __future__ import annotations

import json
from collections.abc import Mapping
from itertools import groupby
from typing import Any

from jobs.piece.section_fields import FIELDS, KINDS, MOST_CORNERS, NEEDED, OFFERED, USES, Rows
from jobs.piece.section_outline import (
    FREE,
    box_of,
    initial_outline,
    key_of,
    rim_rows,
    stored_corners,
)
from jobs.services.shape import MATERIALS
from jobs.shapes.faults import ShapeFault
from jobs.shapes.outlines import FreeOutline
from jobs.shapes.stored import read
from shop.models import Shop

Row = Mapping[str, Any]
Four = tuple[float, float, float, float]

CLOSE = 1e-6  # m
PLACES = 9  # decimals of a metre to which the corner of a round hole is kept
PARTS = {"cutout": "cutouts", "bar": "strongbacks", "inlay": "inlays"}
NAMED_USES = {value for value, _words in USES}


# From a row to what is stored.


def stored_ribs(row: Row, box: Four) -> list[dict[str, Any]]:
    """Several in a row stand evenly between the sides: n ribs part the piece into n + 1."""
    size = {"width": row["width"], "depth": row["depth"]}
    how, along = row["how"] or "count", row["along"] or "length"
    if how == "points":
        ends = {"start": [row["x0"], row["y0"]], "end": [row["x1"], row["y1"]]}
        return [ends | size]
    if how == "spacing":
        return [{"spacing": row["spacing"], **size, "along": along}]
    places = [row["at"]] if how == "at" else _evenly(row["count"] or 1, box, along)
    return [{"at": at, **size, "along": along} for at in places]


def stored_cutout(row: Row) -> dict[str, Any]:
    """Raises ShapeFault for a drawn one that cannot be read."""
    kind = row["figure"] or ""
    if kind == "circle":
        radius = row["diameter"] / 2
        stored: dict[str, Any] = {
            "x": round(row["cx"] - radius, PLACES), "y": round(row["cy"] - radius, PLACES),
            "figure": "circle", "diameter": row["diameter"], "around": False,
        }  # fmt: skip
    elif kind == FREE:
        drawn, (left, front, _, _) = _drawn(row["drawn"])
        stored = {"x": row["x"] - left, "y": row["y"] - front, "figure": FREE, **drawn}
    else:
        sizes = {name: row[name] for name in ("x", "y", "length", "width")}
        stored = sizes | {"around": kind == "around"}
        if row["radius"] and kind != "around":
            stored |= {"figure": "rounded", "radius": row["radius"]}
    use = row["called"] or row["use"] if row["use"] == "other" else row["use"]
    return stored | {"opens": bool(row["opens"])} | ({"use": use} if use else {})


def _drawn(text: str) -> tuple[dict[str, Any], Four]:
    try:
        kept = json.loads(text)
        points = [[float(x), float(y)] for x, y in kept["points"]]
        bulges = [float(bulge) for bulge in kept["bulges"]]
    except (ValueError, TypeError, KeyError, OverflowError):
        raise ShapeFault(
            "unreadable", "This drawn cutout cannot be read any more. Load the page again.",
            part="cutouts",
        ) from None  # fmt: skip
    outline = FreeOutline(tuple((x, y) for x, y in points), tuple(bulges))
    return {"points": points, "bulges": bulges}, outline.path.box


def stored_bar(row: Row) -> dict[str, Any]:
    material = row["material"] or "wood"
    modulus, density = MATERIALS[material]
    return {name: row[name] for name in NEEDED["bar"]} | {
        "material": material,
        "bonded": bool(row["bonded"]),
        "modulus": row["modulus"] if row["modulus"] is not None else modulus,
        "density": row["density"] if row["density"] is not None else density,
    }


def stored_inlay(row: Row) -> dict[str, Any]:
    sizes = {name: row[name] or 0.0 for name in ("length", "width")}
    return {"words": row["words"], "x": row["x"], "y": row["y"], **sizes}


def _evenly(count: int, box: Four, along: str) -> list[float]:
    low, high = (box[1], box[3]) if along == "length" else (box[0], box[2])
    return [low + (high - low) * place / (count + 1) for place in range(1, count + 1)]


# From what is stored to the form.


def initial_of(shape: Mapping[str, Any] | None, shop: Shop) -> dict[str, Any]:
    if not shape:
        return {}
    start = initial_outline(shape, shop)
    for edge in shape.get("edges", ()):
        start |= _named("edge", key_of(edge["side"]), edge)
    for place, row in enumerate(rim_rows(shape)):
        start |= _named("rim", place, row)
    for place, row in enumerate(_rib_rows(shape)):
        start |= _named("rib", place, row)
    for place, hole in enumerate(shape.get("cutouts", ())):
        start |= _named("cutout", place, _cutout_row(hole, shape))
    for place, bar in enumerate(shape.get("strongbacks", ())):
        start |= _named("bar", place, _bar_row(bar))
    for place, note in enumerate(shape.get("inlays", ())):
        sizes = {name: note.get(name) or None for name in ("length", "width")}
        start |= _named("inlay", place, {**note, **sizes})
    return start


def rows_of(shape: Mapping[str, Any] | None) -> Rows:
    """How many rows a section fills; some of each are offered."""
    shape = shape or {}
    corners = len(stored_corners(shape))
    filled = {
        "point": corners if corners <= MOST_CORNERS else 0,
        "rim": len(rim_rows(shape)),
        "rib": len(_rib_rows(shape)),
        **{kind: len(shape.get(part, ())) for kind, part in PARTS.items()},
    }
    return {kind: max(filled[kind], OFFERED[kind]) for kind in KINDS}


def _named(kind: str, place: int | str, row: Row) -> dict[str, Any]:
    return {f"{kind}_{place}_{name}": row[name] for name in FIELDS[kind] if name in row}


def _rib_rows(shape: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Ribs that were typed in one row, and stand evenly, are that row again."""
    rows: list[dict[str, Any]] = []
    box = box_of(shape) if shape.get("ribs") else (0.0, 0.0, 0.0, 0.0)
    for size, group in groupby(shape.get("ribs", ()), key=_typed_together):
        _row, along, width, depth, how = size
        row = {"how": how, "along": along, "width": width, "depth": depth}
        ribs = list(group)
        if how == "spacing":
            rows += [row | {"spacing": rib["spacing"]} for rib in ribs]
        elif how == "points":
            rows += [row | _ends(rib) for rib in ribs]
        else:
            rows += _placed(row, [rib["at"] for rib in ribs], box)
    return rows


def _placed(row: dict[str, Any], places: list[float], box: Four) -> list[dict[str, Any]]:
    even = _evenly(len(places), box, row["along"])
    if all(abs(a - b) < CLOSE for a, b in zip(places, even, strict=True)):
        return [row | {"how": "count", "count": len(places)}]
    return [row | {"at": at} for at in places]


def _ends(rib: Row) -> dict[str, float]:
    (x0, y0), (x1, y1) = rib["start"], rib["end"]
    return {"x0": x0, "y0": y0, "x1": x1, "y1": y1}


def _typed_together(rib: Row) -> tuple[Any, ...]:
    how = "spacing" if "spacing" in rib else "points" if "start" in rib else "at"
    return rib.get("row"), rib.get("along", "length"), rib["width"], rib["depth"], how


def _cutout_row(hole: Row, shape: Mapping[str, Any]) -> dict[str, Any]:
    kind = hole.get("figure", "")
    row = dict(hole)
    row |= {"figure": "around" if hole.get("around") and not kind else kind, **_use(hole)}
    row["opens"] = "yes" if _opens(hole, shape) else ""
    if kind == "circle":
        radius = hole["diameter"] / 2
        row |= {"cx": hole["x"] + radius, "cy": hole["y"] + radius}
    elif kind not in ("", "rounded"):
        path = read({**hole, "outline": kind}).outline.path
        drawn = {"points": [list(point) for point in path.points], "bulges": list(path.bulges)}
        left, front, _, _ = path.box
        row |= {"x": hole["x"] + left, "y": hole["y"] + front}
        row |= {"figure": FREE, "drawn": json.dumps(drawn)}
    elif kind:
        row["figure"] = ""
    return row


def _use(hole: Row) -> dict[str, str]:
    use = hole.get("use", "")
    return {"use": use} if use in NAMED_USES else {"use": "other", "called": use}


def _opens(hole: Row, shape: Mapping[str, Any]) -> bool:
    if "opens" in hole or "figure" in hole or shape.get("outline", "rectangle") != "rectangle":
        return bool(hole.get("opens"))
    # Stored before it was asked: what reaches past a side opened it.
    return bool(
        hole["x"] < 0
        or hole["y"] < 0
        or hole["x"] + hole["length"] > shape["length"]
        or hole["y"] + hole["width"] > shape["width"]
    )


def _bar_row(bar: Row) -> dict[str, Any]:
    usual = MATERIALS.get(bar.get("material", ""), (None, None))
    own = {
        name: None if bar[name] == standard else bar[name]
        for name, standard in zip(("modulus", "density"), usual, strict=True)
    }
    return {**bar, **own, "bonded": "yes" if bar["bonded"] else ""}
