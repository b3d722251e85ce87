"""At which field of the section's form a fault is told."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from jobs.piece.section_fields import FIELDS, Rows, row_values, shown
from jobs.piece.section_outline import FREE, SHOWN
from jobs.services.section_faults import Fault

# A round cutout is told by its middle and its diameter, a rib by its two ends.
ROUND = {"x": "cx", "y": "cy", "length": "diameter", "width": "diameter"}
ENDS = {"start": "x0", "end": "x1"}


def field_of(fault: Fault, origin: str, cleaned: Mapping[str, Any], rows: Rows) -> str:
    """`origin` is the row it was typed in, like 'cutout_0'; empty for the outline. No field of
    the form where it stands at none."""
    if fault.part == "outline":
        return _of_outline(fault, cleaned, rows)
    kind = origin.partition("_")[0]
    if kind not in FIELDS:
        return ""
    if kind in ("edge", "rim"):
        return f"{origin}_{fault.name or 'width'}"
    seen = shown(kind, row_values(kind, f"{origin}_", cleaned))
    name = fault.name
    for names in (ROUND, ENDS):
        name = name if name in seen else names.get(name, name)
    if name not in seen or name == "drawn":
        name = next(one for one in ("width", "x", "cx", "words") if one in seen)
    return f"{origin}_{name}"


def _of_outline(fault: Fault, cleaned: Mapping[str, Any], rows: Rows) -> str:
    kind = cleaned["outline"]
    if kind == FREE:
        return _of_corners(fault, cleaned, rows)
    names = SHOWN[kind]
    name = fault.name
    if fault.judged is not None and fault.judged.key == "radius-too-large":
        name = "radius"
    if fault.judged is not None and fault.judged.key == "notch-too-large":
        along = fault.judged.figures["whole"] == cleaned["length"]
        name = "notch_length" if along else "notch_width"
    return name if name in names else names[0]


def _of_corners(fault: Fault, cleaned: Mapping[str, Any], rows: Rows) -> str:
    """The corner it is told of, or the nearest to its place; the pasted lines where those count."""
    if (cleaned.get("lines") or "").strip():
        return "lines"
    typed = [
        (place, cleaned[f"point_{place}_x"], cleaned[f"point_{place}_y"])
        for place in range(rows["point"])
        if cleaned.get(f"point_{place}_x") is not None
        and cleaned.get(f"point_{place}_y") is not None
    ]
    if not typed:
        return "point_0_x"
    key = fault.judged.key if fault.judged else ""
    if key in ("corner-radius", "duplicate-point") and fault.place < len(typed):
        row = typed[fault.place][0]
        return f"point_{row}_{'radius' if key == 'corner-radius' else 'x'}"
    if not fault.at:
        return f"point_{typed[0][0]}_x"
    x, y = fault.at[0]
    nearest = min(typed, key=lambda one: (one[1] - x) ** 2 + (one[2] - y) ** 2)
    return f"point_{nearest[0]}_x"
