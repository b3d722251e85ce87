"""The office's date for a new job, and a short promise that is made to hold, in a real Chromium."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.db import transaction
from django.utils import timezone
from playwright.sync_api import Browser, Page, expect

from jobs.models import Job, PlanAccepted, PlanRun
from jobs.planning.rescue import Effort
from jobs.services import planned_shop, rescue_work
from jobs.services.plan_mix import raw_of
from jobs.services.plan_taking import write
from jobs.services.planned_shop import leaves_at
from jobs.services.readiness import rebuild
from jobs.shapes.outlines import Rectangle
from jobs.shapes.shape import Shape
from jobs.shapes.stored import write as write_shape
from shop.models import CastingTable, Person, Role, Worker
from tests import factories
from tests.browser.visits import come_in
from tests.factories import NOW, make_customer, make_job, make_piece

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

TODAY = dt.date(2026, 3, 18)
SLAB = write_shape(Shape(Rectangle(2.4, 0.625)))  # the table takes one at a time
PHONE = {"viewport": {"width": 390, "height": 844}}
DESK = {"viewport": {"width": 1280, "height": 800}}


@pytest.fixture
def owner(live_server: Any, monkeypatch: pytest.MonkeyPatch) -> Person:
    monkeypatch.setattr(timezone, "now", lambda: NOW)
    factories.make_shop()
    factories.make_working_week()
    planned_shop.forget()
    CastingTable.objects.create(
        name="Table 1", room=factories.make_room(), length_m=2.8, width_m=0.95
    )
    for name in ("Ada Quill", "Ben Carrow", "Iris Holm"):
        Worker.objects.create(name=name)
    factories.make_person(Role.OFFICE, email="office@example.com")
    return factories.make_person(Role.OWNER, email="owner@example.com")


@pytest.fixture
def short(owner: Person) -> Job:
    """217 stands in the plan behind 218, which can wait; then its promise comes nearer."""
    far = TODAY + dt.timedelta(days=60)
    for number, day in (("218", far - dt.timedelta(days=1)), ("217", far)):
        make_piece(make_job(number, day, customer=make_customer()), area_m2=1.5, shape=SLAB)
    rebuild()
    shop = planned_shop.planned_shop(NOW)
    plan, read = shop.plan, shop.read
    with transaction.atomic():
        write(read, raw_of(read, plan), set(plan.finish), by=owner, now=NOW, whole=True)
    late = leaves_at(shop, "218", rescue_work.range_of(read.problem, plan, shop.doubt, "218").late)
    assert late is not None
    Job.objects.filter(number="218").update(promised_on=far)
    Job.objects.filter(number="217").update(promised_on=late.date() + dt.timedelta(days=1))
    rebuild()
    return Job.objects.get(number="217")


@pytest.fixture
def pages(browser: Browser, live_server: Any) -> Iterator[Any]:
    contexts = []

    def opened(email: str, **options: Any) -> Page:
        context = browser.new_context(base_url=live_server.url, **options)
        context.set_default_timeout(60_000)
        contexts.append(context)
        come_in(context, live_server, Person.objects.get(email=email))
        return context.new_page()

    yield opened
    for context in contexts:
        context.close()


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_the_office_says_a_day_while_the_customer_waits(
    owner: Person, pages: Any, size: dict[str, Any]
) -> None:
    for make in (factories.make_mix, factories.make_route, factories.make_sealer):
        make()
    page = pages("office@example.com", **size)
    page.goto("/office/")
    page.get_by_role("link", name="A date for a new job").click()
    page.get_by_label("What it is").fill("Bar top")
    page.get_by_label("Size or area").fill("big")
    page.get_by_label("The day wished").fill((TODAY + dt.timedelta(days=3)).isoformat())
    page.get_by_role("button", name="What day can be said?").click()
    expect(page.get_by_text("'big' is not a number")).to_be_visible()
    expect(page.get_by_label("What it is")).to_have_value("Bar top")
    page.get_by_label("Size or area").fill("60 x 25")
    page.get_by_role("button", name="What day can be said?").click()
    answer = page.locator("#answer")
    expect(answer).to_contain_text("You can say")
    expect(answer).to_contain_text("does not hold")
    expect(page.locator(".other-ways")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    assert Axe().run(page).violations_count == 0
    answer.get_by_role("link", name="Take the job on").click()
    expect(page.locator(".carried")).to_contain_text("Bar top")
    page.get_by_label("What it is").fill("Bar")
    page.locator("[name=new-name]").fill("Nils Abernoth")
    page.get_by_role("button", name="Take the job on").click()
    expect(page.get_by_text("is taken on with its pieces")).to_be_visible()
    assert Job.objects.get(title="Bar").pieces.count() == 1


def test_taking_a_rescue_makes_the_promise_hold(short: Job, pages: Any) -> None:
    page = pages("owner@example.com", **DESK)
    page.goto("/office/jobs/217/rescue/")
    page.get_by_role("button", name="Look for what would make it hold").click()
    expect(page.locator(".looking")).to_be_visible()
    run = PlanRun.objects.get(about=short)
    rescue_work.rescue_job(run.pk, Effort(rounds=2, polish=1))
    first = (
        page.locator(".rescue-try")
        .filter(has_text="217")
        .filter(has=page.get_by_role("button", name="Take this"))
    )
    expect(first.first).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    assert Axe().run(page).violations_count == 0
    first.first.get_by_role("button", name="Take this").click()
    expect(page.get_by_text("holds by the plan")).to_be_visible()
    assert PlanAccepted.objects.filter(run=run).exists()
    rebuild()
    case = rescue_work.Case.of(planned_shop.planned_shop(NOW), "217")
    due = next(job.due for job in case.shop.read.problem.jobs if job.name == "217")
    assert case.range.late <= due
