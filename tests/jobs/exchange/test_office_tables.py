"""Tables as offices keep them: titles above the headers, a job's number once, no letters, sums."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse

from jobs.models import Job, Piece
from jobs.services.exchange import keep, saving
from jobs.services.exchange.columns import Choices, guess, usual_rows
from jobs.services.exchange.plan import Plan, make_plan
from jobs.services.exchange.table import Table
from shop.models import Person, Shop
from tests.jobs.exchange.tables import csv_file, defaults, kept_of, look, save, table_of

TITLE = [["Open orders, spring"], ["printed", "2026-03-09"], []]
HEADERS = ["Order no.", "Client", "Project", "Due date", "Piece", "Length (in)", "Depth (in)"]
ROWS = [
    ["501", "Petra Lindqvale", "Bath", "2026-04-20", "Vanity", "61 1/2", "22"],
    ["", "", "", "", "Shelf", "30", "8.25"],
    ["502", "Garnet & Loom", "Bar", "2026-05-04", "Bar top", "110", "26"],
]
TOTAL = ["Total", "", "", "", "", "201.5", ""]


def office_table(*more: list[str]) -> Table:
    return table_of(csv_file(*TITLE, HEADERS, *ROWS, *more))


def usual(table: Table) -> Choices:
    columns = guess(table)
    given = {**defaults(), "taken_on": "2026-03-09"}
    return Choices(columns, given, **usual_rows(columns, table))


def plan_of(table: Table, shop: Shop) -> Plan:
    return make_plan(table, usual(table), shop)


def test_the_row_that_names_the_most_fields_is_the_headers() -> None:
    table = office_table()

    assert (table.headers, table.line, table.lines) == (HEADERS, 4, [5, 6, 7])
    assert table_of(csv_file(["Job", "Title"], ["301", "job"])).headers == ["Job", "Title"]
    # With nothing known, the first.
    assert table_of(csv_file(["a", "b"], ["c", "d"])).line == 1


def test_another_row_can_be_the_headers_and_the_first_again() -> None:
    table = office_table()
    first = table.headed(1)

    assert first.headers[:2] == ["Open orders, spring", "Column B"]
    assert first.lines == [2, 4, 5, 6, 7]
    assert first.rows[1] == HEADERS
    assert first.headed(4) == table
    assert Table.of(table.plain()) == table
    with pytest.raises(ValueError, match="no row stands below row 7"):
        table.headed(7)


def test_what_was_wrong_in_a_cell_stays_with_it_under_other_headers() -> None:
    table = table_of(csv_file(["x\x07", "y"], ["Job", "Title"], ["301", "a\x07"]))

    assert (table.line, list(table.faults)) == (2, [(0, 1)])
    assert list(table.headed(1).faults) == [(1, 1)]


def test_a_number_that_stands_once_goes_for_the_rows_below_and_letters_are_given(
    shop: Shop,
) -> None:
    plan = plan_of(office_table(), shop)

    assert plan.faults == 0
    assert [piece.code for job in plan.jobs for piece in job.pieces] == ["501-A", "501-B", "502-A"]
    assert [piece.values["name"] for piece in plan.jobs[0].pieces] == ["Vanity", "Shelf"]
    assert plan.rows[1].notes == ["goes with job 501 above", "is 501-B"]
    assert plan.jobs[0].values["taken_on"] == dt.date(2026, 3, 9)


def test_letters_that_are_given_pass_by_those_that_stand_there(shop: Shop) -> None:
    headers = ["Job", "Client", "Title", "Letter", "Item", "Area [ft²]"]
    same = ["Petra", "Bath"]
    table = table_of(csv_file(headers, ["7", *same, "", "Shelf", "3"], ["7", *same, "A", "Top", "9"],
                              ["7", *same, "", "Sill", "2"]))  # fmt: skip
    columns = guess(table)
    choices = Choices(columns, {**defaults(), "taken_on": "2026-03-09"}, letters_given=True)

    assert not usual_rows(columns, table)["letters_given"]
    codes = {p.values["name"]: p.code for p in make_plan(table, choices, shop).jobs[0].pieces}
    assert codes == {"Shelf": "7-B", "Top": "7-A", "Sill": "7-C"}


def test_a_wrong_number_is_not_passed_by(shop: Shop) -> None:
    table = office_table(
        ["50,3!", "X", "Y", "", "Sill", "20", "6"], ["", "", "", "", "Z", "9", "6"]
    )
    plan = plan_of(table, shop)

    assert {row.line for row in plan.rows if row.faults} == {8, 9}


def test_the_same_table_again_means_the_same_pieces(shop: Shop, clerk: Person, var: Path) -> None:
    for words in ("Brought in: 2 jobs, 3 pieces and 2 customers are new.", None):
        kept = kept_of(csv_file(*TITLE, HEADERS, *ROWS), clerk)
        assert kept.table is not None
        kept.choices = usual(kept.table)
        plan = look(kept, shop)
        if words:
            assert save(kept, clerk, shop, plan) == words
    assert set(plan.counts) == {"same"}
    assert Piece.objects.count() == 3


def test_a_row_of_sums_is_left_out_by_choice_and_taken_in_again(
    office: Client, clerk: Person, shop: Shop, var: Path
) -> None:
    kept = kept_of(csv_file(*TITLE, HEADERS, *ROWS, TOTAL), clerk)
    assert kept.table is not None
    kept.choices = usual(kept.table)
    assert [row.line for row in look(kept, shop).rows if row.faults] == [8]
    rows = reverse("bring-in-rows", args=[kept.token])

    assert office.post(rows, {"without_wrong": ""}).status_code == 302
    page = office.get(rows)
    assert "Left out, as you chose: row 8." in page.content.decode()
    found = keep.find(kept.token, clerk)
    assert found is not None
    plan = saving.plan_of(found, shop, prices=True)
    office.post(rows, {"seen": saving.print_of(plan.seen)})
    assert {job.number for job in Job.objects.all()} == {"501", "502"}


def test_what_is_wrong_alike_is_said_once(
    office: Client, clerk: Person, shop: Shop, var: Path
) -> None:
    kept = kept_of(csv_file(*TITLE, HEADERS, *ROWS, ["R-1", *ROWS[2][1:]]), clerk)
    assert kept.table is not None
    kept.choices = usual(kept.table)
    del kept.choices.defaults["mix"]
    keep.put(kept)

    page = office.get(reverse("bring-in-rows", args=[kept.token])).content.decode()
    assert "Rows 5 to 7</strong> Mix: Not given." in page
    assert "Row 8</strong> Order no.: " in page
    assert "Write R1, for one." in page
