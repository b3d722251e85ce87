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

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SIZES = {"phone": (390, 844), "desk": (1280, 800)}
FRONT = {"Width": "3/4", "Depth from the face": "1 1/2"}
SINK = {
    "Length": "21",
    "Width": "16",
    "From the left end": "37 1/2",
    "From the front edge": "4 3/4",
}


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
    context.set_default_timeout(15_000)
    page = context.new_page()
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on(
        "console", lambda m: complaints.append(m.text) if "Content Security" in m.text else None
    )
    page.goto(f"{live_server.url}/sign-in/?next=/pieces/217-A/")
    page.get_by_label("E-mail").fill(office.email)
    page.get_by_label("Password").fill(factories.PASSWORD)
    page.locator("main button").first.click()
    page.get_by_role("link", name="Enter its section").click()
    expect(page.get_by_role("heading", name="Section of 217-A")).to_be_visible()
    yield page
    context.close()
    assert complaints == []


def drawing(page: Page):
    return page.locator("#plan svg.plan:visible")


def fits(page: Page) -> bool:
    return bool(page.evaluate("document.documentElement.scrollWidth <= innerWidth"))


def words_in_the_drawing_stay_inside(page: Page) -> list[str]:
    return page.evaluate(
        """() => [...document.querySelectorAll('svg.plan')].flatMap((drawing) => {
            const frame = drawing.getBoundingClientRect();
            return [...drawing.querySelectorAll('text')].filter((text) => {
                const box = text.getBoundingClientRect();
                return box.width && (box.left < frame.left - 1 || box.right > frame.right + 1
                    || box.top < frame.top - 1 || box.bottom > frame.bottom + 1);
            }).map((text) => text.textContent);
        })"""
    )


def test_a_sink_counter_is_entered_drawn_and_judged(page: Page) -> None:
    outline = page.get_by_role("group", name="Outline")
    outline.get_by_label("Length").fill("8 ft")
    outline.get_by_label("Width").press_sequentially("25 1/2", delay=20)
    expect(drawing(page).get_by_text("96 in", exact=True)).to_be_visible()

    for label, text in FRONT.items():
        page.get_by_role("group", name="Front edge").get_by_label(label).fill(text)
    ribs = page.get_by_role("group", name="Ribs, row 1")
    for label, text in {"How many": "2", "Width": "1 1/2", "Depth below slab": "3/4"}.items():
        ribs.get_by_label(label).fill(text)
    sink = page.get_by_role("group", name="Cutout 1")
    for label, text in (SINK | {"From the left end": "97"}).items():
        sink.get_by_label(label).fill(text)
    expect(page.locator("#plan")).to_contain_text("Cutout 1, From the left end: This cutout lies")
    sink.get_by_label("From the left end").fill(SINK["From the left end"])

    expect(drawing(page).get_by_text("21 × 16")).to_be_visible()
    expect(drawing(page).locator("rect.rib")).to_have_count(2)
    expect(page.locator("#plan")).to_contain_text("14.7 ft²")
    assert fits(page)
    assert words_in_the_drawing_stay_inside(page) == []

    page.get_by_role("button", name="Another cutout").click()
    expect(page.get_by_role("group", name="Cutout 2")).to_be_visible()
    expect(sink.get_by_label("From the left end")).to_have_value("37 1/2")
    found = Axe().run(page).response["violations"]
    assert [(rule["id"], rule["nodes"][0]["html"][:90]) for rule in found] == []

    page.get_by_role("button", name="Save the section").click()

    expect(page.locator("#messages")).to_contain_text("217-A has its section: 14.7 ft² of face.")
    part = page.locator("#lifting")
    expect(part).to_contain_text("Strip by tilting")
    expect(part).to_contain_text("3 people")
    assert fits(page)
    assert len(Piece.objects.get(code="217-A").shape["cutouts"]) == 1


def test_what_cannot_be_stays_on_the_page(page: Page) -> None:
    page.get_by_role("group", name="Outline").get_by_label("Length").fill("long")
    page.get_by_role("button", name="Save the section").click()

    expect(page.locator("#id_length_error")).to_contain_text("is not a length")
    expect(page.get_by_role("group", name="Outline").get_by_label("Length")).to_have_value("long")
