"""One tablet, several people: what the last one was shown is gone for the next."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from jobs.services import readiness
from shop.models import Person, Role
from tests import factories

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def tablet(browser: Browser, live_server: Any) -> Iterator[BrowserContext]:
    context = browser.new_context(
        base_url=live_server.url, viewport={"width": 820, "height": 1180}, has_touch=True
    )
    context.set_default_timeout(15_000)
    yield context
    context.close()


@pytest.fixture
def job() -> Any:
    factories.make_shop()
    factories.make_working_week()
    made = factories.make_job("217", None, customer=factories.make_customer("Ada Fenwick-Lowe"))
    factories.make_piece(made)
    readiness.rebuild()
    return made


def sign_in(page: Page, person: Person) -> None:
    page.get_by_label("E-mail").fill(person.email)
    page.get_by_label("Password").fill(factories.PASSWORD)
    page.locator("main button").click()
    expect(page.locator("nav.self")).to_contain_text(person.name)


def test_paging_back_after_signing_out_shows_nothing_of_the_office(
    tablet: BrowserContext, job: Any
) -> None:
    page = tablet.new_page()
    page.goto("/office/")
    sign_in(page, factories.make_person(Role.OFFICE))
    page.goto("/office/jobs/217/")
    expect(page.locator("main")).to_contain_text("Ada Fenwick-Lowe")
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_label("E-mail")).to_be_visible()
    page.go_back()
    expect(page.get_by_label("E-mail")).to_be_visible()
    assert "Ada Fenwick-Lowe" not in page.content()


def test_kept_pages_go_when_a_session_ends_before_the_next_person_signs_in(
    tablet: BrowserContext, job: Any
) -> None:
    page = tablet.new_page()
    page.goto("/floor/")
    sign_in(page, factories.make_person(Role.CREW, name="Ben Carrow"))
    expect(page.locator("html")).to_have_attribute("data-offline-ready", "yes", timeout=20_000)
    assert page.evaluate("caches.has('floor')")
    tablet.clear_cookies(name="sessionid")
    page.goto("/sign-in/?next=/floor/")
    page.wait_for_load_state("networkidle")
    assert not page.evaluate("caches.has('floor')")
    sign_in(page, factories.make_person(Role.CREW, name="Ida Marsh"))
    expect(page.locator("#kept")).to_have_attribute("data-person", str(_person("Ida Marsh")))


def test_kept_pages_stay_for_their_own_person(tablet: BrowserContext, job: Any) -> None:
    page = tablet.new_page()
    page.goto("/floor/")
    sign_in(page, factories.make_person(Role.CREW))
    expect(page.locator("html")).to_have_attribute("data-offline-ready", "yes", timeout=20_000)
    page.goto("/board/")
    page.wait_for_load_state("networkidle")
    assert page.evaluate("caches.has('floor')")


def _person(name: str) -> int:
    return Person.objects.get(name=name).pk
