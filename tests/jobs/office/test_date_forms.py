from __future__ import annotations

import pytest
from django.http import QueryDict
from pytest_django import DjangoAssertNumQueries

from jobs.models import Job
from jobs.office import date_forms
from jobs.services.asked import Materials, materials, take_on
from shop.models import Shop
from tests.factories import make_customer, make_mix, make_room, make_route, make_sealer


@pytest.fixture
def shop(_shop: None) -> Shop:
    make_mix()
    make_route()
    make_sealer()
    make_room()
    return Shop.objects.get()


@pytest.fixture
def known(shop: Shop) -> Materials:
    return materials()


def line(known: Materials, number: int = 1, **more: str) -> dict[str, str]:
    typed = {
        "name": "Bar top",
        "area": "96 x 25 1/2",
        "thickness": "3/4",
        "count": "2",
        "mix": str(next(iter(known.mixes))),
        "route": str(next(iter(known.routes))),
        "sealer": str(next(iter(known.sealers))),
        "room": str(next(iter(known.rooms))),
        **more,
    }
    return {f"line{number}-{name}": value for name, value in typed.items()}


def query(*parts: dict[str, str], **more: str) -> QueryDict:
    data = QueryDict(mutable=True)
    for part in (*parts, more):
        data.update(part)
    return data


def test_what_is_typed_is_read_in_the_shops_units(shop: Shop, known: Materials) -> None:
    asking = date_forms.typed(query(line(known), wish="2026-04-10", must_match="on"), shop, known)
    assert asking.is_valid()
    asked = asking.asked
    (piece,) = asked.pieces
    # 96 by 25 1/2 inches: 2.4384 by 0.6477 metres.
    assert piece.area_m2 == pytest.approx(2.4384 * 0.6477)
    assert piece.sides_m == pytest.approx((2.4384, 0.6477))
    assert piece.thickness_m == pytest.approx(0.01905)
    assert (asked.count, asked.matches, str(asked.wish)) == (2, True, "2026-04-10")


def test_an_area_by_itself_has_no_sides(shop: Shop, known: Materials) -> None:
    asking = date_forms.typed(query(line(known, area="17")), shop, known)
    assert asking.is_valid()
    assert asking.asked.pieces[0].sides_m is None
    assert not asking.asked.matches


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("name", "", "Fill this in: nothing is written here yet."),
        ("area", "big", "'big' is not a number"),
        ("area", "0", "At least"),
        ("thickness", "9 ft", "At most"),
        ("count", "0", "At least 1"),
        ("count", "13", "At most 12"),
        ("mix", "999", "Choose another"),
    ],
)
def test_a_wrong_line_says_what_is_wrong(
    shop: Shop, known: Materials, field: str, value: str, said: str
) -> None:
    asking = date_forms.typed(query(line(known, **{field: value})), shop, known)
    assert not asking.is_valid()
    assert said in " ".join(asking.lines[0].errors[field])


def test_another_line_is_made_of_the_same(shop: Shop, known: Materials) -> None:
    data = date_forms.with_a_line_more(query(line(known, thickness="1 1/2"), wish="2026-04-10"))
    first, second = date_forms.unjudged(date_forms.typed(data, shop, known)).lines
    assert first["name"].value() == "Bar top"
    assert second["thickness"].value() == "1 1/2"
    assert second["name"].value() in (None, "")
    assert data["wish"] == "2026-04-10"


def test_lines_are_taken_out_but_never_the_last(known: Materials) -> None:
    data = query(line(known), line(known, 4, name="Sill"))
    assert date_forms.line_numbers(data) == [1, 4]
    left = date_forms.without_line(data, "1")
    assert date_forms.line_numbers(left) == [4]
    assert left["line4-name"] == "Sill"
    assert date_forms.line_numbers(date_forms.without_line(left, "4")) == [4]


def test_no_more_lines_than_fit_a_page(known: Materials) -> None:
    data = query(*(line(known, number) for number in range(1, date_forms.MOST_LINES + 1)))
    assert len(date_forms.line_numbers(date_forms.with_a_line_more(data))) == date_forms.MOST_LINES


def test_ten_lines_ask_the_database_no_more_than_one(
    shop: Shop, known: Materials, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    with django_assert_num_queries(0):
        for lines in (1, 10):
            data = query(*(line(known, number) for number in range(1, lines + 1)))
            assert date_forms.typed(data, shop, known).is_valid()


def test_carried_lines_are_read_as_they_were_asked(shop: Shop, known: Materials) -> None:
    data = query(line(known), line(known, 2, name="Sill"), wish="2026-04-10", must_match="on")
    again = query(dict(date_forms.carried(data)))
    first = date_forms.typed(data, shop, known)
    second = date_forms.typed(again, shop, known)
    assert first.is_valid()
    assert second.is_valid()
    assert second.asked.pieces == first.asked.pieces
    assert second.asked.matches
    assert second.asked.wish is None


def test_pieces_asked_for_become_a_jobs_lettered_in_order(shop: Shop, known: Materials) -> None:
    data = query(line(known), line(known, 2, name="Sill", count="1", area="4"), must_match="on")
    asking = date_forms.typed(data, shop, known)
    assert asking.is_valid()
    values = {
        "number": "301",
        "title": "Bar",
        "customer": make_customer(),
        "taken_on": "2026-03-18",
    }
    job = take_on(values=values, asked=asking.asked)
    made = Job.objects.get(pk=job.pk).pieces.order_by("letter")
    assert [(p.code, p.name, p.matches_job) for p in made] == [
        ("301-A", "Bar top", True),
        ("301-B", "Bar top", True),
        ("301-C", "Sill", True),
    ]
    assert made[0].coat_m == pytest.approx(3 / 16 * 0.0254)
    assert made[2].area_m2 == pytest.approx(4 * 0.3048**2)
