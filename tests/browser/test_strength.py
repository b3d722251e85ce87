"""A mix's tests and curve, in a browser."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, ViewportSize, expect
from pytest_django.live_server_helper import LiveServer

from shop.models import Mix, Role, StrengthTest
from tests.browser.visits import come_in
from tests.factories import make_mix, make_person, make_shop, make_strength_test

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

SIZES: list[ViewportSize] = [{"width": 1280, "height": 800}, {"width": 390, "height": 844}]


@pytest.fixture
def opened(browser: Browser, live_server: LiveServer) -> Iterator[Callable[..., Page]]:
    """The owner at the page of a mix with a few tests."""
    contexts = []

    def open_it(size: ViewportSize, *, scripts: bool = True) -> Page:
        make_shop()
        owner = make_person(Role.OWNER, email="ora@example.com", name="Ora Lindqvist")
        mix = make_mix()
        for hours, mpa in ((12.0, 8.0), (18.0, 14.5), (24.0, 19.9), (72.0, 38.0), (168.0, 46.5)):
            make_strength_test(mix, owner, hours, strength_mpa=mpa)
        make_strength_test(mix, owner, 168.0, kind="coupon", strength_mpa=7.0)
        context = browser.new_context(
            java_script_enabled=scripts, base_url=live_server.url, viewport=size
        )
        contexts.append(context)
        come_in(context, live_server, owner)
        page = context.new_page()
        page.goto(f"/shop/mixes/{mix.pk}/tests/")
        expect(page.get_by_role("heading", level=1)).to_contain_text("tests and curve")
        return page

    yield open_it
    for context in contexts:
        context.close()


@pytest.mark.parametrize("size", SIZES, ids=["desk", "phone"])
def test_it_fits_the_screen_and_can_be_read_by_everybody(
    opened: Callable[..., Page], size: ViewportSize
) -> None:
    page = opened(size)
    drawings = page.get_by_role("img", name=re.compile("6 tests and the curves"))

    assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
    assert sum(drawing.is_visible() for drawing in drawings.all()) == 1
    page.get_by_text("The same in a table").click()
    expect(page.get_by_role("table", name=re.compile("Compressive strength"))).to_be_visible()
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


@pytest.mark.parametrize("scripts", [True, False], ids=["with scripts", "without scripts"])
def test_the_owner_enters_a_test_strikes_it_and_takes_the_curve_on_a_phone(
    opened: Callable[..., Page], scripts: bool
) -> None:
    page = opened(SIZES[1], scripts=scripts)
    page.on("dialog", lambda dialog: dialog.accept())
    page.get_by_label("Strength", exact=True).fill("6,8 MPa")
    page.get_by_label("Age then").fill("1 d")
    page.get_by_role("button", name="Enter the test").click()
    expect(page.get_by_text("Give the temperature it cured at")).to_be_visible()
    expect(page.get_by_label("Age then")).to_have_value("1 d")
    page.get_by_label("Cured at a steady").fill("68")
    page.get_by_role("button", name="Enter the test").click()
    expect(page.get_by_text("986 psi at 24 h is entered.")).to_be_visible()
    expect(page.get_by_text("was it a bad break?")).to_be_visible()

    row = page.get_by_role("row").filter(has_text="was it a bad break?")
    row.get_by_text("Strike", exact=True).click()
    row.get_by_label("Why it doesn't count").fill("chipped")
    row.get_by_role("button", name="Strike this test").click()
    expect(page.get_by_text("The test is struck")).to_be_visible()
    assert StrengthTest.objects.get(struck_because="chipped").struck_at

    page.get_by_role("button", name="Use the hyperbolic curve").click()
    expect(page.get_by_text("The hyperbolic curve is in use.")).to_be_visible()
    expect(page.get_by_text("taken from 5 tests by Ora Lindqvist")).to_be_visible()
    assert not Mix.objects.get().placeholder
