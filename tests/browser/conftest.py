from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Browser, BrowserContext, Page, expect

from jobs.models import Piece
from jobs.services import readiness
from shop.models import Person, Role, WorkingHours
from tests import factories
from tests.browser.phones import fill_in_form, soon
from tests.browser.visits import PHONE, come_in
from tests.factories import HOUR, make_job, make_mark, make_piece


@pytest.fixture
def crew(transactional_db: None) -> Person:
    """One of a crew that is always on shift."""
    factories.make_shop()
    for weekday in range(7):
        WorkingHours.objects.create(
            weekday=weekday, starts=dt.time(0), ends=dt.time(23, 59, 59), people=3
        )
    return factories.make_person(Role.CREW, name="Ben Carrow")


@pytest.fixture
def piece(crew: Person) -> Piece:
    """Cast three days ago: it may be demolded now."""
    made = make_piece(make_job("217", soon()), "B")
    make_mark(made, "cast", timezone.now() - 72 * HOUR, by=crew)
    readiness.rebuild()
    return made


@pytest.fixture
def phone(browser: Browser, live_server: Any) -> Iterator[BrowserContext]:
    context = browser.new_context(base_url=live_server.url, **PHONE)
    context.set_default_timeout(15_000)
    yield context
    context.close()


@pytest.fixture
def opened(phone: BrowserContext, live_server: Any) -> Callable[..., Page]:
    def sign_in(person: Person, *, by_form: bool = False) -> Page:
        if not by_form:
            come_in(phone, live_server, person)
        page = phone.new_page()
        page.goto("/floor/")
        if by_form:
            fill_in_form(page, person)
        expect(page.locator("#floor-list")).to_be_visible()
        page.wait_for_load_state("load")  # before that a tap is a plain form's
        return page

    return sign_in
