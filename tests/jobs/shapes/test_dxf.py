"""DXF files: out and in again is the same outline; a stranger's file is read or refused."""

from __future__ import annotations

import io
import math

import ezdxf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.shapes import dxf_in
from jobs.shapes.checks import faults
from jobs.shapes.dxf_in import Layer, look, read_dxf
from jobs.shapes.dxf_out import CUTOUTS, OUTLINE, write_dxf
from jobs.shapes.faults import ShapeFault
from jobs.shapes.outlines import Circle, Rectangle
from jobs.shapes.shape import Cutout, Shape
from tests.jobs.shapes.samples import COUNTER, outlines


def as_bytes(file) -> bytes:
    text = io.StringIO()
    file.write(text)
    return text.getvalue().encode()


def blank(unit: int = 4):
    file = ezdxf.new("R2010")
    file.header["$INSUNITS"] = unit
    return file, file.modelspace()


def refused(data: bytes, **given) -> ShapeFault:
    with pytest.raises(ShapeFault) as fault:
        read_dxf(data, **given)
    assert fault.value.part == "file"
    assert fault.value.words.endswith((".", "?"))
    assert "{" not in fault.value.words
    return fault.value


@settings(max_examples=40)
@given(outlines(), st.sampled_from(["in", "ft", "mm", "cm", "m"]))
def test_out_and_in_is_the_same_outline(outline, unit) -> None:
    middle = outline.path.polygon.representative_point()
    hole = Cutout(Circle(0.05), middle.x - 0.025, middle.y - 0.025)
    back = read_dxf(write_dxf(Shape(outline, cutouts=(hole,)), unit))
    left, front, _, _ = outline.path.box
    assert back.unit == unit
    there, here = outline.path.moved(-left, -front), back.outline.path
    assert len(here.points) == len(there.points)
    for (x, y), (u, v) in zip(here.points, there.points, strict=True):
        assert (x, y) == pytest.approx((u, v), abs=1e-9)
    assert here.bulges == pytest.approx(there.bulges, abs=1e-12)
    (again,) = back.cutouts
    assert again.path.polygon.centroid.distance(
        hole.path.moved(-left, -front).polygon.centroid
    ) == pytest.approx(0, abs=1e-9)
    assert again.path.polygon.area == pytest.approx(hole.path.polygon.area, rel=1e-9)


def test_what_is_written_is_what_was_asked_for() -> None:
    file = ezdxf.read(io.StringIO(write_dxf(COUNTER, "in").decode()))
    assert (file.dxfversion, file.header["$INSUNITS"]) == ("AC1024", 1)  # R2010, inches
    kinds = [(entity.dxftype(), entity.dxf.layer) for entity in file.modelspace()]
    assert kinds == [("LWPOLYLINE", OUTLINE), ("LWPOLYLINE", CUTOUTS), ("CIRCLE", CUTOUTS)]
    outline = file.modelspace()[0]
    assert outline.closed
    assert [tuple(point) for point in outline.get_points("xy")] == [
        pytest.approx(corner) for corner in ((0, 0), (96, 0), (96, 25.5), (0, 25.5))
    ]
    assert not file.audit().has_errors


def test_loose_lines_and_arcs_are_put_together_in_any_order() -> None:
    """A slot of 2 m by 1 m: two straights, two half circles, drawn every which way, ends off by
    a twentieth of a millimetre."""
    file, sheet = blank()
    sheet.add_line((1500, 1000.04), (500, 1000))
    sheet.add_arc((500, 500), 500, 90, 270)
    sheet.add_line((1500, 0), (500, 0.05))
    sheet.add_arc((1500, 500), 500, 270, 90)
    sheet.add_circle((500, 500), 100)
    sheet.add_text("cut here", height=50)
    back = read_dxf(as_bytes(file))
    area = back.outline.path.polygon.area
    assert area == pytest.approx(1 + math.pi / 4, rel=3e-4)
    assert len(back.cutouts) == 1
    assert faults(back.shape, 0.019) == ()


def test_a_polyline_that_was_not_closed_but_ends_where_it_began() -> None:
    file, sheet = blank(6)
    sheet.add_lwpolyline([(5, 5), (7, 5), (7, 6), (5, 6), (5, 5)])
    assert read_dxf(as_bytes(file)).outline.path.points == ((0, 0), (2, 0), (2, 1), (0, 1))


def test_an_old_polyline_and_lines_that_go_on_from_an_open_one() -> None:
    file, sheet = blank(6)
    sheet.add_polyline2d([(0, 0), (2, 0), (2, 1), (0, 1)], close=True)
    sheet.add_lwpolyline([(0.5, 0.5), (1, 0.5), (1, 0.8)])
    sheet.add_line((1, 0.8), (0.5, 0.5))
    back = read_dxf(as_bytes(file))
    assert back.outline.path.polygon.area == pytest.approx(2)
    assert back.cutouts[0].path.polygon.area == pytest.approx(0.5 * 0.3 / 2)


def test_an_arc_that_was_mirrored_in_the_drawing() -> None:
    """A half disc, its arc stored as seen from below, which is how a mirrored one is kept."""
    file, sheet = blank(6)
    sheet.add_line((-1, 0), (1, 0))
    sheet.add_arc((0, 0), 1, 0, 180, dxfattribs={"extrusion": (0, 0, -1)})
    area = read_dxf(as_bytes(file)).outline.path.polygon.area
    assert area == pytest.approx(math.pi / 2, rel=2e-4)


def test_an_arc_all_the_way_round_is_a_circle() -> None:
    file, sheet = blank(6)
    sheet.add_lwpolyline([(0, 0), (2, 0), (2, 1), (0, 1)], close=True)
    sheet.add_arc((1, 0.5), 0.2, 30, 390)
    (hole,) = read_dxf(as_bytes(file)).cutouts
    assert hole.path.polygon.area == pytest.approx(math.pi * 0.04, rel=2e-4)


def test_a_line_drawn_twice_counts_once() -> None:
    file, sheet = blank(6)
    corners = [(0, 0), (2, 0), (1, 1)]
    for start, end in zip(corners, corners[1:] + corners[:1], strict=True):
        sheet.add_line(start, end)
    sheet.add_line((2, 0), (0, 0))
    assert read_dxf(as_bytes(file)).outline.path.polygon.area == pytest.approx(1)


@pytest.mark.parametrize("code", [0, 3, 99])
def test_a_file_without_a_unit_is_asked_for_one(code: int) -> None:
    file, sheet = blank(code)
    sheet.add_circle((0, 0), 20)
    data = as_bytes(file)
    assert look(data).unit is None
    assert refused(data).key == "dxf-units"
    assert read_dxf(data, unit="in").outline.path.polygon.area == pytest.approx(
        math.pi * 0.508**2, rel=2e-4
    )
    assert refused(data, unit="cubit").key == "dxf-units"


def test_a_file_without_a_header_has_no_unit_whatever_its_reader_takes_for_granted() -> None:
    data = b"0\nSECTION\n2\nENTITIES\n0\nCIRCLE\n8\n0\n10\n5.0\n20\n5.0\n40\n400.0\n0\nENDSEC\n0\nEOF\n"
    assert look(data).unit is None
    assert refused(data).key == "dxf-units"
    assert read_dxf(data, unit="mm").outline.path.box[2] == pytest.approx(0.8)


def test_a_unit_that_is_not_the_files_is_refused() -> None:
    fault = refused(write_dxf(COUNTER, "in"), unit="mm")
    assert fault.key == "dxf-units-differ"


def test_the_layers_are_chosen_by_whoever_sends_the_file() -> None:
    file, sheet = blank(6)
    for layer, size in (("top", 2), ("walls", 5)):
        sheet.add_lwpolyline([(0, 0), (size, 0), (size, 1), (0, 1)], close=True,
                             dxfattribs={"layer": layer})  # fmt: skip
    sheet.add_spline([(0, 0), (1, 1), (2, 0)], dxfattribs={"layer": "walls"})
    data = as_bytes(file)
    assert look(data).layers == (Layer("top", 1, ()), Layer("walls", 1, ("SPLINE",)))
    fault = refused(data)
    assert fault.key == "dxf-layers"
    assert "top, walls" in fault.words
    assert read_dxf(data, layers=["top"]).outline.path.polygon.area == pytest.approx(2)
    assert refused(data, layers=["walls"]).key == "dxf-kind"
    assert refused(data, layers=["roof"]).key == "dxf-nothing"


def test_an_outline_that_is_not_closed_is_marked_where_it_ends() -> None:
    file, sheet = blank(6)
    sheet.add_lwpolyline([(0, 0), (2, 0), (2, 1), (0, 1)])
    fault = refused(as_bytes(file))
    assert fault.key == "open-line"
    assert fault.place[0] in ((0, 0), (0, 1))


def test_lines_that_branch_are_marked_where_they_meet() -> None:
    file, sheet = blank(6)
    corners = [(0, 0), (2, 0), (1, 1)]
    for start, end in zip(corners, corners[1:] + corners[:1], strict=True):
        sheet.add_line(start, end)
    sheet.add_line((2, 0), (3, 0))
    fault = refused(as_bytes(file))
    assert fault.key in ("branching-line", "open-line")
    sheet.add_line((3, 0), (3, 1))
    sheet.add_line((3, 1), (2, 0))
    fault = refused(as_bytes(file))
    assert (fault.key, fault.place) == ("branching-line", ((2, 0),))
    assert fault.words.startswith("4 lines meet here")


def test_two_pieces_in_one_file() -> None:
    file, sheet = blank(6)
    sheet.add_circle((0, 0), 1)
    sheet.add_circle((5, 0), 0.5)
    assert refused(as_bytes(file)).key == "dxf-several"


def test_an_outline_as_large_as_a_house() -> None:
    file, sheet = blank(6)
    sheet.add_circle((0, 0), 96)
    fault = refused(as_bytes(file))
    assert fault.key == "too-large"
    assert "unit" in fault.words


def test_too_many_points_and_too_many_lines() -> None:
    file, sheet = blank(6)
    round_about = [(math.cos(n / 1592), math.sin(n / 1592)) for n in range(10_000)]
    sheet.add_lwpolyline(round_about, close=True)
    assert refused(as_bytes(file)).key == "too-many-points"
    file, sheet = blank(6)
    for n in range(5001):
        sheet.add_line((n, 0), (n + 1, 0))
    assert refused(as_bytes(file)).key == "too-many-pieces"


@pytest.mark.parametrize(
    ("data", "key"),
    [
        (b"", "dxf-cut-off"),
        (b"PK\x03\x04\x00\x00", "dxf-binary"),
        (b"nothing of the kind\nEOF\n", "dxf-broken"),
        (b"  0\nEOF\n", "dxf-nothing"),
        (b"0\nSECTION\n2\nENTITIES\n0\nLINE\n8\n0\n10\nabc\n0\nENDSEC\n0\nEOF\n", "dxf-broken"),
        (b"x" * (dxf_in.MOST_BYTES + 1), "dxf-too-large"),
    ],
)
def test_what_is_no_drawing_is_refused(data: bytes, key: str) -> None:
    assert refused(data, unit="mm").key == key


def test_a_file_that_broke_off_on_its_way_is_refused() -> None:
    whole = write_dxf(COUNTER, "mm")
    assert refused(whole[: len(whole) * 3 // 4]).key == "dxf-cut-off"


def test_a_number_that_is_none_is_not_guessed_at() -> None:
    """A reader that mends what it can would take 9 mm for 9oo."""
    assert refused(WHOLE.replace(b"900.0", b"9oo")).key == "dxf-broken"
    assert refused(WHOLE.replace(b"CIRCLE", b"CIRKLE")).key == "dxf-kind"


@pytest.mark.parametrize("number", [b"nan", b"inf", b"1e400", b"-1e30"])
def test_places_that_are_no_places(number: bytes) -> None:
    data = write_dxf(Shape(Rectangle(2, 1)), "m").replace(b"\n2.0\n", b"\n" + number + b"\n")
    assert number in data
    assert refused(data).key in ("dxf-far-away", "dxf-broken", "too-large")


@settings(max_examples=60)
@given(st.data())
def test_a_damaged_file_is_read_or_refused_and_never_fells_anything(data) -> None:
    """Bytes of a good file changed, lines dropped and doubled."""
    lines = WHOLE.split(b"\n")
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(0, len(lines) - 2))
        what = data.draw(st.sampled_from(["drop", "double", "junk", "number", "swap"]))
        if what == "drop":
            del lines[at]
        elif what == "double":
            lines.insert(at, lines[at])
        elif what == "swap":
            lines[at], lines[at - 1] = lines[at - 1], lines[at]
        else:
            lines[at] = data.draw(st.binary(max_size=6)) if what == "junk" else b"-1"
    try:
        drawn = read_dxf(b"\n".join(lines), unit=data.draw(st.sampled_from(["", "mm"])))
    except ShapeFault:
        return
    assert drawn.outline.path.polygon.area >= 0
    faults(drawn.shape, 0.019)


# The part that matters, without a header's hundreds of lines.
WHOLE = b"""0
SECTION
2
HEADER
9
$ACADVER
1
AC1024
9
$INSUNITS
70
4
0
ENDSEC
0
SECTION
2
ENTITIES
0
LWPOLYLINE
5
2F
8
OUTLINE
100
AcDbEntity
100
AcDbPolyline
90
3
70
1
10
0.0
20
0.0
10
900.0
20
0.0
42
0.2
10
900.0
20
500.0
0
CIRCLE
8
CUTOUTS
10
600.0
20
200.0
40
50.0
0
ENDSEC
0
EOF
"""


def test_the_short_file_is_a_good_one() -> None:
    drawn = read_dxf(WHOLE)
    assert len(drawn.cutouts) == 1
    assert faults(drawn.shape, 0.019) == ()
