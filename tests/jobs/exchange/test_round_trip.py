"""Out as a table, the jobs gone, in again: the same jobs, to the last bit."""

from __future__ import annotations

import datetime as dt
import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, example, given, settings
from hypothesis import strategies as st

from jobs.models import Customer, Job, Piece
from jobs.services.exchange.columns import CHANGE, guess
from jobs.services.exchange.fields import offered
from jobs.services.exchange.out import ALL, Wanted, csv_out, headers_of, xlsx_out
from jobs.services.exchange.shapes import area_of
from jobs.services.shape import panel_from
from jobs.shapes.faults import ShapeFault
from jobs.shapes.shape import Shape
from jobs.shapes.stored import write
from shop.models import Mix, Person, Room, Route, Sealer, Shop
from tests import factories
from tests.jobs.exchange.tables import bring, plan_of, table_of
from tests.jobs.shapes.samples import COUNTER, PLAIN, outlines

LETTERS = ["A", "B", "C", "AA"]
# What a form's text field lets through: no control signs, and no space around it.
signs = st.characters(exclude_categories=["Cc", "Cs", "Zl", "Zp"], exclude_characters="\ufeff")
hostile = st.sampled_from(["=1+1", "=cmd|' /C calc'!A0", "+1 555", "-5", "@SUM(A1)", "'=x", "''-y",
                           "'quoted", "＝2", 'a "b", c;d', "שלום", "1,234", "007", "2026-03-18"])  # fmt: skip


def words(most: int, *, least: int = 0) -> st.SearchStrategy[str]:
    made = st.text(signs, min_size=least, max_size=most).map(str.strip)
    return st.one_of(hostile.filter(lambda text: len(text) <= most), made).filter(
        lambda text: len(text) >= least
    )


def lines(most: int) -> st.SearchStrategy[str]:
    return st.lists(words(30), max_size=3).map(lambda parts: "\n".join(parts).strip()[:most])


def can_be_judged(shape: dict[str, Any], face: float, density: float) -> bool:
    """A free outline may come out too thin somewhere for the engine: such a one is not stored."""
    try:
        panel_from(shape, face=face, density=density)
    except ShapeFault:
        return False
    return True


days = st.dates(dt.date(2001, 1, 1), dt.date(2090, 12, 31))
thickness = st.floats(0.012, 0.03)  # less than the edges of the sample shapes
customers = st.fixed_dictionaries({
    "name": words(80, least=1), "email": st.sampled_from(["", "a@example.com", "b@example.com"]),
    "phone": st.sampled_from(["", "+1 (555) 555-0142", "555-0199"]), "address": lines(300),
})  # fmt: skip
pieces = st.fixed_dictionaries({
    "name": words(60, least=1), "area_m2": st.floats(0.001, 50), "thickness_m": thickness,
    "coat_m": st.just(0.0) | st.floats(1e-5, 0.012), "matches_job": st.booleans(),
    "waste": st.none() | st.just(0.0) | st.floats(1e-4, 1), "notes": lines(1000),
    "shape": st.none() | st.sampled_from([write(COUNTER), write(PLAIN)])
    | outlines().map(lambda outline: write(Shape(outline))),
})  # fmt: skip


@st.composite
def jobs(draw: Any) -> dict[str, Any]:
    taken = draw(days)
    return {
        "title": draw(words(80, least=1)),
        "site": draw(words(200)),
        "site_contact": draw(words(120)),
        "site_ready": draw(lines(1200)),
        "taken_on": taken,
        "promised_on": draw(st.none() | st.dates(taken, dt.date(2099, 1, 1))),
        "promised_by": draw(st.none() | st.times()),
        "weight": draw(st.integers(1, 5)),
        "price": draw(st.none() | st.decimals(0, 99_999_999, places=2)),
        "notes": draw(lines(2000)),
        "closed_at": draw(st.none() | st.datetimes(
            dt.datetime(2001, 1, 1),  # noqa: DTZ001
            dt.datetime(2090, 1, 1),  # noqa: DTZ001
            timezones=st.just(dt.UTC)
        )),
        "called_off": draw(st.booleans()),
        "customer": draw(customers),
        "pieces": draw(st.lists(pieces, max_size=3)),
    }  # fmt: skip


books = st.dictionaries(
    st.from_regex(r"[0-9A-Z]{1,10}", fullmatch=True), jobs(), min_size=1, max_size=3
)


def write_down(book: dict[str, dict[str, Any]]) -> None:
    """Straight into the tables, so that only the way out and in is tried."""
    Job.objects.all().delete()
    Customer.objects.all().delete()
    made = {"room": Room.objects.get(), "mix": Mix.objects.get(), "route": Route.objects.get(),
            "sealer": Sealer.objects.get()}  # fmt: skip
    for number, values in book.items():
        given = dict(values)
        customer, _ = Customer.objects.get_or_create(**given.pop("customer"))
        rows = given.pop("pieces")
        job = Job.objects.create(number=number, customer=customer, **given)
        for letter, row in zip(LETTERS, rows, strict=False):
            piece = dict(row)
            face, density = piece["thickness_m"], made["mix"].density
            if piece["shape"] and not can_be_judged(piece["shape"], face, density):
                piece["shape"] = None
            if piece["shape"]:
                piece["area_m2"] = area_of(
                    piece["shape"], face=piece["thickness_m"], coat=piece["coat_m"],
                    density=made["mix"].density,
                )  # fmt: skip
            Piece.objects.create(job=job, letter=letter, code=f"{number}-{letter}", **piece, **made)


PHASES = [Phase.generate]
KEPT = ("title", "site", "site_contact", "site_ready", "taken_on", "promised_on", "promised_by",
        "weight", "price", "notes", "closed_at", "called_off")  # fmt: skip
OF_PIECE = ("name", "area_m2", "thickness_m", "coat_m", "matches_job", "waste", "notes", "shape",
            "room_id", "mix_id", "route_id", "sealer_id")  # fmt: skip


def stands() -> dict[str, Any]:
    return {
        job.number: {
            **{name: getattr(job, name) for name in KEPT},
            "customer": tuple(
                getattr(job.customer, n) for n in ("name", "email", "phone", "address")
            ),
            "pieces": {
                piece.code: {name: getattr(piece, name) for name in OF_PIECE}
                for piece in job.pieces.all()
            },
        }
        for job in Job.objects.select_related("customer").prefetch_related("pieces")
    }


SMALLEST = {  # 0.001 m² is less by a hair once it has been square feet of fifteen digits
    "S1": {
        "title": "a sample", "site": "", "site_contact": "", "site_ready": "", "notes": "",
        "taken_on": dt.date(2026, 3, 2), "promised_on": dt.date(2026, 4, 2), "promised_by": None,
        "weight": 1, "price": Decimal("1.00"), "closed_at": None, "called_off": False,
        "customer": {"name": "A", "phone": "", "address": "", "email": "a@example.com"},
        "pieces": [
            {
                "name": "chip", "area_m2": 0.001, "thickness_m": 0.02, "coat_m": 0.0, "notes": "",
                "matches_job": False, "waste": 0.0, "shape": None,
            },
        ],
    },
}  # fmt: skip


@pytest.mark.parametrize("units", ["us", "si"])
@settings(phases=PHASES, max_examples=12, suppress_health_check=list(HealthCheck))
@given(book=books)
def test_a_csv_brings_back_every_bit(
    shop: Shop, clerk: Person, var: Path, units: str, book: dict[str, Any]
) -> None:
    shop.units = units
    write_down(book)
    before, owners = stands(), Customer.objects.count()
    content = csv_out(Wanted(ALL), shop, prices=True)
    Job.objects.all().delete()
    Customer.objects.all().delete()

    bring(content, clerk, shop)

    assert stands() == before
    assert Customer.objects.count() == owners


@settings(phases=PHASES, max_examples=8, suppress_health_check=list(HealthCheck))
@given(book=books)
@example(book=SMALLEST)
def test_an_xlsx_brings_back_the_same_to_a_spreadsheets_fifteen_digits(
    shop: Shop, clerk: Person, var: Path, book: dict[str, Any]
) -> None:
    write_down(book)
    before = stands()
    content = xlsx_out(Wanted(ALL), shop, prices=True)
    Job.objects.all().delete()
    Customer.objects.all().delete()

    bring(content, clerk, shop, name="jobs.xlsx")

    assert alike(stands(), before)


def alike(now: Any, then: Any) -> bool:
    if isinstance(now, dict) and isinstance(then, dict):
        assert now.keys() == then.keys()
        return all(alike(now[key], then[key]) for key in now)
    if isinstance(now, float):
        assert now == pytest.approx(then, rel=1e-14)
    elif isinstance(
        now, dt.time
    ):  # a spreadsheet keeps times as parts of a day, to the millisecond
        assert abs(seconds(now) - seconds(then)) < 0.002
    else:
        assert now == then
    return True


def seconds(clock: dt.time) -> float:
    return clock.hour * 3600 + clock.minute * 60 + clock.second + clock.microsecond / 1e6


def test_our_own_headers_are_known_again_each_as_its_field(shop: Shop) -> None:
    factories.make_piece(factories.make_job(), shape=write(COUNTER))
    fields = [about for about in offered(prices=True) if about.key not in {"code", "shape_more"}]
    for units in ("us", "si"):
        shop.units = units
        table = table_of(csv_out(Wanted(ALL), shop, prices=True))

        assert table.headers == headers_of(tuple(fields), shop)
        assert [column.field for column in guess(table)] == [about.key for about in fields]


def test_what_comes_back_unchanged_changes_nothing(shop: Shop) -> None:
    job = factories.make_job(price=Decimal("5300.00"), promised_by=dt.time(11, 30))
    factories.make_piece(job, "A", shape=write(COUNTER), area_m2=1.2, waste=0.125)
    factories.make_piece(job, "B", coat_m=0.0031)
    piece = job.pieces.get(letter="A")
    piece.area_m2 = area_of(piece.shape, face=0.019, coat=0.004, density=piece.mix.density)
    piece.save()
    for write_out, name in ((csv_out, "jobs.csv"), (xlsx_out, "jobs.xlsx")):
        content = write_out(Wanted(ALL), shop, prices=True)

        plan = plan_of(content, shop, name, existing=CHANGE)

        assert plan.faults == 0
        assert not plan.saves_something
        assert {row.act for row in plan.rows} == {"same"}


def test_a_shape_too_long_for_one_cell_goes_on_in_a_second_column(
    shop: Shop, clerk: Person, var: Path
) -> None:
    points = [[round(3 + 0.001 * n, 6), 0.0000123456789 * n * n] for n in range(400)]
    shape = {"outline": "polygon", "length": 0.399, "width": 1.9, "points": [*points, [3.0, 2.0]],
             "bulges": [], "edges": [], "ribs": [], "strongbacks": [],
             "cutouts": [{"x": 3.1 + 0.0001 * n, "y": 1.9, "length": 0.00005, "width": 0.00005,
                          "use": "x" * 290} for n in range(90)]}  # fmt: skip
    made = factories.make_piece(factories.make_job(), shape=shape)
    content = xlsx_out(Wanted(ALL), shop, prices=True)

    table = table_of(content, "jobs.xlsx")

    place, more = table.headers.index("Shape"), table.headers.index("Shape, continued")
    assert len(table.rows[0][place]) == 30_000
    assert json.loads(table.rows[0][place] + table.rows[0][more]) == made.shape
