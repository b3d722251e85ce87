"""Weighing a piece on a phone, a day apart, until its coat is free."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Browser, Page, expect

from jobs.models import Piece, Weighing
from jobs.services import readiness
from shop.models import Person
from tests import factories
from tests.browser.visits import PHONE, signed_in
from tests.factories import DAY, HOUR, make_job, make_mark, make_piece

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def washed(crew: Person) -> Piece:
    """Washed three days ago: the scale is to say when its first coat may go on."""
    promised = timezone.localdate() + dt.timedelta(days=20)
    piece = make_piece(make_job("217", promised), "B", route=factories.make_weighing_route())
    for step, ago in {"cast": 8, "demold": 7, "grind": 6, "fill": 5, "hone": 3}.items():
        make_mark(piece, step, timezone.now() - ago * DAY, by=crew)
    readiness.rebuild()
    return piece


@pytest.fixture
def page(browser: Browser, live_server: Any, crew: Person, washed: Piece) -> Iterator[Page]:
    page = signed_in(browser, live_server, crew, "/floor/", PHONE)
    expect(page.locator("#floor-list")).to_be_visible()
    page.wait_for_load_state("load")  # before that a tap is a plain form's
    yield page
    page.context.close()


def coat_of(piece: Piece) -> Any:
    outlook = readiness.outlook_of(piece.job.number)
    assert outlook is not None
    return next(step for step in outlook.pieces[0].steps if step.key == "seal-1")


def test_two_weights_a_day_apart_free_the_coat(page: Page, washed: Piece) -> None:
    card = page.locator("#piece-217-B")
    expect(card).to_contain_text("Not weighed since its last wetting.")
    before = coat_of(washed)

    # Yesterday's weight, from the note by the scale.
    yesterday = (timezone.now() - 25 * HOUR).astimezone(factories.make_shop().zone)
    card.get_by_label("Weight", exact=True).fill("128.5")
    card.get_by_text("Weighed earlier?").tap()
    card.get_by_label("date").first.fill(f"{yesterday:%Y-%m-%d}")
    card.get_by_label("time").first.fill(f"{yesterday:%H:%M}")
    card.get_by_role("button", name="Record with this time").tap()
    expect(card).to_contain_text("Recorded: 217-B weighs 128.5 lb")
    expect(card).to_contain_text("Weigh it again a day later")

    # Kilograms by mistake: it asks, and what was typed stays.
    page.wait_for_timeout(800)  # a glove bounces: the card takes no tap just after a swap
    card.get_by_label("Weight", exact=True).fill("58.2")
    card.get_by_role("button", name="Record the weight").tap()
    expect(card).to_contain_text("but 217-B weighed 128.5 lb before")
    expect(card.get_by_label("Weight", exact=True)).to_have_value("58.2")

    # 0.1 lb of 128.5 in a day is 0.08 %: under the limit of 0.15 %.
    card.get_by_label("Weight", exact=True).fill("128.4")
    card.get_by_role("button", name="Record the weight").tap()
    expect(card).to_contain_text("under the limit of 0.15 %: dry.")

    after = coat_of(washed)
    assert Weighing.objects.count() == 2
    assert before.earliest > timezone.now() + 20 * HOUR
    assert after.earliest <= timezone.now() + HOUR / 60  # whole minutes, rounded up

    page.goto("/floor/pieces/217-B/")
    expect(page.locator("body")).to_contain_text("under the limit")
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    found = Axe().run(page).response["violations"]
    assert [(one["id"], one["nodes"][0]["html"][:90]) for one in found] == []


def test_a_weight_without_signal_is_kept_and_sent_once(page: Page, washed: Piece) -> None:
    card = page.locator("#piece-217-B")
    page.context.set_offline(True)
    card.get_by_label("Weight", exact=True).fill("128.5")
    card.get_by_role("button", name="Record the weight").tap()
    expect(page.locator("#kept")).to_contain_text("217-B · weight · 128.5 lb")
    assert not Weighing.objects.exists()
    page.context.set_offline(False)
    expect(page.locator("#kept-rows li")).to_have_count(0)
    assert Weighing.objects.count() == 1
