"""What is done with a phone on the floor: cards, marks without signal, a clock that stands still."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.utils import timezone
from playwright.sync_api import BrowserContext, Page, expect

from jobs.models import Mark, Piece
from shop.models import Person
from tests import factories


def soon() -> dt.date:
    return timezone.localdate() + dt.timedelta(days=20)


def fill_in_form(page: Page, person: Person) -> None:
    page.get_by_label("E-mail").fill(person.email)
    page.get_by_label("Password").fill(factories.PASSWORD)
    page.locator("main button").click()


def card(page: Page, code: str) -> Any:
    return page.locator(f"#piece-{code}")


def done(piece: Piece, step: str = "demold") -> list[Mark]:
    return list(Mark.objects.filter(piece=piece, step_key=step, kind=Mark.Kind.DONE))


def ready_without_signal(page: Page) -> None:
    expect(page.locator("html")).to_have_attribute("data-offline-ready", "yes")


def kept_without_signal(page: Page, phone: BrowserContext) -> None:
    ready_without_signal(page)
    phone.set_offline(True)
    card(page, "217-B").get_by_role("button", name="Mark demolded").tap()
    expect(page.locator("#kept")).to_contain_text("217-B · demold and flip")


def stop_the_clock(page: Page) -> None:
    """From now on the page's timers run only where a test says so."""
    page.clock.pause_at(timezone.now() + dt.timedelta(seconds=5))
