"""'What is cast' on a piece's page, and its outline as a file."""

from __future__ import annotations

import io
import re
from typing import Any

import ezdxf
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from jobs.models import Piece
from jobs.shapes.dxf_in import read_dxf
from jobs.shapes.outlines import LShape
from jobs.shapes.shape import BuiltEdge, Shape
from jobs.shapes.stored import write
from shop.models import Role, Shop
from tests import factories
from tests.jobs.piece.conftest import signed_in
from tests.jobs.shapes.samples import COUNTER, INCH


@pytest.fixture
def shaped(waiting: Piece) -> Piece:
    """The counter of eight feet: 3/4 in, of it 1/8 in face coat."""
    waiting.shape = write(COUNTER)
    waiting.thickness_m, waiting.coat_m = 0.75 * INCH, 0.125 * INCH
    waiting.area_m2 = 1.27
    waiting.save()
    return waiting


def part_of(client: Any, code: str = "217-A") -> str:
    page = client.get(f"/pieces/{code}/").content.decode()
    start = page.index('id="cast"')
    return page[start : page.index("</section>", start)]


def words(html: str) -> str:
    return " ".join(re.sub(r"<[^>]*>", " ", html).split())


def test_it_draws_the_piece_from_all_sides_and_says_the_same(as_owner, shaped):
    part = part_of(as_owner)

    assert part.count('<svg xmlns="http://www.w3.org/2000/svg" class="drawing wide"') == 4
    assert part.count("drawing narrow") == 4
    text = words(part)
    for title in ("As seen from the face", "Underside, mirrored as it lies in the form"):
        assert title in text
    assert "<desc>Plan of the face, 96 by 25 1/2 in, front edge at the bottom; cutout 1" in part
    assert "<summary>Section lengthwise</summary>" in part


def test_layers_add_up_and_limits_name_who_set_them(as_owner, shaped):
    text = words(part_of(as_owner))

    fresh = [float(found) for found in re.findall(r"([\d.]+) lb [\d.]+ lb (?=[EFBRW])", text)]
    assert len(fresh) == 5  # four layers and the whole
    assert sum(fresh[:4]) == pytest.approx(fresh[4], abs=0.21)
    assert "32 in × 80 in clear, as the shop has set it" in text
    assert "Stands on edge in it: 96 in × 25 1/2 in, 1 1/2 in deep" in text
    assert "50 lb a person, as the shop has set it; no rule does" in text
    assert "lighter than" in text
    assert "150 lb/ft³, common practice, no source" in text
    assert "dry unit weight is not entered" in text
    assert "safe" not in text.lower()


def test_what_does_not_fit_is_said(as_owner, shaped):
    Shop.objects.update(door_width_m=0.6, door_height_m=0.6, truck_length_m=2.0)
    text = words(part_of(as_owner))
    assert "Does not pass: asks for 25 1/2 in × 1 1/2 in" in text
    assert "Does not stand on edge in it" in text


def test_without_a_shape_it_says_what_area_and_thickness_tell(as_owner, waiting):
    part = part_of(as_owner)
    assert "<svg" not in part
    text = words(part)
    assert "Its shape is not entered" in text
    assert "Enter its shape" in text
    assert "Face coat" in text
    assert "as DXF" not in text


def test_a_shape_that_does_not_go_with_the_thickness_is_not_drawn(as_owner, shaped):
    Piece.objects.update(thickness_m=0.06)
    text = words(part_of(as_owner))
    assert "The shape that is entered is not drawn" in text


def test_the_crew_sees_it_and_cannot_change_it(shaped):
    part = part_of(signed_in(factories.make_person(Role.CREW)))
    assert "As seen from the face" in part
    assert "/section/" not in part


def test_no_more_queries_for_a_shape_than_without(as_owner, waiting):
    def queries() -> int:
        with CaptureQueriesContext(connection) as found:
            as_owner.get("/pieces/217-A/")
        return len(found)

    plain = queries()
    Piece.objects.update(shape=write(COUNTER), thickness_m=0.75 * INCH, coat_m=0.003)
    assert queries() == plain


@pytest.mark.parametrize("unit", ["in", "mm"])
def test_its_outline_comes_as_a_file_in_the_unit_asked_for(as_owner, shaped, unit):
    answer = as_owner.get(f"/pieces/217-A/outline.dxf?unit={unit}")
    assert answer["Content-Type"] == "image/vnd.dxf"
    assert answer["Content-Disposition"] == f'attachment; filename="217-A-{unit}.dxf"'
    back = read_dxf(answer.content)
    assert back.unit == unit
    assert back.outline.path.box == pytest.approx((0, 0, 96 * INCH, 25.5 * INCH))
    assert len(back.cutouts) == 2
    assert not ezdxf.read(io.StringIO(answer.content.decode())).audit().has_errors


def test_the_file_is_in_the_shops_unit_where_none_is_asked_for(as_owner, shaped):
    assert read_dxf(as_owner.get("/pieces/217-A/outline.dxf").content).unit == "in"
    Shop.objects.update(units="si")
    assert read_dxf(as_owner.get("/pieces/217-A/outline.dxf").content).unit == "mm"


@pytest.mark.parametrize(("query", "said"), [("?unit=cubit", "in, ft, mm"), ("", "no shape")])
def test_a_file_that_cannot_be_made_says_why(as_owner, waiting, query, said):
    answer = as_owner.get(f"/pieces/217-A/outline.dxf{query}", follow=True)
    assert said in answer.content.decode()


def test_an_l_is_drawn_too(as_owner, waiting):
    shape = Shape(LShape(2.4, 1.8, 1.6, 1.1), edges=(BuiltEdge("all", 0.03, 0.038),))
    Piece.objects.update(shape=write(shape), area_m2=2.56)
    assert part_of(as_owner).count("drawing wide") == 4
