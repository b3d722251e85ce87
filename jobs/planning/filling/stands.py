"""Where forms stand: which tables take a piece, how much of one it covers, where it is taken to be.

A table is filled by area, a piece's own box with its form's walls: what lies beside it is not
looked at in the plan itself, and a lay that does not go must be sorted by hand.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from jobs.planning.filling.chain import Line
from jobs.planning.problem import Fault, Place
from jobs.services.laying import Table, fits_one, lay
from jobs.services.together import box_of
from shop.models import CastingTable, Stations, StepKind

TABLE, RACK, BAY, BOOTH, MIXER, TRUCK = "table", "rack", "wet bay", "booth", "mixer", "truck"
SQUARE = 100.0  # square decimetres in a square metre
CLOSE = 1e-6


def square_decimetres(area_m2: float) -> int:
    return max(1, math.ceil(area_m2 * SQUARE - CLOSE))


def bed_of(table: CastingTable) -> Table:
    return Table(table.name, table.length_m, table.width_m)


def beds_of(tables: Sequence[CastingTable], room_id: int) -> list[Table]:
    """Those of the room; of a room without any, all that there are."""
    own = [table for table in tables if table.room_id == room_id]
    return [bed_of(table) for table in own or tables]


def places(tables: Sequence[CastingTable], stations: Stations) -> tuple[Place, ...]:
    counted = (
        (RACK, stations.rack_places),
        (BAY, stations.wet_bays),
        (BOOTH, stations.booth_places),
        (MIXER, stations.mixers),
        (TRUCK, stations.trucks),
    )
    taken = {table.name for table in tables}
    return (
        *(Place(t.name, square_decimetres(t.length_m * t.width_m), TABLE) for t in tables),
        *(Place(station(kind, taken), room, kind) for kind, room in counted),
    )


def station(kind: str, tables: set[str]) -> str:
    """A station's name is what it is, unless a table has that name."""
    return f"{kind} of the shop" if kind in tables else kind


def stand(lines: Sequence[Line], tables: Sequence[CastingTable]) -> tuple[list[Fault], list[str]]:
    """Fills in each line's tables. A piece that is in its form and of which nobody marked where it
    stands is taken to stand where there is most room."""
    faults, notes = [], []
    left = {t.name: square_decimetres(t.length_m * t.width_m) for t in tables}
    beds = {t.name: bed_of(t) for t in tables}
    for line in lines:
        line.area, line.tables = covers(line, tables)
        if is_in_form(line) and line.form and line.form.table.name in beds:
            line.stands = line.form.table.name
            left[line.stands] -= line.area
    for line in lines:
        if not tables or not needs_table(line) or line.stands:
            continue
        if not line.tables:
            faults.append(too_large(line, beds_of(tables, line.piece.room_id)))
        elif is_in_form(line):
            line.stands = max(line.tables, key=lambda name: left[name])
            left[line.stands] -= line.area
            notes.append(
                f"{line.code}: nobody marked where its form stands; it is taken to be on "
                f"{line.stands}."
            )
    return faults, notes


def covers(line: Line, tables: Sequence[CastingTable]) -> tuple[int, tuple[str, ...]]:
    box = box_of(line.piece)
    beds = beds_of(tables, line.piece.room_id)
    fits = tuple(bed.name for bed in beds if fits_one(box, [bed]))
    return square_decimetres(box.length * box.width), fits


def needs_table(line: Line) -> bool:
    demold = line.task(StepKind.DEMOLD)
    return demold.open if demold else line.cast.open


def is_in_form(line: Line) -> bool:
    return needs_table(line) and not line.tasks[0].open


def too_large(line: Line, beds: Sequence[Table]) -> Fault:
    return Fault(
        line.code,
        "size",
        f"{line.code}: it is larger than every table it could stand on "
        f"({', '.join(bed.name for bed in beds)}). Split it, or add a table.",
    )


def lie_together(lines: Sequence[Line], tables: Sequence[CastingTable]) -> bool:
    """Whether all of them can lie on the room's tables at once."""
    if not tables:
        return True
    boxes = [box_of(line.piece) for line in lines]
    return not lay(boxes, beds_of(tables, lines[0].piece.room_id)).left
