"""The floor in a real Chromium at the size of a phone, with touch, and without signal."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import BrowserContext, Page, expect

from jobs.models import Mark, Piece
from jobs.services import readiness
from shop.models import Person, Role
from tests import factories
from tests.browser.phones import (
    card,
    done,
    fill_in_form,
    kept_without_signal,
    ready_without_signal,
    soon,
    stop_the_clock,
)
from tests.browser.visits import DESK, PHONE, come_in
from tests.factories import HOUR, make_batch, make_job, make_mark, make_person, make_piece

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def green(crew: Person) -> Piece:
    made = make_piece(make_job("218", soon()), "A")
    make_mark(made, "cast", timezone.now() - 2 * HOUR, by=crew)
    readiness.rebuild()
    return made


def settle(page: Page) -> None:
    """A bounce of the glove is ignored for a moment after a swap; a person is slower than that."""
    expect(page.locator("html")).not_to_have_attribute("data-settling", "yes")


def grave_barriers(page: Page) -> list[Any]:
    found = Axe().run(page).response["violations"]
    grave = [rule for rule in found if rule["impact"] in {"serious", "critical"}]
    return [(rule["id"], [node["html"] for node in rule["nodes"]]) for rule in grave]


def test_one_tap_marks_and_the_next_takes_it_back(opened, crew, piece):
    page = opened(crew)
    card(page, "217-B").get_by_role("button", name="Mark demolded").tap()
    expect(card(page, "217-B")).to_contain_text("Recorded: demold and flip")
    assert len(done(piece)) == 1
    settle(page)
    card(page, "217-B").get_by_role("button", name="Take back").tap()
    expect(card(page, "217-B")).to_contain_text("Taken back")
    expect(card(page, "217-B").get_by_role("button", name="Mark demolded")).to_be_visible()
    assert Mark.objects.filter(kind=Mark.Kind.STRUCK).count() == 1


def test_a_bouncing_glove_marks_once_and_takes_nothing_back(opened, crew, piece):
    page = opened(crew)
    page.evaluate(
        """() => { document.addEventListener('htmx:afterSettle', () => {
             const button = document.querySelector('#piece-217-B .recorded button');
             if (button) button.click(); }); }"""
    )
    card(page, "217-B").get_by_role("button", name="Mark demolded").tap()
    expect(card(page, "217-B")).to_contain_text("Recorded")
    page.wait_for_load_state("networkidle")
    assert len(done(piece)) == 1
    assert not Mark.objects.filter(kind=Mark.Kind.STRUCK).exists()


def test_an_early_step_asks_why_and_keeps_what_was_typed(opened, crew, green):
    page = opened(crew)
    entry = card(page, "218-A")
    entry.get_by_text("Conditions, cautions, done already, hold").tap()
    entry.get_by_role("button", name="Mark demolded").tap()
    expect(entry.get_by_role("alert")).to_contain_text("Not before")
    assert not done(green)
    entry.get_by_label("Why").fill("Form was leaking")
    entry.get_by_role("button", name="Mark it all the same").tap()
    expect(entry).to_contain_text("Before its time")
    (mark,) = done(green)
    assert mark.reason == "Form was leaking"
    assert mark.early_before > timezone.now()


def test_a_whole_batch_is_cast_at_once_with_its_water_in_time(opened, crew):
    job = make_job("219", soon())
    batch = make_batch(
        make_piece(job, "A"), make_piece(job, "B"), planned_for=timezone.now() + HOUR
    )
    readiness.rebuild()
    page = opened(crew)
    entry = page.locator(f"#batch-{batch.pk}")
    entry.get_by_text("Water in earlier?").tap()
    day = timezone.localtime(timezone.now() - 24 * HOUR, factories.make_shop().zone)
    entry.get_by_label("date").fill(day.date().isoformat())
    entry.get_by_label("time").fill("14:10")
    entry.get_by_role("button", name="Mark with this time").tap()
    expect(entry).to_contain_text("2 pieces cast, water in")
    local = {m.happened_at.astimezone(day.tzinfo).strftime("%H:%M") for m in batch.marks.all()}
    assert local == {"14:10"}
    assert batch.marks.count() == 2


def test_a_mark_without_signal_is_kept_and_arrives_exactly_once(opened, phone, crew, piece):
    page = opened(crew)
    ready_without_signal(page)
    phone.set_offline(True)
    card(page, "217-B").get_by_role("button", name="Mark demolded").tap()
    expect(page.locator("#kept")).to_contain_text("217-B · demold and flip")
    expect(card(page, "217-B")).to_contain_text("Kept on this phone, not sent yet.")
    expect(card(page, "217-B").get_by_role("button", name="Mark demolded")).to_be_hidden()
    assert not done(piece)

    page.reload()
    expect(page.locator("#kept")).to_contain_text("217-B · demold and flip")
    expect(card(page, "217-B")).to_contain_text("Kept on this phone, not sent yet.")

    phone.set_offline(False)
    expect(page.locator("#kept")).to_be_hidden()
    expect(card(page, "217-B")).to_contain_text("Recorded: demold and flip")
    assert len(done(piece)) == 1


def test_signal_that_comes_back_while_a_try_fails_has_another_follow(opened, phone, crew, piece):
    phone.clock.install()
    page = opened(crew)
    kept_without_signal(page, phone)
    on_their_way: list[Any] = []

    def hold(route: Any) -> None:
        on_their_way.append(route)

    page.route("**/floor/token/", hold, times=1)
    with page.expect_request("**/floor/token/"):
        page.reload()
    stop_the_clock(page)
    expect(page.locator("#kept")).to_contain_text("217-B · demold and flip")
    phone.set_offline(False)
    expect(page.locator(".kept-state")).to_be_hidden()  # the page was told of it
    on_their_way[0].abort("internetdisconnected")
    expect(page.locator("#kept")).to_be_hidden()
    assert len(done(piece)) == 1


def test_signal_that_carries_nothing_yet_is_tried_again_soon(opened, phone, crew, piece):
    phone.clock.install()
    page = opened(crew)
    kept_without_signal(page, phone)
    stop_the_clock(page)
    page.route("**/floor/token/", lambda route: route.abort("namenotresolved"), times=1)
    with page.expect_event("requestfailed"):
        phone.set_offline(False)
    expect(page.locator("#kept")).to_contain_text("217-B · demold and flip")
    page.evaluate("navigator.locks.request('floor-send', () => null)")  # that try is over
    assert not done(piece)
    page.clock.run_for(1_000)
    expect(page.locator("#kept")).to_be_hidden()
    assert len(done(piece)) == 1


def test_a_try_that_hangs_gives_way_to_the_next(opened, phone, crew, piece):
    phone.clock.install()
    page = opened(crew)
    kept_without_signal(page, phone)
    stop_the_clock(page)
    page.route("**/floor/token/", lambda route: None, times=1)  # never answered
    with page.expect_request("**/floor/token/"):
        phone.set_offline(False)
    page.get_by_role("button", name="Send now").tap()
    expect(page.locator("#kept")).to_contain_text("217-B · demold and flip")
    page.clock.run_for(12_000)
    expect(page.locator("#kept")).to_be_hidden()
    assert len(done(piece)) == 1


def test_a_mark_that_is_only_kept_is_taken_back_on_the_phone(opened, phone, crew, piece):
    page = opened(crew)
    ready_without_signal(page)
    phone.set_offline(True)
    card(page, "217-B").get_by_role("button", name="Mark demolded").tap()
    page.locator("#kept").get_by_role("button", name="Take back").tap()
    expect(page.locator(".kept-row")).to_have_count(0)
    expect(card(page, "217-B").get_by_role("button", name="Mark demolded")).to_be_visible()
    phone.set_offline(False)
    expect(page.locator("#kept")).to_be_hidden()
    assert not done(piece)


def test_a_request_that_hangs_is_kept_and_sent_again(opened, crew, piece):
    page = opened(crew)
    page.evaluate("htmx.config.timeout = 300")
    page.route("**/mark/", lambda route: None, times=1)  # never answered
    card(page, "217-B").get_by_role("button", name="Mark demolded").tap()
    expect(page.locator("#kept")).to_contain_text("217-B · demold and flip")
    page.get_by_role("button", name="Send now").tap()
    expect(page.locator("#kept")).to_be_hidden()
    assert len(done(piece)) == 1


def test_an_answer_that_got_lost_does_not_make_a_second_mark(opened, phone, crew, piece):
    page = opened(crew)
    lost = []

    def lose_the_answer(route: Any) -> None:
        route.fetch()
        lost.append(route.request.url)
        route.abort("connectionreset")

    page.route("**/mark/", lose_the_answer, times=1)
    card(page, "217-B").get_by_role("button", name="Mark demolded").tap()
    expect(page.locator("#kept")).to_contain_text("217-B · demold and flip")
    assert lost
    assert len(done(piece)) == 1
    page.get_by_role("button", name="Send now").tap()
    expect(page.locator("#kept")).to_be_hidden()
    assert len(done(piece)) == 1


def test_a_kept_mark_that_is_refused_comes_back_with_its_reason(opened, phone, crew, piece):
    other = make_person(Role.CREW, name="Ida Marsh")
    page = opened(crew)
    ready_without_signal(page)
    phone.set_offline(True)
    card(page, "217-B").get_by_role("button", name="Mark demolded").tap()
    expect(page.locator("#kept")).to_contain_text("not sent yet")
    bar = page.locator(".jump [data-kept]")  # seen wherever the list is scrolled to
    expect(bar).to_have_text("1 On this phone")
    expect(bar).not_to_have_class("refused")
    make_mark(piece, "demold", timezone.now() - HOUR, by=other)
    phone.set_offline(False)
    expect(page.locator("#kept")).to_contain_text("already marked by Ida Marsh")
    expect(bar).to_have_class("refused")
    page.reload()
    expect(page.locator("#kept")).to_contain_text("already marked by Ida Marsh")
    assert grave_barriers(page) == []
    page.once("dialog", lambda dialog: dialog.accept())
    page.get_by_role("button", name="Throw away").tap()
    expect(page.locator("#kept")).to_be_hidden()
    expect(bar).to_be_hidden()
    assert [mark.by for mark in done(piece)] == [other]


def test_a_kept_mark_too_early_is_sent_again_with_a_reason(opened, phone, crew, green):
    page = opened(crew)
    ready_without_signal(page)
    phone.set_offline(True)
    card(page, "218-A").get_by_text("Conditions, cautions, done already, hold").tap()
    card(page, "218-A").get_by_role("button", name="Mark demolded").tap()
    expect(page.locator("#kept")).to_contain_text("218-A · demold and flip")
    phone.set_offline(False)
    expect(page.locator("#kept")).to_contain_text("Not before")
    page.locator("#kept").get_by_label("Why").fill("Form was leaking")
    page.get_by_role("button", name="Send with this reason").tap()
    expect(page.locator("#kept")).to_be_hidden()
    assert [mark.reason for mark in done(green)] == ["Form was leaking"]


def test_a_phone_signed_out_meanwhile_keeps_the_mark_and_says_so(opened, phone, crew, piece):
    page = opened(crew)
    ready_without_signal(page)
    phone.set_offline(True)
    card(page, "217-B").get_by_role("button", name="Mark demolded").tap()
    expect(page.locator("#kept")).to_contain_text("not sent yet")
    phone.clear_cookies(name="sessionid")
    phone.set_offline(False)
    expect(page.locator("#kept")).to_contain_text("You are signed out")
    assert not done(piece)
    page.locator("#kept").get_by_role("link", name="Sign in").click()
    fill_in_form(page, crew)
    expect(card(page, "217-B")).to_contain_text("Recorded")
    assert len(done(piece)) == 1


def test_another_person_on_the_tablet_does_not_send_it_as_theirs(opened, phone, crew, piece):
    page = opened(crew)
    ready_without_signal(page)
    phone.set_offline(True)
    card(page, "217-B").get_by_role("button", name="Mark demolded").tap()
    expect(page.locator("#kept")).to_contain_text("not sent yet")
    page.close()
    phone.clear_cookies(name="sessionid")
    phone.set_offline(False)
    page = opened(make_person(Role.CREW, name="Ida Marsh"), by_form=True)
    expect(page.locator("#kept")).to_contain_text("Kept for another person")
    page.wait_for_load_state("networkidle")
    assert not done(piece)


def test_the_floor_opens_without_signal_and_not_after_signing_out(opened, phone, crew, piece):
    page = opened(crew)
    ready_without_signal(page)
    phone.set_offline(True)
    page.reload()
    expect(card(page, "217-B")).to_be_visible()
    expect(page.locator("#kept")).to_contain_text("No signal")
    phone.set_offline(False)
    page.reload()
    expect(page.locator("#kept")).to_be_hidden()
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_label("E-mail")).to_be_visible()
    assert page.evaluate("caches.has('floor')") is False


def test_another_phones_mark_shows_up_by_itself_but_never_under_a_form(opened, crew, piece, green):
    page = opened(crew)
    page.evaluate("window.touched = false")
    card(page, "218-A").get_by_text("Conditions, cautions, done already, hold").tap()
    card(page, "218-A").get_by_label("Why").first.fill("half a word")
    make_mark(piece, "demold", timezone.now(), by=make_person(Role.CREW, name="Ida Marsh"))
    page.evaluate("htmx.trigger('#floor-list', 'refresh')")
    page.wait_for_load_state("networkidle")
    expect(card(page, "218-A").get_by_label("Why").first).to_have_value("half a word")
    card(page, "218-A").get_by_label("Why").first.fill("")
    card(page, "218-A").get_by_text("Conditions, cautions, done already, hold").tap()
    page.evaluate("document.activeElement.blur(); htmx.trigger('#floor-list', 'refresh')")
    expect(page.locator("#done")).to_contain_text("Ida Marsh")


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_no_serious_barrier_and_no_sideways_scroll(browser, live_server, crew, piece, green, size):
    make_batch(make_piece(make_job("220", soon()), "A"), planned_for=timezone.now() + HOUR)
    make_mark(green, "", kind=Mark.Kind.HOLD, reason="Hairline", by=crew)
    readiness.rebuild()
    context = browser.new_context(base_url=live_server.url, **size)
    come_in(context, live_server, crew)
    page = context.new_page()
    for path in ("/floor/", "/floor/pieces/217-B/", "/floor/pieces/218-A/"):
        page.goto(path)
        assert grave_barriers(page) == []
        width = page.evaluate("document.documentElement.scrollWidth")
        assert width <= size["viewport"]["width"]
    context.close()


def test_targets_are_big_enough_for_a_glove(opened, crew, piece, green):
    page = opened(crew)
    small = page.evaluate(
        """() => Array.from(document.querySelectorAll('main a, main button, main summary, main input, main select'))
             .filter((e) => e.type !== 'hidden' && !e.ariaHidden && e.getClientRects().length)
             .map((e) => [e.outerHTML.slice(0, 80), e.getBoundingClientRect()])
             .filter(([, box]) => box.height < 55.5).map(([html, box]) => html + ' ' + box.height)"""
    )
    assert small == []


def test_it_works_without_scripts(browser, live_server, crew, piece):
    context = browser.new_context(base_url=live_server.url, java_script_enabled=False, **PHONE)
    page = context.new_page()
    page.goto("/floor/")
    fill_in_form(page, crew)
    page.get_by_role("button", name="Mark demolded").click()
    expect(page.locator("#messages")).to_contain_text("Recorded: 217-B demold and flip")
    page.get_by_role("button", name="Take back").click()
    expect(page.locator("#messages")).to_contain_text("Taken back")
    assert Mark.objects.filter(kind=Mark.Kind.STRUCK).count() == 1
    context.close()


def test_a_demold_is_marked_with_how_it_came_out(
    opened: Callable[[Person], Page], crew: Person, piece: Piece
) -> None:
    page = opened(crew)
    soft = card(page, "217-B").get_by_role("button", name="Soft").first
    box = soft.bounding_box()
    assert box is not None
    assert box["height"] >= 56  # a thumb in a glove
    soft.tap()
    expect(card(page, "217-B")).to_contain_text("came out soft")
    assert Mark.objects.get(step_key="demold").outcome == "soft"


def test_without_signal_the_phone_keeps_how_it_came_out(
    opened: Callable[[Person], Page], phone: BrowserContext, crew: Person, piece: Piece
) -> None:
    page = opened(crew)
    phone.set_offline(True)
    card(page, "217-B").get_by_role("button", name="Broken").first.tap()
    expect(page.locator(".kept-what")).to_contain_text("Broken")
    phone.set_offline(False)
    expect(card(page, "217-B")).to_contain_text("came out broken")
    assert Mark.objects.get(step_key="demold").outcome == "broken"
