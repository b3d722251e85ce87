"""What a table becomes: new, changed, left or wrong."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from jobs.models import Customer, Job, Piece
from jobs.services import orders
from jobs.services.exchange.columns import CHANGE, Column, faults_of, guess, needs_number, settled
from jobs.services.exchange.plan import make_plan
from jobs.services.exchange.shapes import plain_rectangle, write_shape
from jobs.shapes.stored import write
from shop.models import Person, Shop
from tests import factories
from tests.jobs.exchange.tables import (
    HEADERS,
    ROW,
    bring,
    choices_of,
    csv_file,
    plan_of,
    table_of,
)
from tests.jobs.exchange.tables import (
    faults_of as words_of,
)
from tests.jobs.shapes.samples import COUNTER

FOOT = 0.3048


def one(header: str, text: str, shop: Shop, **more: Any) -> list[str]:
    """What is wrong with a good row once it has this cell."""
    headers, row = list(HEADERS), list(ROW)
    if header in headers:
        row[headers.index(header)] = text
    else:
        headers, row = [*headers, header], [*row, text]
    return words_of(plan_of(csv_file(headers, row), shop, **more))


def test_a_table_of_the_shops_own_becomes_jobs_and_pieces(
    shop: Shop, clerk: Person, var: Path
) -> None:
    second = ["301", "", "", "", "", "", "B", "Right vanity", "9,75"]
    bare = ["302", "Bench", "Odalys Brandt", "555.555.0111", "2 Mar 2026", "", "", "", ""]

    said = bring(csv_file(HEADERS, ROW, second, bare, separator=";"), clerk, shop)

    assert said == "Brought in: 2 jobs, 2 pieces and 1 customer are new."
    job = Job.objects.get(number="301")
    assert (job.title, job.customer.name, job.customer.phone_digits) == (
        "Two vanities", "Odalys Brandt", "5555550111",
    )  # fmt: skip
    assert (job.taken_on, job.promised_on) == (dt.date(2026, 3, 2), dt.date(2026, 4, 24))
    first, other = job.pieces.all()
    assert (first.code, first.name, other.code) == ("301-A", "Left vanity", "301-B")
    assert first.area_m2 == pytest.approx(9.5 * FOOT**2, rel=1e-12)
    assert other.area_m2 == pytest.approx(9.75 * FOOT**2, rel=1e-12)
    assert first.thickness_m == 0.01905
    assert Job.objects.get(number="302").pieces.count() == 0
    assert Job.objects.get(number="302").taken_on == dt.date(2026, 3, 2)


def test_length_and_width_are_kept_as_a_plain_rectangle(
    shop: Shop, clerk: Person, var: Path
) -> None:
    headers = [*HEADERS[:8], "Length", "Width (in)", "Thickness"]
    content = csv_file(headers, [*ROW[:8], "8'", "25 1/2", "38 mm"])

    bring(content, clerk, shop)

    piece = Piece.objects.get()
    assert piece.shape == plain_rectangle(96 * 0.0254, 25.5 * 0.0254)
    assert piece.area_m2 == pytest.approx(2.4384 * 0.6477)
    assert piece.thickness_m == pytest.approx(0.038)


@pytest.mark.parametrize(
    ("header", "text", "said"),
    [
        ("Job", "30 1", "up to 10 letters and digits"),
        ("Job", "", "There is no job number"),
        ("What it is", "", "needs what it is"),
        ("What it is", "x" * 81, "At most 80"),
        ("Customer", "", "needs its customer's name"),
        ("E-mail", "ada at example", "Write an e-mail address"),
        ("Taken on", "", "needs the day it was taken on"),
        ("Taken on", "2026-02-30", "no day of the calendar"),
        ("Taken on", "soon", "is not a day"),
        ("Promised", "2026-03-01", "taken on only Mon 2 Mar 2026"),
        ("Promised by", "25:00", "not a time of day"),
        ("Priority", "6", "At most 5"),
        ("Priority", "high", "not a whole number"),
        ("Price", "-5", "not a price from nought up"),
        ("Price", "1,25,0", "is not a number"),
        ("Price", "12.3456", "parts of a cent"),
        ("Piece letter", "A1", "one or two capital letters"),
        ("Piece letter", "", "Give it its letter"),
        ("Piece name", "", "Say what the piece is"),
        ("Area [ft²]", "", "needs its area"),
        ("Area [ft²]", "nine", "is not a number"),
        ("Area [ft²]", "600", "Look at the unit"),
        ("Area [ft²]", "3 kg", "not a unit for this"),
        ("Thickness [in]", "1 1/0", "nought below the line"),
        ("Thickness [in]", "25", "Look at the unit"),
        ("Length [in]", "96", "go together"),
        ("Mix", "Blue", "No mix is called ‘Blue’. There are:"),
        ("Room", "Attic", "No room is called"),
        ("Must match", "perhaps", "neither yes nor no"),
        ("Waste [%]", "120", "Outside what a piece can have"),
        ("Face coat [in]", "1", "thicker than the whole slab"),
        ("Shape", "a circle", "not a shape as our own table"),
        ("Shape", '{"outline":"blob","length":1,"width":1}', "no outline called blob"),
        ("Shape", '{"length":1,"width":1,"evil":1}', "has no ‘evil’"),
        ("Shape", '{"length":NaN,"width":1}', "not a shape as our own table"),
        ("Shape", '{"length":1,"width":1,"cutouts":[{"x":0,"y":0,"length":1,"width":1,"use":"\\u0000"}]}',
         "no figure and no short word"),
        ("Shape", "[" * 5000 + "]" * 5000, "not a shape as our own table"),
        ("Shape", '{"outline":"rectangle","length":-1,"width":1}', "above nought"),
        ("Piece code", "301-B", "Correct whichever is wrong"),
        ("Piece code", "301B", "not a piece's code"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_at_its_cell(shop: Shop, header: str, text: str, said: str) -> None:
    found = one(header, text, shop)

    assert any(said in words for words in found), found


@pytest.mark.parametrize(
    ("header", "text", "name", "value"),
    [
        ("Price", "$1,250.00", "price", Decimal("1250.00")),
        ("Price", "1.250,50 €", "price", Decimal("1250.50")),
        ("Price", "1,250", "price", Decimal("1250.00")),
        ("Price", "1.250.000,5", "price", Decimal("1250000.50")),
        ("Price", "1 250", "price", Decimal("1250.00")),
        ("Promised by", "3:30 pm", "promised_by", dt.time(15, 30)),
        ("Promised by", "12 am", "promised_by", dt.time(0)),
        ("Promised", "24 de abril de 2026", "promised_on", dt.date(2026, 4, 24)),
        ("Promised", "April 24, 2026", "promised_on", dt.date(2026, 4, 24)),
        ("Promised", "24.4.26", "promised_on", dt.date(2026, 4, 24)),
        ("Promised", "4/24/2026", "promised_on", dt.date(2026, 4, 24)),
        ("Promised", "24/4/2026", "promised_on", dt.date(2026, 4, 24)),
        ("Priority", "3", "weight", 3),
        ("Called off", "yes", "called_off", True),
        ("Closed at", "2026-03-18T14:00:00+00:00", "closed_at", dt.datetime(2026, 3, 18, 14, tzinfo=dt.UTC)),
    ],
)  # fmt: skip
def test_what_people_write_is_understood(
    shop: Shop, clerk: Person, var: Path, header: str, text: str, name: str, value: Any
) -> None:
    headers, row = list(HEADERS), list(ROW)
    if header in headers:
        row[headers.index(header)] = text
    else:
        headers, row = [*headers, header], [*row, text]

    bring(csv_file(headers, row), clerk, shop)

    assert getattr(Job.objects.get(), name) == value


def test_units_and_the_order_of_days_are_asked_only_where_they_leave_doubt() -> None:
    table = table_of(
        csv_file(["Job", "Length", "Width [mm]", "Area", "Promised", "Taken on", "Waste"],
                 ["1", "96", "600", "9.5 ft²", "3/4/2026", "3/13/2026", "10 %"])
    )  # fmt: skip
    columns = guess(table)

    assert [(c.field, c.unit, c.order) for c in columns] == [
        ("number", "", ""), ("length", "", ""), ("width", "mm", ""), ("area", "", ""),
        ("promised_on", "", ""), ("taken_on", "", "month"), ("waste", "", ""),
    ]  # fmt: skip
    faults = faults_of(columns, table)
    assert list(faults) == [1, 4]
    assert "which unit" in faults[1]
    assert "two ways" in faults[4]
    answered = list(columns)
    answered[1] = settled(Column("length", "cm"), table, 1)
    answered[4] = settled(Column("promised_on", "", "day"), table, 4)
    assert faults_of(tuple(answered), table) == {}
    assert answered[1].unit == "cm"


def test_a_field_is_given_by_one_column_and_the_job_number_by_some() -> None:
    table = table_of(csv_file(["Job", "Order"], ["1", "2"]))

    assert faults_of((Column("number"), Column("number")), table) == {
        1: "‘Job’ is Job number already. Leave one of them out."
    }
    assert "No column is the job number" in needs_number((Column("title"), Column()))
    assert needs_number((Column("code"), Column())) == ""


def test_rows_of_one_job_must_say_one_thing_and_no_piece_stands_twice(shop: Shop) -> None:
    other = ["301", "One vanity", "", "", "", "", "A", "Left vanity", "9.5"]

    plan = plan_of(csv_file(HEADERS, ROW, other), shop)

    assert [row.act for row in plan.rows] == ["new", "wrong"]
    assert plan.rows[1].faults[1].startswith("Row 2 says something else for the same job")
    assert plan.rows[1].faults[6].startswith("301-A stands in row 2 already")


def test_a_room_or_mix_that_is_no_longer_in_use_takes_no_new_piece(shop: Shop) -> None:
    factories.make_mix(name="Old grey", in_use=False)

    assert one("Mix", "old GREY", shop) == [
        "Old grey is no longer in use. Take it up again in the shop's set-up, or name another."
    ]


def test_a_fault_without_a_column_belongs_to_the_row(shop: Shop) -> None:
    table = table_of(csv_file(HEADERS, ROW))

    plan = make_plan(table, choices_of(table, mix=None), shop)

    assert plan.rows[0].faults == {
        -1: "Mix: Not given. Write it here, or choose one beside the columns."
    }


# What is here already.


@pytest.fixture
def here(shop: Shop) -> Piece:
    customer = factories.make_customer("Odalys Brandt", phone="(555) 555-0111", email="")
    job = factories.make_job("301", dt.date(2026, 4, 10), customer=customer, title="Two vanities",
                             taken_on=dt.date(2026, 3, 2))  # fmt: skip
    return factories.make_piece(job, "A", name="Left vanity", area_m2=9.5 * FOOT**2)


def test_what_is_here_is_left_and_said_so_unless_it_is_to_be_changed(
    shop: Shop, clerk: Person, var: Path, here: Piece
) -> None:
    added = ["301", "", "", "", "", "", "B", "Right vanity", "10"]
    content = csv_file(HEADERS, ROW, added)

    plan = plan_of(content, shop)
    assert [row.act for row in plan.rows] == ["left", "new"]
    assert plan.rows[0].notes == ["promised on: 2026-04-10 → 2026-04-24 (left)"]
    assert bring(content, clerk, shop) == "Brought in: 1 piece is new."
    here.job.refresh_from_db()
    assert here.job.promised_on == dt.date(2026, 4, 10)

    plan = plan_of(content, shop, existing=CHANGE)
    assert [row.act for row in plan.rows] == ["changed", "same"]
    assert bring(content, clerk, shop, existing=CHANGE) == "Brought in: 1 job is changed."
    here.job.refresh_from_db()
    assert here.job.promised_on == dt.date(2026, 4, 24)
    assert Piece.objects.count() == 2


def test_an_empty_cell_leaves_what_is_there(
    shop: Shop, clerk: Person, var: Path, here: Piece
) -> None:
    row = ["301", "", "", "", "", "", "A", "Left, longer", ""]

    bring(csv_file(HEADERS, row), clerk, shop, existing=CHANGE)

    here.refresh_from_db()
    assert here.name == "Left, longer"
    assert here.area_m2 == 9.5 * FOOT**2
    assert here.job.promised_on == dt.date(2026, 4, 10)


def test_what_marks_hold_on_to_is_not_changed(shop: Shop, here: Piece) -> None:
    factories.make_mark(here, "cast", factories.NOW)
    factories.make_mix(name="Other")

    found = one("Mix", "Other", shop, existing=CHANGE)

    assert found == ["301-A has marks already: it was cast in this mix."]
    assert one("Mix", "Other", shop) == []
    early = one("Promised", "2026-03-18", shop, existing=CHANGE)
    assert early == []  # by the time of day it leaves, it is cast
    assert (
        "would come before 301-A is cast" in one("Promised", "2026-03-17", shop, existing=CHANGE)[0]
    )


def test_a_job_that_is_closed_takes_no_pieces(shop: Shop, here: Piece) -> None:
    orders.close_job(job_id=here.job_id)
    added = ["301", "", "", "", "", "", "B", "Right vanity", "10"]

    plan = plan_of(csv_file(HEADERS, added), shop)

    assert words_of(plan) == ["Job 301 is closed. Open it again first, or leave its pieces out."]


def test_a_section_of_its_own_is_not_flattened_by_length_and_width(shop: Shop, here: Piece) -> None:
    Piece.objects.filter(pk=here.pk).update(shape=write(COUNTER))
    headers = [*HEADERS[:8], "Length [in]", "Width [in]"]

    longer = plan_of(csv_file(headers, [*ROW[:8], "100", "25.5"]), shop, existing=CHANGE)
    as_it_is = plan_of(csv_file(headers, [*ROW[:8], "96", "25.5"]), shop, existing=CHANGE)

    assert "has a section of its own" in words_of(longer)[0]
    assert words_of(as_it_is) == []


def test_columns_that_say_the_same_thing_twice_must_agree(shop: Shop) -> None:
    headers = [*HEADERS, "Shape", "Length [in]", "Width [in]"]
    shape = write_shape(write(COUNTER))

    other = plan_of(csv_file(headers, [*ROW, shape, "100", "25.5"]), shop)

    assert any("not those of the shape" in words for words in words_of(other))
    assert any("From its shape the area is 13" in words for words in words_of(other))


def test_customers_are_told_apart_and_never_guessed(shop: Shop, clerk: Person, var: Path) -> None:
    first = factories.make_customer("Ada Fenwick", email="ada@example.com", phone="")
    factories.make_customer("Ada Fenwick", email="", phone="555-0188")
    headers = ["Job", "What it is", "Customer", "E-mail", "Taken on"]

    unsure = plan_of(csv_file(headers, ["1", "x", "ada fenwick", "", "2026-03-02"]), shop)
    known = csv_file(headers, ["1", "x", "ada fenwick", "ADA@example.com", "2026-03-02"])
    other = csv_file(headers, ["2", "x", "Ada Fenwick", "new@example.com", "2026-03-02"])

    # The one without an e-mail could be either, by its name alone.
    assert words_of(unsure) == [
        "2 customers here go by that name. Give the e-mail or phone of the one that is meant."
    ]
    bring(known, clerk, shop)
    assert Job.objects.get(number="1").customer == first
    bring(other, clerk, shop)
    assert Job.objects.get(number="2").customer.email == "new@example.com"
    assert Customer.objects.count() == 3
