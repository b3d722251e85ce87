"""A drawing as SVG: by class on a screen, by attribute on paper, with the same in words."""

from __future__ import annotations

import io
import math
import re
from itertools import pairwise

import pytest
from defusedxml.ElementTree import fromstring
from django.template.loader import render_to_string
from pypdf import PdfReader
from shapely import LineString, Polygon
from weasyprint import HTML

from jobs.models import Piece
from jobs.services.drawings import PieceDrawings, paper_drawings, piece_drawings
from jobs.services.letter import fetch_nothing
from jobs.shapes.drawing import Arc, Area, Drawing, Frame, Words
from jobs.shapes.outlines import Circle
from jobs.shapes.shape import BuiltEdge, Inlay, Shape
from jobs.shapes.stored import write
from jobs.templatetags.drawing import HATCH, INK, marks_of
from shop.models import Mix, Shop
from tests.jobs.shapes.samples import COUNTER, INCH

SVG = "{http://www.w3.org/2000/svg}"


def drawings(shape: Shape = COUNTER, *, paper: bool = False) -> PieceDrawings:
    piece = Piece(
        code="1-A", mix=Mix(density=2080), thickness_m=0.75 * INCH, coat_m=0.125 * INCH,
        area_m2=1, shape=write(shape),
    )  # fmt: skip
    shop = Shop(units="us")
    found = paper_drawings(piece, shop, 180, 90) if paper else piece_drawings(piece, shop)
    assert found is not None
    return found


def drawn(drawing: Drawing, **given) -> str:
    return render_to_string("parts/drawing.html", {"drawing": drawing} | given).strip()


def everything() -> list[Drawing]:
    found = drawings()
    assert found.lengthwise
    return [found.face, found.underside, found.across, found.lengthwise]


@pytest.mark.parametrize("ink", [False, True])
def test_every_item_is_drawn_and_every_word_is_text(ink: bool) -> None:
    for drawing in everything():
        root = fromstring(drawn(drawing, ink=ink))
        texts = [text.text for text in root.iter(f"{SVG}text")]
        assert texts == [item.words for item in drawing.items if isinstance(item, Words)]
        shown = [item for item in drawing.items if not isinstance(item, Words)]
        assert len(list(root.iter(f"{SVG}path"))) >= len(shown)
        assert root.find(f"{SVG}desc").text == drawing.said
        assert root.find(f"{SVG}title").text == drawing.said.split(";")[0].removesuffix(".")
        assert root.get("role") == "img"


def test_on_screen_looks_are_the_style_sheets() -> None:
    html = drawn(drawings().underside)
    assert "fill=" not in html
    assert "style" not in html
    assert 'class="of-rib"' in html


def test_on_paper_all_is_in_attributes_and_black_or_white() -> None:
    for drawing in everything():
        html = drawn(drawing, ink=True)
        assert re.search(r"<path[^>]*class=", html) is None
        assert "style" not in html
        assert "url(" not in html  # no pattern, no gradient: lines alone
        assert set(re.findall(r'(?:fill|stroke)="([^"]+)"', html)) <= {"#000", "#fff", "none"}


def test_each_role_that_is_drawn_has_its_ink() -> None:
    shape = Shape(
        Circle(0.9), edges=(BuiltEdge("all", 0.04, 0.04),), inlays=(Inlay("trivet", 0.4, 0.4),)
    )
    for drawing in [*everything(), drawings(shape).face]:
        roles = {item.role for item in drawing.items if not isinstance(item, Words)}
        assert roles <= set(INK)


def test_hatching_lies_within_what_it_fills() -> None:
    for drawing in everything():
        marks = marks_of(drawing)
        paths = iter(marks.strokes)
        for item in drawing.items:
            if isinstance(item, Words):
                continue
            next(paths)
            if not (isinstance(item, Area) and item.role in HATCH):
                continue
            hatch = next(paths)
            assert hatch.css == "of-hatch"
            region = Polygon(item.rings[0], item.rings[1:]).buffer(0.02)
            for x0, y0, x1, y1 in re.findall(r"M(\S+) (\S+?)L(\S+) ([^M]+)", hatch.d):
                line = LineString([(float(x0), float(y0)), (float(x1), float(y1))])
                assert region.covers(line)


def test_an_arc_is_an_arc_that_turns_as_the_outline_does() -> None:
    """Of a circle seen from the face: two halves, from left over the front to the right, which on
    the sheet, with its front at the bottom, is against the clock."""
    face = drawings(Shape(Circle(0.9))).face
    arcs = [item for item in face.items if isinstance(item, Arc)]
    assert [arc.clockwise for arc in arcs] == [False, False]
    assert len(re.findall(r'd="M\S+ \S+A', drawn(face))) == 2


def test_a_pdf_has_the_dimensions_as_text_and_the_scale() -> None:
    found = drawings(paper=True)
    markup = drawn(found.face, ink=True) + drawn(found.across, ink=True)
    pdf = HTML(string=f"<body>{markup}</body>", url_fetcher=fetch_nothing).write_pdf()
    text = PdfReader(io.BytesIO(pdf)).pages[0].extract_text()
    for said in ("96 in", "25 1/2 in", "24 in, scale 1 : 16", "1 1/2"):
        assert said in text
    assert "Plan of the face" not in text  # title and description are for who can't see it


@pytest.mark.parametrize("bow", [0.1, 0.5, 0.9])
def test_no_arc_runs_much_over_a_quarter_turn_in_one(bow: float) -> None:
    """What prints the sheets draws half a circle as one curve, and that bulges by 2 %."""
    chord = 2 * math.sqrt(bow * (2 - bow))  # of an arc of radius 1 that rises by `bow`
    for large, rise in ((False, bow), (True, 2 - bow)):
        for clockwise in (False, True):
            arc = Arc((10, 10), (10 + chord, 10), (0, 0), 1.0, clockwise, large, "outline")
            drawing = Drawing(20, 20, Frame(0, 0, 1, (0, 0, 1, 1)), (arc,), "An arc.")
            d = marks_of(drawing).strokes[0].d
            points = [tuple(map(float, pair.split()[-2:])) for pair in re.split("[MA]", d)[1:]]
            up = -1 if clockwise else 1
            middle = points[len(points) // 2]
            if len(points) > 2:
                assert middle == pytest.approx((10 + chord / 2, 10 + up * rise), abs=0.01)
            centre = (10 + chord / 2, 10 + up * (rise - 1))
            for point in points:
                assert math.dist(point, centre) == pytest.approx(1, abs=0.01)
            assert all(math.dist(a, b) < 1.52 for a, b in pairwise(points))
            assert not re.search(r"A\S+ \S+ 0 1 ", d)
