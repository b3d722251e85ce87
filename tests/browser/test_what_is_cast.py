"""From a new job to its sheets, on a phone and on a desk: a counter with a sink is entered, cast
set, a run of the mixer opened, and every figure held against one worked by hand."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Iterator
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Browser, Locator, Page, expect

from jobs.models import MixerRun
from jobs.services import readiness
from shop.models import Person, Role
from shop.services.fresh import add_usual_recipe
from tests import factories
from tests.browser.visits import come_in
from tests.jobs.sheets.reading import read, words

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SIZES: dict[str, dict[str, Any]] = {
    "phone": {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True},
    "desk": {"viewport": {"width": 1280, "height": 800}},
}
LB, FOOT3 = 0.45359237, 1728.0  # kg; in³

# By hand, in inches. A slab of 96 × 25 1/2, 3/4 thick, of it 3/16 face coat; a sink of 30 × 16 with
# corners of 3/4, 33 from the left end, 4 3/4 from the front; the front edge 1 1/2 wide and as deep;
# four ribs of 1 1/2 along the slab, 3/4 deep, their centres a fifth of its width apart.
CORNER = (1 - math.pi / 4) * 0.75**2
FACE = 96 * 25.5 - (30 * 16 - 4 * CORNER)
# The sink takes 1.1 in of the first and of the last rib, whose centres stand at 5.1 and 20.4, and
# all of the two between; what its round corners leave stays with the first and the last.
RIBS = 4 * 96 * 1.5 - (30 * (1.1 + 1.5 + 1.5 + 1.1) - 4 * CORNER)
POUNDS = {  # at 130 lb/ft³
    "Face coat": FACE * 3 / 16 / FOOT3 * 130,
    "Backer": FACE * 9 / 16 / FOOT3 * 130,
    "Edges built down": 96 * 1.5 * 0.75 / FOOT3 * 130,
    "Ribs": RIBS * 0.75 / FOOT3 * 130,
}
WHOLE = sum(POUNDS.values())
PEOPLE = math.ceil(WHOLE / 50)
# With a fifth more of face coat and a tenth more of the rest.
TO_MIX = {
    "Face coat": 1.2 * POUNDS["Face coat"],
    "Backer": 1.1 * POUNDS["Backer"],
    "Ribs and edges": 1.1 * (POUNDS["Edges built down"] + POUNDS["Ribs"]),
}
# The usual recipe: 85 cement, 15 pozzolan, 100 sand; polymer solids 5 % of the cement in a liquid
# that is half water; plasticizer 0.5 % of it, three fifths water; free water 34 with theirs. Fibre:
# 2.5 % of the whole backer, none in the face coat. The mixer takes these two layers in one run.
PARTS = {
    "Water": 34 - 0.05 * 85 - 0.6 * 0.005 * 85,
    "Acrylic polymer": 2 * 0.05 * 85,
    "Plasticizer": 0.005 * 85,
    "Silica sand": 100.0,
    "White cement": 85.0,
    "Metakaolin": 15.0,
}
MATRIX = TO_MIX["Face coat"] + 0.975 * TO_MIX["Backer"]
RUN = {name: MATRIX * part / sum(PARTS.values()) for name, part in PARTS.items()}
RUN["AR glass fibre"] = 0.025 * TO_MIX["Backer"]


def test_the_figures_by_hand_are_those_of_the_trade() -> None:
    """Guards the numbers above: each as it comes out of a pocket calculator."""
    assert round(FACE / 144, 2) == 13.67
    assert [round(pounds, 1) for pounds in POUNDS.values()] == [27.8, 83.3, 8.1, 23.7]
    assert (round(WHOLE, 1), PEOPLE) == (142.9, 3)
    assert [round(pounds, 1) for pounds in TO_MIX.values()] == [33.3, 91.6, 35.0]
    assert round(RUN["White cement"], 2) == 43.73
    assert round(RUN["Water"], 2) == 15.17


@pytest.fixture
def owner(transactional_db: None) -> Person:
    factories.make_shop(carry_limit_kg=50 * LB, mixer_kg=150 * LB)
    factories.make_working_week()
    now = timezone.now()
    factories.make_readings(factories.make_room(), now - dt.timedelta(days=2), 48)
    add_usual_recipe(factories.make_mix(density=130 * LB / 0.3048**3))
    factories.make_route()
    factories.make_sealer()
    return factories.make_person(Role.OWNER, email="owner@example.com")


@pytest.fixture(params=SIZES.values(), ids=SIZES.keys())
def page(
    request: pytest.FixtureRequest, browser: Browser, live_server: Any, owner: Person
) -> Iterator[Page]:
    context = browser.new_context(base_url=live_server.url, **request.param)
    context.set_default_timeout(30_000)
    page = context.new_page()
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    come_in(context, live_server, owner)
    page.goto("/office/new-job/")
    yield page
    context.close()
    assert complaints == []


def test_a_counter_from_the_order_to_its_sheets(page: Page) -> None:
    take_the_job_on(page)
    enter_its_shape(page)
    assert_weighed(page)
    set_its_cast(page)
    open_its_first_run(page)
    assert_on_paper(page)


def take_the_job_on(page: Page) -> None:
    page.get_by_label("Job number").fill("217")
    page.get_by_label("What it is").fill("Kitchen counter")
    promised = timezone.localdate() + dt.timedelta(days=40)
    page.get_by_label("Promised for").fill(promised.isoformat())
    new = page.get_by_role("group", name="A new customer")
    new.get_by_label("Name").fill("Ada Fenwick-Lowe")
    page.get_by_role("button", name="Take the job on").click()
    page.get_by_role("link", name="Add a piece").click()
    page.get_by_label("Name", exact=True).fill("Sink run")
    page.get_by_label("Area").fill("96 x 25 1/2")
    page.get_by_label("Of it, face coat").fill("3/16")
    for label in ("Mix", "Cast and cured in", "Route", "Sealer"):
        page.get_by_label(label, exact=True).select_option(index=1)
    fits(page)
    page.get_by_role("button", name="Add it, then its shape").click()


def enter_its_shape(page: Page) -> None:
    outline = page.get_by_role("group", name="Outline")
    outline.get_by_label("Length", exact=True).fill("96")
    outline.get_by_label("Width", exact=True).fill("25 1/2")
    front = page.get_by_role("group", name="Front edge")
    front.get_by_label("Width").fill("1 1/2")
    front.get_by_label("Depth from the face").fill("1 1/2")
    page.get_by_role("button", name="Sink 30 × 16", exact=True).click()
    sink = page.get_by_role("group", name="Cutout 1")
    expect(sink.get_by_label("From the left end")).to_have_value("33")
    expect(sink.get_by_label("From the front edge")).to_have_value("4 3/4")
    expect(
        page.locator("#plan .face svg.drawing:visible").locator("text", has_text="sink")
    ).to_be_visible()
    ribs = page.get_by_role("group", name="Ribs, row 1")
    for label, text in {"How many": "4", "Width": "1 1/2", "Depth below slab": "3/4"}.items():
        ribs.get_by_label(label).fill(text)
    expect(page.locator("#plan")).to_contain_text(f"{PEOPLE} people, {WHOLE / PEOPLE:.0f} lb each")
    expect(page.locator("#plan")).to_contain_text("48 in from the left end, bent flat")
    fits(page)
    page.get_by_role("button", name="Save the section").click()
    expect(page.locator("#messages")).to_contain_text(f"{FACE / 144:.1f} ft² of face")


def assert_weighed(page: Page) -> None:
    index = page.get_by_role("navigation", name="On this page")
    index.get_by_role("link", name="What is cast").click()
    cast = page.locator("#cast")
    for layer, pounds in POUNDS.items():
        row = cast.get_by_role("row", name=re.compile(f"^{layer}"))
        assert amount(row.get_by_role("cell").nth(1)) == pytest.approx(pounds, abs=0.051)
    whole = cast.get_by_role("row", name=re.compile("^Whole piece"))
    assert amount(whole.get_by_role("cell").nth(1)) == pytest.approx(WHOLE, abs=0.051)
    expect(cast).to_contain_text(f"{PEOPLE} people, {WHOLE / PEOPLE:.0f} lb each")
    for svg in ("of-cutout", "of-rib", "of-edge"):
        assert cast.locator(f"svg.drawing:visible .{svg}").count()
    for part in ("Weakest cut", "What if"):
        index.get_by_role("link", name=part).click()
        sought = page.locator("#weakest" if part == "Weakest cut" else "#what-if")
        expect(sought).to_be_in_viewport()
        # It stands below the index, which stays, not behind it.
        foot, head = index.bounding_box(), sought.bounding_box()
        assert foot
        assert head
        assert foot["y"] >= 0
        assert foot["y"] + foot["height"] <= head["y"] + 1
    fits(page)


def set_its_cast(page: Page) -> None:
    readiness.rebuild()
    page.goto("/board/")
    page.get_by_role("link", name="Set the cast").click()
    expect(page.get_by_label(re.compile("217-A"))).to_be_checked()
    day = timezone.localdate() + dt.timedelta(days=7)
    page.locator("input[type=date]").fill(f"{day - dt.timedelta(days=day.weekday())}")
    page.locator("input[type=time]").fill("09:00")
    page.get_by_role("button", name="Set the cast").click()
    expect(page.locator("#messages")).to_contain_text("217-A")
    readiness.rebuild()


def open_its_first_run(page: Page) -> None:
    page.goto("/mixing/")
    page.locator("article", has_text="217-A").locator("h3 a").click()
    needs = page.get_by_role("table").first
    for layer, pounds in TO_MIX.items():
        row = needs.get_by_role("row", name=re.compile(f"^{layer}"))
        assert amount(row.get_by_role("cell").last) == pytest.approx(pounds, abs=0.051)
    expect(page.get_by_text("2 runs of a mixer that takes 150 lb")).to_be_visible()
    page.get_by_role("button", name="Open run 1").click()
    run = page.locator("section.run").first
    expect(run).to_contain_text("face coat, backer")
    for name, pounds in RUN.items():
        row = run.locator("table.ticking tbody tr", has_text=name)
        # The scales show 0.05 lb and 1 g.
        assert amount(row.locator("td").nth(1)) == pytest.approx(pounds, abs=0.026), name
    assert MixerRun.objects.get().number == 1
    fits(page)


def assert_on_paper(page: Page) -> None:
    pounds, face = f"{WHOLE:.0f} lb", "96 × 25 1/2 in"
    sheet = pdf(page, "Cast sheet (PDF)")
    assert len(read(sheet).pages) == 3
    cast = words(sheet)
    for said in ["217-A", face, pounds, "White cement", f"{near(RUN['White cement'])} lb", "Run 2",
                 "Underside, mirrored", "Section from front to back", "5 1/8"]:  # fmt: skip
        assert said in cast, said
    page.goto("/office/jobs/217/")
    fits(page)
    size = [face, pounds]
    for link, said in {
        "form tags": ["217-A", "Sink run", *size, f"{PEOPLE} people to demold", "front edge"],
        "route sheets": ["217-A", *size, "seal coat 1", "demold and flip"],
        "load list": ["217-A", *size, "On the truck 1 piece", f"Together {pounds}"],
        "the customer’s sheet": ["Kitchen counter", "Ada Fenwick-Lowe", *size, "Care"],
    }.items():
        made = pdf(page, link)
        assert len(read(made).pages) == 1, link
        text = words(made)
        for part in said:
            assert part in text, (link, part)


def pdf(page: Page, link: str) -> bytes:
    address = page.get_by_role("link", name=link, exact=True).get_attribute("href")
    assert address
    answer = page.request.get(address)
    assert answer.status == 200
    assert answer.headers["content-type"] == "application/pdf"
    body = answer.body()
    assert body.startswith(b"%PDF-")
    return body


def amount(cell: Locator) -> float:
    """Pounds, of what stands there in pounds or in grams."""
    number, unit = cell.inner_text().split()
    return float(number) * {"lb": 1.0, "g": 0.001 / LB}[unit]


def near(pounds: float) -> str:
    return f"{round(pounds / 0.05) * 0.05:.2f}"


def fits(page: Page) -> None:
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") == 0
