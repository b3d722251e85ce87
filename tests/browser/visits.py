"""How browser tests come in: the two sizes, and signing in on the way to a page."""

from __future__ import annotations

from typing import Any

from playwright.sync_api import Browser, Page

from shop.models import Person
from tests.factories import PASSWORD

PHONE: dict[str, Any] = {
    "viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True,
}  # fmt: skip
DESK: dict[str, Any] = {"viewport": {"width": 1280, "height": 800}}
SIZES = {"phone": PHONE, "desk": DESK}


def signed_in(
    browser: Browser, live_server: Any, person: Person, path: str, size: dict[str, Any]
) -> Page:
    """In a context of its own, which the test closes or leaves to the browser."""
    context = browser.new_context(base_url=live_server.url, **size)
    context.set_default_timeout(20_000)
    page = context.new_page()
    page.goto(path)
    page.get_by_label("E-mail").fill(person.email)
    page.get_by_label("Password").fill(PASSWORD)
    page.locator("main form button").first.click()
    page.wait_for_url(f"**{path}")
    return page
