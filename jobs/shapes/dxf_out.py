"""A shape as a DXF file for whoever cuts the template: R2010, a layer for each of outline and
cutouts, one closed line for each, arcs as arcs, its units named in the file."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

from jobs.shapes.faults import ShapeFault
from jobs.shapes.path import Path
from jobs.shapes.shape import Shape

if TYPE_CHECKING:
    from ezdxf.layouts import Modelspace

OUTLINE, CUTOUTS = "OUTLINE", "CUTOUTS"
# Name -> metres, and the code of the header's $INSUNITS (DXF reference, header section).
UNITS: dict[str, tuple[float, int]] = {
    "in": (0.0254, 1),
    "ft": (0.3048, 2),
    "mm": (0.001, 4),
    "cm": (0.01, 5),
    "m": (1.0, 6),
}
METRIC = {"mm", "cm", "m"}
COLOURS = {OUTLINE: 7, CUTOUTS: 1}  # of the index that every reader has: ink, red


def write_dxf(shape: Shape, unit: str = "mm") -> bytes:
    """The outline and the cutouts as they are seen from the face. Raises ShapeFault "dxf-units"
    for a unit that is not one of `UNITS`."""
    import ezdxf

    metres, code = unit_of(unit)
    file = ezdxf.new("R2010")
    file.header["$INSUNITS"] = code
    file.header["$MEASUREMENT"] = int(unit in METRIC)
    for name, colour in COLOURS.items():
        file.layers.add(name, color=colour)
    sheet = file.modelspace()
    _add(sheet, shape.outline.path.scaled(1 / metres), OUTLINE)
    for cutout in shape.cutouts:
        _add(sheet, cutout.path.scaled(1 / metres), CUTOUTS)
    text = io.StringIO()
    file.write(text)
    return text.getvalue().encode("utf-8")


def unit_of(unit: str) -> tuple[float, int]:
    if unit not in UNITS:
        raise ShapeFault(
            "dxf-units",
            "The file does not say in which unit it is drawn. Choose one: {units}.",
            part="file",
            facts={"units": ", ".join(UNITS)},
        )
    return UNITS[unit]


def round_hole(path: Path) -> bool:
    return len(path.points) == 2 and all(abs(abs(bulge) - 1) < 1e-9 for bulge in path.bulges)


def _add(sheet: Modelspace, path: Path, layer: str) -> None:
    own: dict[str, Any] = {"layer": layer}
    if round_hole(path):
        side = path.sides[0]
        sheet.add_circle(side.centre, side.radius, dxfattribs=own)
        return
    corners = [(x, y, bulge) for (x, y), bulge in zip(path.points, path.bulges, strict=True)]
    sheet.add_lwpolyline(corners, format="xyb", close=True, dxfattribs=own)
