from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Browser, Page, expect

from shop.models import Person, Reading, Role
from tests.browser.visits import come_in
from tests.factories import make_person, make_readings, make_room, make_shop

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

Opener = Callable[..., Page]


@pytest.fixture
def owner() -> Person:
    make_shop()
    make_room("Casting room")
    return make_person(Role.OWNER)


@pytest.fixture
def open_page(browser: Browser, live_server: Any, owner: Person) -> Opener:
    """A page of the owner's, signed in, on a phone unless told otherwise."""

    def opened(path: str, *, width: int = 390, height: int = 844, **options: object) -> Page:
        context = browser.new_context(viewport={"width": width, "height": height}, **options)
        context.set_default_timeout(15_000)
        come_in(context, live_server, owner)
        page = context.new_page()
        page.goto(live_server.url + path)
        return page

    return opened


def csv_of(folder: Path, *lines: str) -> str:
    file = folder / "logger.csv"
    file.write_text("time,celsius,humidity\n" + "".join(f"{line}\n" for line in lines))
    return str(file)


def stamp(minutes: int) -> str:
    return (timezone.now() - dt.timedelta(minutes=minutes)).replace(microsecond=0).isoformat()


@pytest.mark.parametrize("javascript", [True, False])
def test_a_file_is_looked_at_row_by_row_on_a_phone_and_then_taken(
    open_page: Opener, tmp_path: Path, javascript: bool
) -> None:
    page = open_page("/readings/", java_script_enabled=javascript)
    file = csv_of(tmp_path, f"{stamp(30)},14.5,55", f"{stamp(20)},14.7,55", f"{stamp(10)},85,55")
    page.get_by_label("File").set_input_files(file)
    page.get_by_role("button", name="Look at the rows").click()

    expect(page.get_by_text("2 will be taken")).to_be_visible()
    page.get_by_role("link", name="Cannot be taken").click()
    expect(page.get_by_text("85 °C looks like Fahrenheit")).to_be_visible()
    assert not Reading.objects.exists()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390

    page.get_by_role("button", name="Take 2 readings").click()
    expect(page.get_by_role("status")).to_contain_text("2 readings taken.")
    expect(page.locator(".latest")).to_contain_text("58 °F")
    assert Reading.objects.count() == 2


def test_a_thermometer_on_the_wall_is_entered_on_a_phone(open_page: Opener) -> None:
    page = open_page("/readings/")
    page.get_by_role("textbox", name="Temperature").fill("58 °F")
    page.get_by_role("button", name="Take this reading").click()
    expect(page.get_by_role("status")).to_contain_text("Taken: 58 °F (14.4 °C).")
    expect(page.locator("#recent")).to_contain_text("by hand")


def test_a_file_too_large_is_refused_before_it_is_sent(open_page: Opener, tmp_path: Path) -> None:
    page = open_page("/readings/")
    file = tmp_path / "huge.csv"
    file.write_bytes(b"time,celsius\n" + b"x" * (5 * 1024 * 1024))
    page.get_by_label("File").set_input_files(str(file))
    page.get_by_role("button", name="Look at the rows").click()
    assert page.evaluate("document.querySelector('input[type=file]').validationMessage").startswith(
        "The file is larger than 4 MB"
    )
    assert page.url.endswith("/readings/")


@pytest.mark.parametrize(("width", "height"), [(1280, 800), (390, 844)])
def test_the_air_is_drawn_once_and_fits_the_screen(
    open_page: Opener, width: int, height: int
) -> None:
    room = make_room("Casting room")
    make_readings(room, timezone.now() - dt.timedelta(hours=40), 30, celsius=15.0)
    page = open_page("/readings/", width=width, height=height)
    assert page.locator("svg.air:visible").count() == 1
    expect(page.get_by_text("what follows is expected, not measured")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.get_by_text("The same as a table").click()
    expect(page.locator("details table")).to_be_visible()


def test_a_new_sensors_token_is_on_the_page_once(open_page: Opener) -> None:
    page = open_page("/readings/sensors/")
    page.get_by_label("Name").fill("By the tables")
    page.get_by_role("button", name="Add it and show its token").click()
    token = page.locator("#token").inner_text()
    page.get_by_role("link", name="I have kept it").click()
    expect(page.locator("main")).to_contain_text("By the tables")
    assert token not in page.content()
