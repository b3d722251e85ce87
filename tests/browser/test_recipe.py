"""The recipe's form in a browser: the look while typing, rows by keyboard, both sizes."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect
from pytest_django.live_server_helper import LiveServer

from shop.models import Role
from tests.browser.visits import SIZES, signed_in
from tests.factories import make_mix, make_person, make_recipe, make_shop

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def opened(browser: Browser, live_server: LiveServer, size: str) -> Page:
    make_shop()
    owner = make_person(Role.OWNER, email="ora@example.com")
    return signed_in(browser, live_server, owner, "/shop/", SIZES[size])


@pytest.mark.parametrize("size", SIZES)
def test_a_recipe_is_looked_at_while_typing_rearranged_and_saved(
    browser: Browser, live_server: LiveServer, size: str
) -> None:
    mix = make_recipe(make_mix()).mix
    page = opened(browser, live_server, size)
    page.goto(f"/shop/mixes/{mix.pk}/recipe/")
    water = page.get_by_role("group", name="Water")
    water.get_by_label("Amount").fill("0.42")
    look = page.get_by_role("region", name="As it is typed")
    expect(look).to_contain_text("0.42, of cement alone (w/c) 0.494 beyond")

    later = page.get_by_role("button", name="Water: add it later")
    later.focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("group").nth(1)).to_contain_text("2 Water")
    expect(page.get_by_role("button", name="Water: add it later")).to_be_focused()
    expect(page.get_by_role("group", name="Water").get_by_label("Amount")).to_have_value("0.42")

    # What is not of a part is not shown: a cement has no solids and no moisture.
    cement = page.get_by_role("group", name="White cement")
    expect(cement.get_by_label("Solids, % of its weight")).to_be_hidden()
    expect(cement.get_by_label("Moisture as written, %")).to_be_hidden()

    page.get_by_role("button", name="Plasticizer: take it out").click()
    expect(page.get_by_role("group", name="Plasticizer")).to_have_count(0)
    assert not Axe().run(page).response["violations"]
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.get_by_role("button", name="Save as a new version").click()
    expect(page.get_by_text("Version 2 of the recipe is in use.")).to_be_visible()
    expect(page.get_by_text("Plasticizer is left out.")).to_be_visible()

    page.get_by_label("Moisture of Silica sand, of dry weight").fill("5")
    page.get_by_role("button", name="Work it out").click()
    expect(page.get_by_role("cell", name="100.00 lb")).to_be_visible()
    assert not Axe().run(page).response["violations"]
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
