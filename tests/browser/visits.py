"""How browser tests come in: the two sizes, and a page opened by somebody who is signed in."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Page

from shop.models import Person

PHONE: dict[str, Any] = {
    "viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True,
}  # fmt: skip
DESK: dict[str, Any] = {"viewport": {"width": 1280, "height": 800}}
SIZES = {"phone": PHONE, "desk": DESK}


def come_in(context: BrowserContext, live_server: Any, person: Person) -> None:
    """Signed in before: the form itself is filled in on the shared tablet, in the main job and on
    the floor without scripts."""
    client = Client()
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    name = settings.SESSION_COOKIE_NAME
    cookie = {"name": name, "value": client.cookies[name].value, "url": live_server.url}
    context.add_cookies([cookie])
    # The first page has the server read all of its code: that takes a busy machine longer.
    context.set_default_navigation_timeout(60_000)


def signed_in(
    browser: Browser, live_server: Any, person: Person, path: str, size: dict[str, Any]
) -> Page:
    """In a context of its own, which the test closes or leaves to the browser."""
    context = browser.new_context(base_url=live_server.url, **size)
    context.set_default_timeout(20_000)
    come_in(context, live_server, person)
    page = context.new_page()
    page.goto(path)
    return page
