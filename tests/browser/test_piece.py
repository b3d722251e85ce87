"""A piece over time in a real browser: readable on a phone, answered while one types."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from zoneinfo import ZoneInfo

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Browser, Page, expect

from jobs.models import Batch, Mark, Piece
from shop.models import Person, Role
from tests import factories
from tests.browser.visits import come_in

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SIZES = [(1280, 800), (390, 844)]
ZONE = ZoneInfo("America/Chicago")


@pytest.fixture
def owner(transactional_db: None) -> Person:
    """217-A was cast two days ago, 217-B waits."""
    factories.make_shop()
    factories.make_working_week()
    now = timezone.now()
    factories.make_readings(factories.make_room(), now - dt.timedelta(days=4), 96, 16.0)
    today = now.astimezone(ZONE).date()
    job = factories.make_job(
        "217",
        promised_on=today + dt.timedelta(days=21),
        taken_on=today - dt.timedelta(days=20),
    )
    cast, _ = (factories.make_piece(job, letter) for letter in "AB")
    factories.make_mark(cast, "cast", now - dt.timedelta(days=2))
    return factories.make_person(Role.OWNER, email="owner@example.com")


@pytest.fixture
def page(browser: Browser, live_server, owner: Person) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 390, "height": 844})
    context.set_default_timeout(15_000)
    page = context.new_page()
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on(
        "console", lambda m: complaints.append(m.text) if "Content Security" in m.text else None
    )
    come_in(context, live_server, owner)
    page.goto(f"{live_server.url}/pieces/217-A/")
    expect(page.locator("#answer")).to_be_visible()
    yield page
    context.close()
    assert complaints == []


@pytest.mark.parametrize(("width", "height"), SIZES)
@pytest.mark.parametrize("path", ["/pieces/217-A/?celsius=80", "/pieces/217-B/"])
def test_nothing_runs_off_the_screen_or_out_of_the_drawing(
    page: Page, live_server, path: str, width: int, height: int
) -> None:
    page.set_viewport_size({"width": width, "height": height})
    page.goto(live_server.url + path)
    page.locator("details").evaluate_all(
        "(all) => { all.forEach((part) => { part.open = true; }); }"
    )

    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") == 0
    outside = page.evaluate(
        """() => [...document.querySelectorAll('svg.course')].flatMap((drawing) => {
            const frame = drawing.getBoundingClientRect();
            return [...drawing.querySelectorAll('text')]
                .filter((text) => {
                    const box = text.getBoundingClientRect();
                    return box.width && (box.left < frame.left - 1 || box.right > frame.right + 1);
                }).map((text) => text.textContent);
        })"""
    )
    assert outside == []


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_one_drawing_shows_and_its_letters_can_be_read(page: Page, width: int, height: int) -> None:
    page.set_viewport_size({"width": width, "height": height})

    assert page.locator(".panel > svg.course:visible").count() == 1
    heights = page.evaluate(
        """() => [...document.querySelectorAll('.panel > svg.course text')]
            .map((text) => text.getBoundingClientRect().height).filter((height) => height)"""
    )
    assert min(heights) >= 11


@pytest.mark.parametrize("path", ["/pieces/217-A/?celsius=80", "/pieces/217-B/"])
def test_a_machine_finds_nothing_that_shuts_readers_out(page: Page, live_server, path) -> None:
    page.goto(live_server.url + path)
    page.locator("details").evaluate_all(
        "(all) => { all.forEach((part) => { part.open = true; }); }"
    )

    found = Axe().run(page).response["violations"]

    assert [(rule["id"], rule["nodes"][0]["html"][:90]) for rule in found] == []


def test_the_index_leads_to_each_part_and_what_is_folded_is_printed(page: Page) -> None:
    index = page.get_by_role("navigation", name="On this page")
    page.locator("#answer").scroll_into_view_if_needed()
    for link in index.get_by_role("link").all():
        expect(link).to_be_in_viewport(ratio=1)
        sought = page.locator(link.get_attribute("href") or "")
        link.click()
        expect(sought).to_be_in_viewport()

    assert page.locator("details.fold:not([open])").count() >= 3
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert page.locator("details.fold:not([open])").count() == 0
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    assert page.locator("details.fold[open]").count() == 0


def test_a_thought_is_answered_at_once_and_saved_nowhere(page: Page) -> None:
    before = [model.objects.count() for model in (Batch, Mark, Piece)]
    field = page.get_by_label("Room kept at, from now on")
    field.fill("80")
    field.blur()

    expect(page.locator("#answer")).to_contain_text("sooner")
    expect(page.locator("#answer caption", has_text="Each step")).to_be_visible()
    assert field.input_value() == "80"
    field.fill("warm")
    field.blur()
    expect(page.locator("#answer")).to_contain_text("not a number")
    assert field.input_value() == "warm"
    assert [model.objects.count() for model in (Batch, Mark, Piece)] == before


def test_a_time_that_happens_twice_is_asked_about_while_the_rest_stays(
    page: Page, live_server
) -> None:
    page.goto(live_server.url + "/pieces/217-B/")
    year = timezone.now().astimezone(ZONE).year + 1
    sunday = next(day for day in range(1, 8) if dt.date(year, 11, day).weekday() == 6)
    page.get_by_label("date").fill(f"{year}-11-0{sunday}")
    page.get_by_label("time", exact=True).fill("01:30")
    page.get_by_label("time", exact=True).blur()

    expect(page.get_by_label("which of the two")).to_be_visible()
    page.get_by_label("which of the two").select_option("1")
    expect(page.locator("#answer")).not_to_contain_text("happens twice")
    assert page.get_by_label("time", exact=True).input_value() == "01:30"


def test_it_is_answered_without_scripts_too(browser: Browser, live_server, page: Page) -> None:
    context = browser.new_context(
        java_script_enabled=False, storage_state=page.context.storage_state()
    )
    plain = context.new_page()
    plain.goto(live_server.url + "/pieces/217-A/")
    plain.get_by_label("Room kept at, from now on").fill("80")
    plain.get_by_role("button", name="Show what it does").click()

    expect(plain.locator("#answer")).to_contain_text("sooner")
    assert plain.get_by_label("Room kept at, from now on").input_value() == "80"
    context.close()
