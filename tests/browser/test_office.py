"""The office and the customer in a real Chromium: find by phone, tell a day, look, send, see it."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Browser, Page, Route, expect

from jobs.models import Job, Mail, Notice
from jobs.services.links import make_link, token_of
from jobs.services.mail import send_waiting
from jobs.services.readiness import outlook_of, rebuild
from shop.models import Role
from tests.factories import (
    HOUR,
    PASSWORD,
    make_customer,
    make_job,
    make_mark,
    make_notice,
    make_person,
    make_piece,
    make_shop,
    make_working_week,
)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

DESK = {"viewport": {"width": 1280, "height": 800}}
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}


@pytest.fixture
def job(live_server: Any, settings: Any) -> Job:
    """Cast yesterday, promised and told for tomorrow: the concrete will not keep that."""
    settings.SITE_URL = live_server.url
    make_shop(name="Ferrow Bend Thin Concrete", phone="(555) 555-0100")
    make_working_week()
    make_person(Role.OFFICE, email="office@example.com", name="Tobias Wrenfield")
    customer = make_customer("Ada Fenwick-Lowe", email="ada@example.com", phone="(555) 555-0142")
    tomorrow = timezone.localdate() + dt.timedelta(days=1)
    job = make_job("217", tomorrow, customer=customer, site="4 Quay Lane")
    make_mark(make_piece(job, "A", name="Island top"), "cast", timezone.now() - 24 * HOUR)
    make_notice(job, tomorrow, at=timezone.now() - 48 * HOUR)
    make_piece(
        make_job(
            "301",
            tomorrow + dt.timedelta(days=60),
            customer=make_customer("Nils", phone="(555) 555-0117"),
        )
    )
    rebuild()
    return job


@pytest.fixture
def screen(browser: Browser, live_server: Any) -> Iterator[Callable[..., Page]]:
    contexts = []

    def opened(**options: Any) -> Page:
        context = browser.new_context(base_url=live_server.url, **options)
        context.set_default_timeout(15_000)
        contexts.append(context)
        return context.new_page()

    yield opened
    for context in contexts:
        context.close()


def signed_in(page: Page) -> Page:
    page.goto("/sign-in/")
    page.get_by_label("E-mail").fill("office@example.com")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()
    return page


def words(day: dt.date) -> str:
    return f"{day:%A} {day.day} {day:%B}"


def test_what_is_typed_before_the_scripts_have_come_is_found(
    screen: Callable[..., Page], job: Job
) -> None:
    page = signed_in(screen(**DESK))
    held: list[Route] = []

    def hold(route: Route) -> None:
        held.append(route)

    page.route("**/htmx*.js", hold)
    page.goto("/office/", wait_until="commit")
    page.get_by_label("Find a job").press_sequentially("555.0142")
    assert len(held) == 1
    held[0].continue_()
    expect(page.get_by_role("heading", name="1 job found")).to_be_visible()
    expect(page.get_by_label("Find a job")).to_have_value("555.0142")
    expect(page.locator("#jobs")).not_to_contain_text("Nils")


@pytest.mark.parametrize("options", [DESK, PHONE], ids=["desk", "phone"])
def test_find_by_phone_tell_look_send_and_the_customer_sees_it(
    screen: Callable[..., Page], job: Job, options: dict[str, Any]
) -> None:
    page = signed_in(screen(**options))
    expect(page.get_by_role("heading", name="1 customer must be told again")).to_be_visible()
    page.get_by_label("Find a job").press_sequentially("555.0142")
    expect(page.get_by_role("heading", name="1 job found")).to_be_visible()
    expect(page.locator("#jobs")).not_to_contain_text("Nils")
    page.get_by_role("link", name="217 Kitchen island").click()
    page.get_by_role("link", name="e-mail").click()

    holds = outlook_of("217").holding_on
    later = holds + dt.timedelta(days=1)
    text = page.get_by_label("Text", exact=True)
    expect(text).to_have_value(containing(words(holds)))
    page.get_by_label("The day that is told").fill(later.isoformat())
    page.get_by_label("The day that is told").blur()
    expect(text).to_have_value(containing(words(later)))
    page.get_by_role("button", name="Look at it").last.click()
    expect(page.locator("main")).to_contain_text(f"Ada Fenwick-Lowe is told {words(later)}")
    page.get_by_role("button", name="Back to the text").click()
    expect(page.get_by_label("The day that is told")).to_have_value(later.isoformat())
    page.get_by_role("button", name="Look at it").last.click()
    page.get_by_role("button", name="Send it").click()
    expect(page.locator("main")).to_contain_text("The e-mail to ada@example.com is on its way.")
    assert Notice.objects.filter(told_on=later).count() == 1
    assert send_waiting() == 1
    assert Mail.objects.get().state == "sent"
    page.reload()
    expect(page.locator("#notices")).to_contain_text("sent")

    customer = screen(**PHONE)
    answer = customer.goto(page.get_by_label("Link to the customer’s page").input_value())
    assert answer.status == 200
    expect(customer.get_by_role("heading", level=1)).to_have_text(words(later))
    with customer.expect_download() as download:
        customer.get_by_role("link", name="Put it in your calendar").click()
    assert download.value.suggested_filename == "date.ics"


def containing(part: str) -> re.Pattern[str]:
    return re.compile(re.escape(part))


def test_it_all_works_without_scripts(screen: Callable[..., Page], job: Job) -> None:
    page = signed_in(screen(java_script_enabled=False, **DESK))
    page.get_by_label("Find a job").fill("(555) 555-0142")
    page.get_by_role("button", name="Find").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("217 Kitchen island")
    page.get_by_role("link", name="phone call").click()
    later = outlook_of("217").holding_on + dt.timedelta(days=2)
    page.get_by_label("The day that is told").fill(later.isoformat())
    page.get_by_role("button", name="Write the text for this day").click()
    expect(page.get_by_label("What to say")).to_have_value(containing(words(later)))
    page.get_by_role("button", name="Look at it").last.click()
    page.get_by_role("button", name="Told: record it").click()
    expect(page.locator("#notices")).to_contain_text("phone call")
    assert Notice.objects.filter(told_on=later, means="call").count() == 1


@pytest.mark.parametrize("options", [DESK, PHONE], ids=["desk", "phone"])
def test_every_screen_fits_and_is_readable_by_everybody(
    screen: Callable[..., Page], job: Job, options: dict[str, Any]
) -> None:
    page = signed_in(screen(**options))
    violations: list[str] = []
    page.on("console", lambda message: violations.append(message.text))
    customer = f"/p/{token_of(make_link(job_id=job.pk, by=None))}/"
    for address in [
        "/office/", "/office/?q=217x", "/office/new-job/", "/office/jobs/217/",
        "/office/jobs/217/edit/", "/office/jobs/217/new-piece/", "/office/jobs/217/tell/",
        "/office/jobs/217/tell/?means=letter", "/office/customers/", "/office/customers/new/",
        customer, "/p/nothing/",
    ]:  # fmt: skip
        page.goto(address)
        found = Axe().run(page)
        assert found.violations_count == 0, f"{address}\n{found.generate_report()}"
        too_wide = "document.documentElement.scrollWidth > document.documentElement.clientWidth"
        assert not page.evaluate(too_wide), address
    assert not [text for text in violations if "Content Security Policy" in text]
