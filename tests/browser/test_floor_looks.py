"""A look at the server that takes long: what a phone shows must not go back to before its marks."""

from __future__ import annotations

from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from tests.browser.phones import card, done, kept_without_signal
from tests.factories import HOUR, make_mark, make_piece

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def slow_look(page: Page) -> tuple[Any, Any]:
    """One look at the server whose answer is made now and comes when the test lets it."""
    begun: list[Any] = []

    def hold(route: Any) -> None:
        begun.append(route)

    page.route("**/floor/?have=*", hold, times=1)
    page.evaluate("htmx.trigger('#floor-list', 'refresh')")
    while not begun:
        page.evaluate("null")
    return begun[0], begun[0].fetch()


def let_go(page: Page, held: tuple[Any, Any]) -> None:
    """The slow answer comes in, and then that of the look that follows it."""
    route, answer = held
    with page.expect_response(
        lambda later: "/floor/?have=" in later.url and later.request != route.request
    ):
        route.fulfill(response=answer)
    page.wait_for_load_state("networkidle")


def watch_buttons(page: Page) -> None:
    """Notes whether the button of a mark that was made is ever shown again."""
    page.evaluate(
        """() => { window.shownAgain = false;
             const open = '#piece-217-B form.mark[data-keep$="demold and flip"]:not(.is-kept):not(.is-sent) button';
             const look = () => { if (document.querySelector(open)) window.shownAgain = true; };
             const all = { childList: true, subtree: true, attributes: true };
             new MutationObserver(look).observe(document.body, all); }"""
    )


def test_a_look_that_a_tap_overtook_does_not_bring_its_button_back(opened, crew, piece):
    page = opened(crew)
    other = make_piece(piece.job, "C")
    make_mark(other, "cast", timezone.now() - HOUR, by=crew)  # so that the slow answer is a list
    held = slow_look(page)
    card(page, "217-B").get_by_role("button", name="Mark demolded").tap()
    expect(card(page, "217-B")).to_contain_text("Recorded: demold and flip")
    watch_buttons(page)
    let_go(page, held)
    expect(card(page, "217-B")).to_contain_text("Recorded: demold and flip")
    assert page.evaluate("window.shownAgain") is False


def test_a_look_that_a_kept_mark_overtook_does_not_bring_its_button_back(
    opened, phone, crew, piece
):
    page = opened(crew)
    kept_without_signal(page, phone)
    watch_buttons(page)
    page.route("**/floor/token/", lambda route: route.abort("namenotresolved"), times=1)
    with page.expect_event("requestfailed"):
        phone.set_offline(False)
    held = slow_look(page)  # nothing is new, and so it is answered
    page.get_by_role("button", name="Send now").tap()
    expect(page.locator("#kept")).to_be_hidden()
    assert len(done(piece)) == 1
    let_go(page, held)
    expect(card(page, "217-B")).to_contain_text("Recorded: demold and flip")
    assert page.evaluate("window.shownAgain") is False
