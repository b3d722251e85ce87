"""A counter with a sink entered in a real browser, on a phone and on a desk."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Browser, Page, expect

from jobs.models import Piece
from shop.models import Person, Role
from tests import factories
from tests.browser.visits import come_in

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SIZES = {"phone": (390, 844), "desk": (1280, 800)}
FRONT = {"Width": "1 1/2", "Depth from the face": "1 1/2"}
RIBS = {"How many": "4", "Width": "1 1/2", "Depth below slab": "3/4"}


@pytest.fixture
def office(transactional_db: None) -> Person:
    factories.make_shop()
    factories.make_working_week()
    now = timezone.now()
    factories.make_readings(factories.make_room(), now - dt.timedelta(days=4), 96)
    job = factories.make_job("217", promised_on=now.date() + dt.timedelta(days=21))
    factories.make_mark(factories.make_piece(job), "cast", now - dt.timedelta(hours=30))
    return factories.make_person(Role.OFFICE, email="office@example.com")


@pytest.fixture(params=SIZES.values(), ids=SIZES.keys())
def page(
    request: pytest.FixtureRequest, browser: Browser, live_server, office: Person
) -> Iterator[Page]:
    width, height = request.param
    context = browser.new_context(viewport={"width": width, "height": height})
    context.set_default_timeout(30_000)
    page = context.new_page()
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on(
        "console", lambda m: complaints.append(m.text) if "Content Security" in m.text else None
    )
    come_in(context, live_server, office)
    page.goto(f"{live_server.url}/pieces/217-A/")
    page.get_by_role("link", name="Enter its section").click()
    expect(page.get_by_role("heading", name="Section of 217-A")).to_be_visible()
    yield page
    context.close()
    assert complaints == []


def drawing(page: Page, view: str = "face"):
    return page.locator(f"#plan .{view} svg.drawing:visible")


def fits(page: Page) -> bool:
    return bool(page.evaluate("document.documentElement.scrollWidth <= innerWidth"))


def words_in_the_drawing_stay_inside(page: Page) -> list[str]:
    return page.evaluate(
        """() => [...document.querySelectorAll('svg.drawing')].flatMap((drawing) => {
            const frame = drawing.getBoundingClientRect();
            return [...drawing.querySelectorAll('text')].filter((text) => {
                const box = text.getBoundingClientRect();
                return box.width && (box.left < frame.left - 1 || box.right > frame.right + 1
                    || box.top < frame.top - 1 || box.bottom > frame.bottom + 1);
            }).map((text) => text.textContent);
        })"""
    )


def test_a_sink_counter_is_entered_drawn_and_judged(page: Page) -> None:
    """96 x 25 1/2 in, a usual sink and faucet, the front edge 1 1/2 in deep, four ribs."""
    outline = page.get_by_role("group", name="Outline")
    outline.get_by_label("Length", exact=True).fill("8 ft")
    outline.get_by_label("Width", exact=True).press_sequentially("25 1/2", delay=20)
    expect(drawing(page).get_by_text("96 in", exact=True)).to_be_visible()

    for label, text in FRONT.items():
        page.get_by_role("group", name="Front edge").get_by_label(label).fill(text)
    page.get_by_role("button", name="Sink 30 × 16", exact=True).click()
    sink = page.get_by_role("group", name="Cutout 1")
    expect(sink.get_by_label("From the left end")).to_have_value("33")
    page.get_by_role("button", name="Faucet").click()
    expect(page.get_by_role("group", name="Cutout 2").get_by_label("Diameter")).to_have_value(
        "1 3/8"
    )
    ribs = page.get_by_role("group", name="Ribs, row 1")
    for label, text in RIBS.items():
        ribs.get_by_label(label).fill(text)
    sink.get_by_label("From the left end").fill("80")
    expect(page.locator("#plan")).to_contain_text("Cutout 1, From the left end: Cutout 1 runs")
    expect(drawing(page, "wrong").locator(".of-mark")).to_have_count(1)
    sink.get_by_label("From the left end").fill("33")

    expect(drawing(page).get_by_text("sink", exact=True)).to_be_visible()
    # 96 x 25 1/2 less 30 x 16 in with its rounded corners and the faucet's hole.
    expect(page.locator("#plan")).to_contain_text("13.7 ft²")
    assert drawing(page, "underside").locator(".of-rib").count() >= 4
    assert fits(page)
    assert words_in_the_drawing_stay_inside(page) == []
    found = Axe().run(page).response["violations"]
    assert [(rule["id"], rule["nodes"][0]["html"][:90]) for rule in found] == []

    page.get_by_role("button", name="Save the section").click()

    expect(page.locator("#messages")).to_contain_text("217-A has its section: 13.7 ft² of face.")
    part = page.locator("#lifting")
    expect(part).to_contain_text("Strip by tilting")
    expect(part).to_contain_text("3 people")
    assert fits(page)
    shape = Piece.objects.get(code="217-A").shape
    assert [hole["use"] for hole in shape["cutouts"]] == ["sink", "faucet hole"]
    assert len(shape["ribs"]) == 4


def test_an_outline_asks_for_its_own_sizes_only(page: Page) -> None:
    outline = page.get_by_role("group", name="Outline")
    length, diameter = outline.get_by_label("Length", exact=True), outline.get_by_label("Diameter")
    expect(length).to_be_visible()
    expect(diameter).to_be_hidden()

    page.locator(".kinds label", has_text="Circle").click()

    expect(length).to_be_hidden()
    diameter.fill("42")
    expect(drawing(page).locator("path.of-outline")).to_have_count(2)
    expect(page.locator("#plan")).to_contain_text("9.6 ft²")
    expect(page.get_by_role("group", name="All round")).to_be_visible()
    expect(page.get_by_role("group", name="Front edge")).to_be_hidden()
    assert fits(page)

    page.locator(".kinds label", has_text="Free, by corners").click()
    lines = outline.get_by_label("Corners as lines")
    lines.fill("0, 0\n60, 0, 3\n60, 25 1/2\n0, 25 1/2")
    expect(drawing(page).get_by_text("R 3", exact=True)).to_be_visible()
    lines.fill("0, 0\n60, 0\n0, 25 1/2\n60, 25 1/2")
    expect(drawing(page, "wrong").locator(".of-mark").first).to_be_visible()
    assert fits(page)


def test_without_script_a_button_draws_the_plan(browser: Browser, live_server, office) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    come_in(context, live_server, office)
    page.goto(f"{live_server.url}/pieces/217-A/section/")
    page.locator(".kinds label", has_text="Circle").click()
    page.get_by_label("Diameter").first.fill("42")

    page.get_by_role("button", name="Draw the plan").click()

    expect(drawing(page)).to_be_visible()
    expect(page.get_by_label("Diameter").first).to_have_value("42")
    context.close()


def test_what_cannot_be_stays_on_the_page(page: Page) -> None:
    outline = page.get_by_role("group", name="Outline")
    outline.get_by_label("Length", exact=True).fill("long")
    page.get_by_role("button", name="Save the section").click()

    expect(page.locator("#id_length_error")).to_contain_text("is not a length")
    expect(outline.get_by_label("Length", exact=True)).to_have_value("long")
