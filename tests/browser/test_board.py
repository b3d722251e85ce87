"""The week's page in a real browser: nothing off the screen, alive by itself, the effect before saving."""

from __future__ import annotations

import datetime as dt
import io
import re
from collections.abc import Iterator
from zoneinfo import ZoneInfo

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Browser, Page, Route, expect
from pypdf import PdfReader

from jobs.models import Batch, Job, JobPlanned, Piece
from jobs.services import readiness
from shop.models import Person, Role
from tests import factories
from tests.browser.visits import come_in

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SIZES = [(1280, 800), (390, 844)]
ZONE = ZoneInfo("America/Chicago")


@pytest.fixture
def owner(transactional_db: None) -> Person:
    """A shop of four jobs: one cast and one waiting, one short, one without a promise."""
    factories.make_shop()
    factories.make_working_week()
    now = timezone.now()
    today = now.astimezone(ZONE).date()
    room = factories.make_room()
    factories.make_readings(room, now - dt.timedelta(days=4), 96)
    for number, days in (("217", 21), ("218", 28), ("219", 1), ("220", None)):
        promised = today + dt.timedelta(days=days) if days else None
        job = factories.make_job(
            number, promised_on=promised, taken_on=today - dt.timedelta(days=40)
        )
        pieces = [factories.make_piece(job, letter) for letter in "AB"]
        if number != "218":
            cast(pieces)
    readiness.rebuild()
    return factories.make_person(Role.OWNER, email="owner@example.com")


def cast(pieces: list[Piece]) -> None:
    """Two days ago: their job has something in this week, whatever day and hour it is."""
    for piece in pieces:
        factories.make_mark(piece, "cast", timezone.now() - dt.timedelta(days=2))


@pytest.fixture
def board(browser: Browser, live_server, owner: Person) -> Iterator[Page]:
    """Signed in, with every complaint of the page gathered."""
    context = browser.new_context()
    context.set_default_timeout(15_000)
    page = context.new_page()
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on(
        "console", lambda m: complaints.append(m.text) if "Content Security" in m.text else None
    )
    come_in(context, live_server, owner)
    page.goto(f"{live_server.url}/board/")
    expect(page.locator("#week")).to_be_visible()
    # Before a new page is painted, Chromium lets keys and taps go by.
    page.evaluate("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")
    yield page
    context.close()
    assert complaints == []


def sideways(page: Page) -> int:
    script = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    return int(page.evaluate(script))


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_nothing_runs_off_the_screen(board: Page, live_server, width: int, height: int) -> None:
    board.set_viewport_size({"width": width, "height": height})
    for path in (
        "/board/?open=217",
        "/board/jobs/217/",
        "/board/casts/new/",
        "/board/jobs/217/install/",
    ):
        board.goto(live_server.url + path)

        assert sideways(board) == 0, path


@pytest.mark.parametrize("path", ["/board/?open=217", "/board/jobs/217/", "/board/casts/new/"])
def test_a_machine_finds_nothing_that_shuts_readers_out(board: Page, live_server, path) -> None:
    board.goto(live_server.url + path)

    found = Axe().run(board).response["violations"]

    assert [(rule["id"], rule["nodes"][0]["html"][:90]) for rule in found] == []


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_words_on_a_line_do_not_cover_each_other(board: Page, width: int, height: int) -> None:
    board.set_viewport_size({"width": width, "height": height})

    covered = board.evaluate(
        """() => [...document.querySelectorAll('svg.picture')].flatMap((picture) => {
            const boxes = [...picture.querySelectorAll('text.label')]
                .map((label) => label.getBoundingClientRect()).filter((box) => box.width);
            return boxes.filter((a, i) => boxes.some((b, j) =>
                j > i && a.left < b.right && b.left < a.right)).map((box) => box.left);
        })"""
    )

    assert board.locator("svg.picture text.label:visible").count() > 2
    assert covered == []


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_why_promises_are_short_is_a_line_on_a_phone_and_stands_open_elsewhere(
    board: Page, width: int, height: int
) -> None:
    late = timezone.now() + dt.timedelta(days=60)
    for job in Job.objects.filter(number__in=("217", "219")):
        JobPlanned.objects.create(
            job=job, leaves_at=late, early=late, likely=late, late=late, chance=0.1,
            held_by="people", held_words="waits for people", derived_at=timezone.now(),
        )  # fmt: skip
    readiness.rebuild()
    board.set_viewport_size({"width": width, "height": height})
    board.reload()

    line = board.locator(".why-short > summary")
    words = board.get_by_text("because all jobs share the tables")
    if width > 640:
        expect(line).to_be_hidden()
        expect(words).to_be_visible()
    else:
        expect(words).to_be_hidden()
        assert line.bounding_box()["height"] < 50  # a line
        line.click()
        expect(words).to_be_visible()
        assert sideways(board) == 0


@pytest.mark.parametrize(("width", "height", "least"), [(1280, 800, 4), (390, 844, 1)])
def test_jobs_are_on_the_first_screen(board: Page, width: int, height: int, least: int) -> None:
    for name in ("Finishing room", "Spray booth"):
        factories.make_room(name)
    cast(list(Piece.objects.filter(job__number="218")))
    readiness.rebuild()
    board.set_viewport_size({"width": width, "height": height})
    board.reload()

    bottoms = board.evaluate(
        "[...document.querySelectorAll('article.job')].map((e) => e.getBoundingClientRect().bottom)"
    )

    assert sum(bottom <= height for bottom in bottoms) >= least


def test_reasons_that_are_folded_away_are_printed_too(board: Page) -> None:
    short = factories.make_job("221", promised_on=timezone.now().astimezone(ZONE).date())
    factories.make_mark(factories.make_piece(short), "cast", timezone.now())
    readiness.rebuild()
    board.reload()
    expect(board.locator("#standing-others li")).to_have_count(1)
    expect(board.locator("#standing-others li")).to_be_hidden()

    (page,) = PdfReader(io.BytesIO(board.pdf(prefer_css_page_size=True))).pages

    assert len(re.findall(r"\bsince \w{3} \d", page.extract_text())) == 2


def test_a_change_shows_without_anybody_touching_the_page(board: Page) -> None:
    expect(board.locator("#job-221")).to_have_count(0)

    cast([factories.make_piece(factories.make_job("221", promised_on=None))])
    readiness.rebuild()

    expect(board.locator("#job-221")).to_be_visible(timeout=12_000)


def test_an_opened_table_stays_open_when_the_week_is_drawn_anew(board: Page) -> None:
    board.locator("#week-table summary").click()

    cast([factories.make_piece(factories.make_job("221", promised_on=None))])
    readiness.rebuild()

    expect(board.locator("#week-table").get_by_text("221-A")).to_be_visible(timeout=12_000)


def test_a_lost_connection_is_said_softly_and_forgotten_when_it_is_back(board: Page) -> None:
    def refuse(route: Route) -> None:
        route.abort()

    board.route("**/board/pulse/**", refuse)
    expect(board.locator("#offline")).to_contain_text("No connection since", timeout=12_000)
    expect(board.locator("#trouble")).to_be_hidden()

    board.unroute("**/board/pulse/**", refuse)
    expect(board.locator("#offline")).to_be_hidden(timeout=12_000)


def test_a_job_opens_and_closes_in_place_and_the_address_says_so(board: Page) -> None:
    board.locator("#open-217").click()
    expect(board.locator("#pieces-217")).to_be_visible()
    expect(board).to_have_url(re.compile("open=217"))

    board.locator("#open-217").click()
    expect(board.locator("#pieces-217")).to_have_count(0)
    board.go_back()
    expect(board.locator("#pieces-217")).to_be_visible()


def test_filters_work_with_the_keyboard_and_stay_in_the_address(board: Page) -> None:
    board.locator("#state-short").press("Space")

    expect(board.locator("#job-217")).to_have_count(0)
    expect(board.locator("#job-219")).to_be_visible()
    expect(board).to_have_url(re.compile("state=short"))
    expect(board.locator("#state-short")).to_be_focused()


def test_the_effect_follows_what_is_chosen_and_a_tap_saves_it(board: Page, live_server) -> None:
    job = readiness.outlook_of("218")
    late = (job.latest_cast + dt.timedelta(days=2)).astimezone(ZONE)
    board.goto(f"{live_server.url}/board/casts/new/")

    board.get_by_label("218-A").check()
    expect(board.locator("#effect")).to_contain_text("This cast keeps 218")
    board.get_by_label("date").fill(f"{late:%Y-%m-%d}")
    board.get_by_label("date").blur()
    expect(board.locator("#effect")).to_contain_text("This cast makes 218")
    expect(board.locator("#effect")).to_contain_text("latest cast")
    assert not Batch.objects.exists()

    board.get_by_role("button", name="Set the cast").click()
    expect(board.locator("#messages")).to_contain_text("Cast set for")
    assert Batch.objects.count() == 1


def test_the_week_can_be_used_without_scripts(browser: Browser, live_server, owner: Person) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    come_in(context, live_server, owner)
    page.goto(f"{live_server.url}/board/")

    page.locator("label.state", has_text="short").click()
    expect(page.locator("#state-short")).to_be_checked()
    page.get_by_role("button", name="Show", exact=True).click()
    expect(page.locator("article.job")).to_have_count(1)
    page.locator("#open-219").click()
    expect(page.locator("#pieces-219")).to_be_visible()
    page.goto(f"{live_server.url}/board/casts/new/")
    page.get_by_label("218-A").check()
    page.get_by_role("button", name="Show the effect").click()
    expect(page.locator("#effect")).to_contain_text("This cast keeps 218")
    context.close()


def test_the_week_fits_one_printed_sheet(board: Page) -> None:

    pages = PdfReader(io.BytesIO(board.pdf(prefer_css_page_size=True))).pages

    assert len(pages) == 1
    assert pages[0].mediabox.width > pages[0].mediabox.height
