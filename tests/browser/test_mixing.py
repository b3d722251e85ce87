"""A weigh sheet on a phone: ticked with gloves, without signal, and sent exactly once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Browser, Page, expect

from jobs.models import Batch, MixerRun, Weighed
from jobs.services import readiness
from jobs.services.weigh_sheets import shown_lines
from shop.models import Person
from tests import factories
from tests.browser.visits import PHONE, signed_in
from tests.factories import HOUR, make_batch, make_job, make_piece, make_recipe

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

BOUNCE = 800  # ms in which a card takes no tap after it was swapped


@pytest.fixture
def batch(crew: Person) -> Batch:
    """To be cast within the hour, in one run of the mixer."""
    piece = make_piece(make_job("217", timezone.localdate() + dt.timedelta(days=20)), "A")
    piece.area_m2 = 1.2
    piece.save()
    made = make_batch(piece, planned_for=timezone.now() + HOUR / 2)
    make_recipe(piece.mix)
    readiness.rebuild()
    return made


@pytest.fixture
def page(browser: Browser, live_server: Any, crew: Person, batch: Batch) -> Iterator[Page]:
    page = signed_in(browser, live_server, crew, "/floor/", PHONE)
    expect(page.locator("#floor-list")).to_be_visible()
    page.wait_for_load_state("load")
    yield page
    page.context.close()


def open_sheet(page: Page, moisture: str = "3") -> None:
    page.get_by_role("link", name="Mix: runs and weigh sheets").tap()
    page.get_by_label("Silica sand: moisture today").fill(moisture)
    page.get_by_role("button", name="Open run 1").tap()
    expect(page.locator(".weigh-lines")).to_be_visible()
    page.wait_for_load_state("load")


def line(page: Page, name: str) -> Any:
    return page.locator(".weigh-line", has_text=name)


def violations(page: Page) -> list[tuple[str, str]]:
    found = Axe().run(page).response["violations"]
    return [(one["id"], one["nodes"][0]["html"][:90]) for one in found]


def test_from_the_cast_to_the_last_line_and_on_to_the_casts_mark(page: Page) -> None:
    open_sheet(page)
    run = MixerRun.objects.get()
    lines = shown_lines(run, factories.make_shop())
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    assert violations(page) == []

    # Each button is big enough for a glove.
    for button in page.locator("main button:visible, main a.button:visible").all():
        box = button.bounding_box()
        assert box is not None
        assert box["height"] >= 56, button.inner_text()

    # What is off is said while it is typed, before it is sent.
    first = line(page, lines[0].name)
    first.get_by_label("The scale shows").fill("1")
    expect(first.locator(".hint")).to_contain_text("too little")
    expect(first.get_by_role("button", name="As wanted")).to_be_disabled()
    first.get_by_label("The scale shows").fill("")
    for one in lines:
        item = page.locator(f".weigh-line.next:has-text('{one.name}')")
        item.get_by_role("button", name="As wanted").tap()
        expect(page.locator(".weigh-line.done", has_text=one.name)).to_have_count(
            len([other for other in lines if other.name == one.name and other.key <= one.key]) or 1
        )
        page.wait_for_timeout(BOUNCE)
    expect(page.locator(".tally")).to_contain_text(f"{len(lines)}/{len(lines)}")
    assert Weighed.objects.count() == len(lines)
    assert violations(page) == []

    page.get_by_role("link", name="Water is in: to the cast's mark").tap()
    expect(page.locator(f"#batch-{run.batch_id}")).to_be_in_viewport()
    expect(page.get_by_role("button", name="Mark cast, water in now")).to_be_visible()


def test_signal_lost_while_ticking(page: Page) -> None:
    open_sheet(page)
    expect(page.locator("html[data-offline-ready=yes]")).to_be_attached()
    run = MixerRun.objects.get()
    lines = shown_lines(run, factories.make_shop())
    water, polymer = lines[0], lines[1]

    page.context.set_offline(True)
    line(page, water.name).get_by_role("button", name="As wanted").tap()
    kept = line(page, water.name)
    expect(kept).to_contain_text("kept on this phone")
    expect(page.locator("#kept")).to_contain_text(
        f"217-A, run 1 · Water · As wanted: {water.amount}"
    )
    expect(page.locator(".tally")).to_contain_text("1 on this phone")

    # It goes on to the next line, where a weight is typed.
    item = line(page, polymer.name)
    typed = polymer.scale.digits(polymer.line.weigh_kg + polymer.line.step_kg)
    item.get_by_label("The scale shows").fill(typed)
    item.get_by_role("button", name="Record what it shows").tap()
    expect(page.locator("#kept")).to_contain_text(f"Acrylic polymer · {typed} {polymer.unit}")
    expect(page.locator(".tally")).to_contain_text("2 on this phone")
    assert not Weighed.objects.exists()

    # The page is opened again without signal: what is kept is still there, and shown as kept.
    page.reload()
    expect(line(page, water.name)).to_contain_text("kept on this phone")
    expect(page.locator(".kept-row")).to_have_count(2)

    # One of them is taken back on the phone.
    page.locator(".kept-row", has_text="Acrylic").get_by_role("button", name="Take back").tap()
    expect(page.locator(".kept-row")).to_have_count(1)
    expect(line(page, polymer.name)).not_to_have_class("is-kept")
    line(page, polymer.name).locator("summary").tap()
    expect(line(page, polymer.name).get_by_label("The scale shows")).to_have_value(typed)

    # Sent while a weight is being typed: that is not disturbed, and the water does not look undone.
    page.context.set_offline(False)
    expect(page.locator(".kept-row")).to_have_count(0)
    expect(line(page, water.name).locator(".flag")).to_have_text("✓ Sent.")
    line(page, polymer.name).get_by_label("The scale shows").fill("")
    line(page, polymer.name).locator("summary").tap()
    expect(page.locator(".weigh-line.done", has_text=water.name)).to_be_visible()
    row = Weighed.objects.get()
    assert row.line == water.key
    assert row.kg == pytest.approx(water.line.weigh_kg)
    expect(page.locator(".tally")).to_contain_text(f"1/{len(lines)}")


def test_an_unlikely_weight_that_was_kept_is_confirmed_without_typing_it_again(page: Page) -> None:
    open_sheet(page)
    water = shown_lines(MixerRun.objects.get(), factories.make_shop())[0]
    page.context.set_offline(True)
    item = line(page, water.name)
    item.get_by_label("The scale shows").fill("1.5")
    item.get_by_role("button", name="Record what it shows").tap()
    expect(page.locator(".kept-row")).to_have_count(1)
    page.context.set_offline(False)
    row = page.locator(".kept-row.refused")
    expect(row).to_contain_text("1.50 lb of Water, but the sheet asks for")
    assert not Weighed.objects.exists()
    row.get_by_role("button", name="It is right: send it").tap()
    expect(page.locator(".kept-row")).to_have_count(0)
    expect(page.locator(".weigh-line.done", has_text=water.name)).to_be_visible()
    assert Weighed.objects.get().kg == pytest.approx(1.5 * 0.45359237)


def test_what_is_typed_while_another_line_is_on_its_way_stays(page: Page) -> None:
    open_sheet(page)
    water, polymer = shown_lines(MixerRun.objects.get(), factories.make_shop())[:2]

    def slow(route: Any) -> None:
        page.wait_for_timeout(100)
        line(page, polymer.name).locator("summary").tap()
        line(page, polymer.name).get_by_label("The scale shows").fill("4.2")
        route.continue_()

    page.route("**/tick/", slow, times=1)
    line(page, water.name).get_by_role("button", name="As wanted").tap()
    expect(page.locator(".weigh-line.done", has_text=water.name)).to_be_visible()
    expect(line(page, polymer.name).get_by_label("The scale shows")).to_be_visible()
    expect(line(page, polymer.name).get_by_label("The scale shows")).to_have_value("4.2")


def test_a_request_that_never_comes_back_counts_once(page: Page) -> None:
    open_sheet(page)
    water = shown_lines(MixerRun.objects.get(), factories.make_shop())[0]
    # The server takes it, and the answer is lost on the way.
    lost = {"times": 0}

    def swallow(route: Any) -> None:
        lost["times"] += 1
        if lost["times"] == 1:
            route.fetch()
            route.abort()
        else:
            route.continue_()

    page.route("**/tick/", swallow)
    line(page, water.name).get_by_role("button", name="As wanted").tap()
    expect(page.locator("#kept")).to_contain_text("Water")
    page.evaluate("window.dispatchEvent(new Event('online'))")
    expect(page.locator(".kept-row")).to_have_count(0)
    assert lost["times"] == 2
    assert Weighed.objects.count() == 1
