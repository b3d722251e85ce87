"""An outline out of a DXF file: looked at, chosen, drawn, taken; or refused with nothing changed."""

from __future__ import annotations

import io
import re
from dataclasses import astuple
from typing import Any

import ezdxf
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from jobs.models import Piece
from jobs.piece.outline_forms import packed
from jobs.shapes.dxf_in import MOST_BYTES
from jobs.shapes.dxf_out import write_dxf
from jobs.shapes.outlines import Circle, LShape, Rectangle
from jobs.shapes.shape import BuiltEdge, Cutout, Inlay, PlacedRib, Rib, Shape, SpacedRibs
from jobs.shapes.stored import read, write
from shop.models import Shop
from tests.jobs.shapes.samples import COUNTER, INCH

ADDRESS = "/pieces/217-A/outline-in/"


def words(html: str) -> str:
    return " ".join(re.sub(r"<[^>]*>", " ", html).split()).replace("&#x27;", "'")


def as_bytes(file: Any) -> bytes:
    text = io.StringIO()
    file.write(text)
    return text.getvalue().encode()


def blank(unit: int = 6) -> tuple[Any, Any]:
    file = ezdxf.new("R2010")
    file.header["$INSUNITS"] = unit
    return file, file.modelspace()


def sent(client: Any, data: bytes, name: str = "counter.dxf") -> Any:
    file = SimpleUploadedFile(name, data, content_type="image/vnd.dxf")
    return client.post(ADDRESS, {"step": "file", "file": file})


def hidden(html: str, name: str) -> str:
    found = re.search(rf'name="{name}" value="([^"]*)"', html)
    assert found, name
    return found[1]


def choice(answer: Any, step: str = "look", **chosen: Any) -> dict[str, Any]:
    """What the browser would send back, with what is chosen."""
    html = answer.content.decode()
    names = ("payload", "file_name", "piece_version")
    return {name: hidden(html, name) for name in names} | {"step": step} | chosen


def taken(client: Any, data: bytes, **chosen: Any) -> Any:
    """Both steps; the answer to the last."""
    answer = sent(client, data)
    looked = client.post(ADDRESS, choice(answer, **chosen))
    assert looked.status_code == 200, words(looked.content.decode())
    return client.post(ADDRESS, choice(looked, "save", **chosen), follow=True)


def test_a_file_of_our_own_goes_in_as_it_went_out(as_owner, waiting):
    answer = sent(as_owner, write_dxf(COUNTER, "in"))
    html = answer.content.decode()
    text = words(html)
    assert "The file says that it is drawn in inches ." in text
    # Its own layers are chosen already.
    assert len(re.findall(r"checked", html)) == 2

    looked = as_owner.post(ADDRESS, choice(answer, outline="1", cutouts=["0"]))
    text = words(looked.content.decode())
    assert "96 in × 25 1/2 in, rectangle" in text
    assert Piece.objects.get().shape is None

    as_owner.post(ADDRESS, choice(looked, "save", outline="1", cutouts=["0"]))
    piece = Piece.objects.get()
    shape = read(piece.shape)
    assert astuple(shape.outline) == pytest.approx((96 * INCH, 25.5 * INCH))
    assert isinstance(shape.outline, Rectangle)
    kinds = sorted(type(cutout.figure).__name__ for cutout in shape.cutouts)
    assert kinds == ["Circle", "RoundedRectangle"]
    sink = 30 * 16 - (4 - 3.14159265) * 9 + 0.785398 * 1.375**2
    assert piece.area_m2 == pytest.approx((96 * 25.5 - sink) * INCH**2, rel=1e-4)
    assert piece.version == 2


def test_what_still_fits_stays_and_what_does_not_goes_and_is_said_before(as_owner, waiting):
    before = Shape(
        Rectangle(2.4, 0.65),
        edges=(BuiltEdge("front", 0.03, 0.04), BuiltEdge("right", 0.03, 0.04)),
        ribs=(Rib(0.2, 0.03, 0.03), PlacedRib((1.6, 0.3), (2.2, 0.5), 0.03, 0.03)),
        cutouts=(Cutout(Circle(0.3), 0.5, 0.2, "bowl"),),
        inlays=(Inlay("trivet", 2.0, 0.3),),
    )
    Piece.objects.update(shape=write(before), area_m2=1.5)
    # Shorter by 0.6 m, with the same bowl: the rib from point to point and the inlay hang out.
    file, sheet = blank()
    sheet.add_lwpolyline([(0, 0), (1.8, 0), (1.8, 0.65), (0, 0.65)], close=True)
    sheet.add_circle((0.65, 0.35), 0.15)

    answer = sent(as_owner, as_bytes(file))
    text = words(as_owner.post(ADDRESS, choice(answer, outline="0")).content.decode())
    goes, stays = text[text.index("and go:") :].split("These stay:")
    assert "Rib from point to point" in goes
    assert "Inlay: trivet" in goes
    assert "Edge along front" in stays
    assert "Edge along right" in stays
    assert "Rib along the length" in stays
    assert read(Piece.objects.get().shape) == before

    taken(as_owner, as_bytes(file), outline="0")
    shape = read(Piece.objects.get().shape)
    assert astuple(shape.outline) == pytest.approx((1.8, 0.65))
    assert shape.edges == before.edges
    assert shape.ribs == before.ribs[:1]
    assert shape.inlays == ()
    assert shape.cutouts[0].use == "bowl"


def test_edges_find_their_sides_on_a_free_outline(as_owner, waiting):
    before = Shape(
        LShape(2.0, 1.5, 1.2, 0.9),
        edges=(BuiltEdge("front", 0.03, 0.04), BuiltEdge("notch along", 0.03, 0.04)),
        ribs=(SpacedRibs(0.5, 0.03, 0.03),),
    )
    Piece.objects.update(shape=write(before), area_m2=1.9)
    file, sheet = blank()
    sheet.add_lwpolyline([(0, 0), (2, 0), (1.8, 1), (1, 1.5), (0, 1.5)], close=True)
    answer = sent(as_owner, as_bytes(file))
    text = words(as_owner.post(ADDRESS, choice(answer, outline="0")).content.decode())
    assert "Edge along notch along" in text.split("These stay:")[0]
    taken(as_owner, as_bytes(file), outline="0")
    shape = read(Piece.objects.get().shape)
    (edge,) = shape.edges
    named = [side for side in shape.outline.sides if side.name == edge.side]
    assert [(side.start[1], side.end[1]) for side in named] == [(0, 0)]
    assert shape.ribs == before.ribs


def test_a_file_without_a_unit_asks_for_it(as_owner, waiting):
    file, sheet = blank(0)
    sheet.add_lwpolyline([(0, 0), (60, 0), (60, 20), (0, 20)], close=True)
    answer = sent(as_owner, as_bytes(file))
    assert "does not say in which unit" in words(answer.content.decode())
    none = as_owner.post(ADDRESS, choice(answer, outline="0"))
    assert none.status_code == 422
    assert "Choose the unit it is drawn in." in words(none.content.decode())
    assert 'value="0" checked' in none.content.decode()
    looked = as_owner.post(ADDRESS, choice(none, outline="0", unit="in"))
    assert "60 in × 20 in" in words(looked.content.decode())
    taken(as_owner, as_bytes(file), outline="0", unit="in")
    assert Piece.objects.get().area_m2 == pytest.approx(1200 * INCH**2)


def test_a_shop_that_reads_millimetres_is_told_in_millimetres(as_owner, waiting):
    Shop.objects.update(units="si")
    file, sheet = blank()
    sheet.add_circle((0, 0), 96)
    answer = as_owner.post(ADDRESS, choice(sent(as_owner, as_bytes(file)), outline="0"))
    assert answer.status_code == 422
    assert "192000 mm" in words(answer.content.decode())


def test_an_open_line_is_told_with_its_place_in_the_file(as_owner, waiting):
    file, sheet = blank(1)
    sheet.add_lwpolyline([(10, 5), (70, 5), (70, 25), (10, 25)])
    answer = as_owner.post(ADDRESS, choice(sent(as_owner, as_bytes(file)), outline="0"))
    assert answer.status_code == 422
    assert re.search(r"In the file: x 10, y (5|25) in", words(answer.content.decode()))


@pytest.mark.parametrize("corners", [[(0, 5), (40, 5), (80, 5)], [(5, 0), (5, 40), (5, 80)]])
def test_an_outline_that_lies_flat_encloses_nothing(as_owner, waiting, corners):
    file, sheet = blank(1)
    sheet.add_lwpolyline(corners, close=True)
    answer = as_owner.post(ADDRESS, choice(sent(as_owner, as_bytes(file)), outline="0"))
    assert answer.status_code == 422
    assert "crosses or touches itself" in words(answer.content.decode())


def test_a_cutout_through_a_side_is_marked_or_opens_it_on_purpose(as_owner, waiting):
    file, sheet = blank()
    sheet.add_lwpolyline([(0, 0), (2, 0), (2, 0.6), (0, 0.6)], close=True)
    sheet.add_lwpolyline([(0.6, -0.05), (1.4, -0.05), (1.4, 0.4), (0.6, 0.4)], close=True)
    answer = as_owner.post(ADDRESS, choice(sent(as_owner, as_bytes(file)), outline="0"))
    assert answer.status_code == 422
    html = answer.content.decode()
    assert "runs across the outline" in words(html)
    assert 'class="of-mark"' in html
    taken(as_owner, as_bytes(file), outline="0", opens="on")
    assert Piece.objects.get().area_m2 == pytest.approx(1.2 - 0.8 * 0.4)


def test_the_largest_line_must_be_on_the_outlines_layer(as_owner, waiting):
    data = write_dxf(COUNTER, "in")
    answer = as_owner.post(ADDRESS, choice(sent(as_owner, data), outline="0", cutouts=["1"]))
    assert answer.status_code == 422
    assert "Choose the layer that holds the whole outline" in words(answer.content.decode())


def test_somebody_else_saved_meanwhile(as_owner, waiting):
    data = write_dxf(COUNTER, "in")
    answer = sent(as_owner, data)
    looked = as_owner.post(ADDRESS, choice(answer, outline="1", cutouts=["0"]))
    Piece.objects.update(name="Other", version=5)
    late = as_owner.post(ADDRESS, choice(looked, "save", outline="1", cutouts=["0"]))
    assert late.status_code == 409
    assert Piece.objects.get().shape is None
    assert hidden(late.content.decode(), "piece_version") == "5"
    again = as_owner.post(ADDRESS, choice(late, "save", outline="1", cutouts=["0"]))
    assert again.status_code == 302
    assert Piece.objects.get().name == "Other"


def many_lines(count: int) -> bytes:
    rows = ["0", "SECTION", "2", "ENTITIES"]
    for n in range(count):
        rows += ["0", "LINE", "8", "0", "10", f"{n}", "20", "0", "11", f"{n}", "21", "1"]
    return "\n".join([*rows, "0", "ENDSEC", "0", "EOF", ""]).encode()


WHOLE = write_dxf(COUNTER, "in")


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "its end is missing"),
        (b"AutoCAD Binary DXF\r\n\x1a\x00\x00", "not a DXF file of text"),
        (WHOLE[: len(WHOLE) // 2], "its end is missing"),
        (b"nothing of the kind\nEOF\n", "damaged"),
        (b"  0\nEOF\n", "There are no lines"),
        (b"9" * (MOST_BYTES + 1), "4 MB are the most"),
    ],
    ids=["empty", "binary", "cut off", "broken", "nothing in it", "too large"],
)
def test_what_is_no_drawing_is_refused_in_words(as_owner, waiting, data, said):
    answer = sent(as_owner, data)
    assert answer.status_code == 422
    assert said in words(answer.content.decode())
    assert "Look at the result" not in answer.content.decode()
    assert Piece.objects.get().shape is None


def test_thousands_of_lines_are_counted_and_refused(as_owner, waiting):
    refused = sent(as_owner, many_lines(20_001))
    assert refused.status_code == 422
    assert "20,000 are the most" in words(refused.content.decode())
    answer = sent(as_owner, many_lines(5_001))
    assert answer.status_code == 200
    assert "5001" in words(answer.content.decode())
    refused = as_owner.post(ADDRESS, choice(answer, outline="0", unit="mm"))
    assert refused.status_code == 422
    assert "5,000 are the most" in words(refused.content.decode())


def test_a_body_past_all_bounds_is_not_even_read(as_owner, waiting):
    answer = as_owner.post(
        ADDRESS, b"x", content_type="application/octet-stream", CONTENT_LENGTH="99000000"
    )
    assert answer.status_code == 413
    assert "too large" in words(answer.content.decode())


@pytest.mark.parametrize("payload", ["", "%%%", "QUJD", packed(b""), packed(b"x" * 9)])
def test_a_payload_that_is_none_asks_for_the_file_again(as_owner, waiting, payload):
    given = {"step": "look", "payload": payload, "outline": "0", "piece_version": "1"}
    answer = as_owner.post(ADDRESS, given)
    assert answer.status_code == 422
    text = words(answer.content.decode())
    assert "Choose it again" in text or "end is missing" in text


def test_a_payload_that_swells_is_read_no_further_than_a_file_may_be(as_owner, waiting):
    given = {"step": "look", "payload": packed(b"0" * 40_000_000), "outline": "0"}
    answer = as_owner.post(ADDRESS, given)
    assert answer.status_code == 422
    assert "4 MB are the most" in words(answer.content.decode())


def test_a_layers_name_is_shown_as_it_is_written(as_owner, waiting):
    file, sheet = blank()
    sheet.add_circle((0, 0), 0.4, dxfattribs={"layer": "TOPMOST"})
    data = as_bytes(file).replace(b"TOPMOST", b"<b>top</b>")
    html = sent(as_owner, data, "<i>a.dxf").content.decode()
    assert "<b>top" not in html
    assert "<i>a" not in html


@pytest.mark.django_db
def test_a_request_that_was_forged_is_refused(waiting, as_owner):
    from django.test import Client

    client = Client(enforce_csrf_checks=True)
    client.cookies = as_owner.cookies
    answer = client.post(ADDRESS, {"step": "file"})
    assert answer.status_code == 403
