"""A workbook as an office keeps it, brought in by its three steps in a browser, at both sizes."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from openpyxl import Workbook
from playwright.sync_api import Browser, Page, expect
from pytest_django.live_server_helper import LiveServer

from jobs.models import Job, Piece
from shop.models import Role
from tests import factories
from tests.browser.visits import SIZES, signed_in

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def workbook(folder: Path, due: dt.date) -> Path:
    """A title above the headers, jobs merged over their pieces' rows, a sum below, more sheets."""
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "Open orders"
    sheet.append(["Open orders, spring"])
    sheet.merge_cells("A1:G1")
    sheet.append([])
    sheet.append(["Order no.", "Client", "Project", "Due", "Piece", "Length", "Depth (in)"])
    sheet.append([501, "Petra Lindqvale", "Bath", due, "Vanity", "61 1/2", 22])
    sheet.append([None, None, None, None, "Shelf", 30, 8.25])
    sheet.append([502, "Garnet & Loom", "Bar", due, "Bar top", 110, 26])
    for cells in ("A4:A5", "B4:B5"):
        sheet.merge_cells(cells)
    sheet.append(["Total", None, None, None, None, 201.5])
    book.create_sheet("Prices").append(["Counter", 95])
    path = folder / "orders.xlsx"
    book.save(path)
    return path


def opened(browser: Browser, live_server: LiveServer, size: str) -> Page:
    factories.make_shop()
    factories.make_working_week()
    for make in (factories.make_room, factories.make_mix, factories.make_route,
                 factories.make_sealer):  # fmt: skip
        make()
    clerk = factories.make_person(Role.OFFICE, email="tobias@example.com")
    return signed_in(browser, live_server, clerk, "/exchange/in/", SIZES[size])


def fits(page: Page) -> bool:
    return bool(page.evaluate("document.documentElement.scrollWidth <= innerWidth"))


@pytest.mark.parametrize("size", SIZES)
def test_a_workbook_goes_through_its_three_steps(
    browser: Browser, live_server: LiveServer, tmp_path: Path, size: str
) -> None:
    page = opened(browser, live_server, size)
    due = timezone.localdate() + dt.timedelta(days=60)  # and taken on today, as no column says it
    page.get_by_label("File").set_input_files(workbook(tmp_path, due))
    page.get_by_role("button", name="Look at its columns").click()
    page.get_by_label("Open orders").check()
    page.get_by_role("button", name="Look at its columns").click()

    expect(page.get_by_label("The columns are named in")).to_have_value("3")
    expect(page.get_by_label("What Piece is")).to_have_value("name")
    expect(page.get_by_label("A row without a job number goes with the row above")).to_be_checked()
    expect(page.get_by_label("Pieces without a letter get A, B, C")).to_be_checked()
    assert fits(page)
    assert not Axe().run(page).response["violations"]
    page.get_by_role("button", name="Look at the rows").click()
    expect(page.get_by_role("alert")).to_contain_text("Some columns need an answer")
    page.get_by_label("Unit of Length").select_option("in")
    page.get_by_role("button", name="Look at the rows").click()

    expect(page.get_by_role("heading", name="1 row cannot be saved, so nothing is")).to_be_visible()
    expect(page.get_by_role("listitem").filter(has_text="Row 7")).to_be_visible()
    assert fits(page)
    page.get_by_role("button", name="Go on without this row").click()
    expect(page.get_by_text("Left out, as you chose: row 7.")).to_be_visible()
    expect(page.get_by_text("is 501-B")).to_be_visible()
    page.get_by_role("button", name="Save all of it").click()

    page.wait_for_url("**/office/**")
    expect(page.get_by_text("2 jobs, 3 pieces and 2 customers are new")).to_be_visible()
    shelf = Piece.objects.get(code="501-B")
    assert (shelf.name, shelf.job.promised_on) == ("Shelf", due)
    assert Piece.objects.get(code="501-A").shape["length"] == pytest.approx(61.5 * 0.0254)
    assert Job.objects.count() == 2
