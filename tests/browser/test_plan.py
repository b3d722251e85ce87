"""The owner plans with a worker of its own, sees what would move, takes it, pins a cast and undoes;
a worker that is killed is said, and a second try works."""

from __future__ import annotations

import datetime as dt
import os
import re
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from playwright.sync_api import Browser, Page, expect

from jobs.models import Batch, PlannedStep, PlanRun, RunState
from jobs.services import plan_runs, plan_taking, readiness
from shop.models import Person, Role
from tests import factories, servers
from tests.browser.visits import DESK, SIZES, signed_in
from tests.jobs.planning.plan_shop import a_shop, planned

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# The first plan on a machine waits for what has to be compiled.
PATIENCE = 400_000
Worker = Callable[[], "subprocess.Popen[bytes]"]


@pytest.fixture
def owner(transactional_db: None) -> Person:
    a_shop(jobs=3, pieces=2)
    readiness.rebuild()
    reverse("plan")  # all doors are imported before a browser waits for one
    return factories.make_person(Role.OWNER, email="owner@example.com")


@pytest.fixture
def worker(program_environment: Callable[..., dict[str, str]], tmp_path: Path) -> Iterator[Worker]:
    """Starts the planner's worker as the demo does."""
    command = [sys.executable, "-m", "celery", "-A", "shop", "worker", "--pool", "solo"]
    command += ["--loglevel", "INFO", "--without-mingle", "--queues", "plan"]
    with ExitStack() as stack:

        def start() -> subprocess.Popen[bytes]:
            log = tmp_path / "planner.log"
            log.unlink(missing_ok=True)
            process = stack.enter_context(
                servers.running(command, log, environment=program_environment())
            )
            # What nobody takes within half a minute is said to be lost: it has to be up before.
            servers.wait_for(lambda: "ready." in log.read_text(), "planner that is up", 180)
            return process

        yield start


def sideways(page: Page) -> int:
    script = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    return int(page.evaluate(script))


def test_planned_looked_at_taken_pinned_and_undone(
    browser: Browser, live_server, owner: Person, worker: Worker
) -> None:
    worker()
    page = signed_in(browser, live_server, owner, "/plan/", DESK)
    expect(page.get_by_text("No plan stands yet.")).to_be_visible()
    page.get_by_role("button", name="Plan the week").click()
    expect(page.get_by_role("heading", name=re.compile("Waiting|Reading|Planning"))).to_be_visible()
    page.wait_for_url(re.compile(r"/plan/runs/\d+/"), timeout=PATIENCE)

    rows = page.locator("table.moves tbody tr")
    expect(rows).to_have_count(3)
    expect(rows.first).to_contain_text("planned for the first time")
    assert not PlannedStep.objects.exists()  # a proposal is no fact
    page.get_by_role("button", name="Take the whole plan").click()
    expect(page.get_by_text("Taken: the whole plan, 3 jobs.")).to_be_visible()

    cast = PlannedStep.objects.filter(step_key="cast").order_by("starts_at").first()
    assert cast is not None
    page.goto(f"/plan/?week={cast.starts_at.date().isoformat()}")
    expect(page.locator(".bed").first).to_be_visible()
    day = page.locator(f"#day-{cast.starts_at.date().isoformat()}")
    if not day.evaluate("e => e.open"):
        day.locator("summary").click()
    pin = day.get_by_role("button", name=re.compile(rf"^Pin cast .*{cast.piece.code}")).first
    pin.click()
    expect(page.get_by_text("stays where it is when the plan is made anew")).to_be_visible()
    cast.refresh_from_db()
    assert cast.pinned
    assert Batch.objects.get(pieces=cast.piece).pinned

    page.on("dialog", lambda dialog: dialog.accept())
    page.get_by_role("button", name="Undo this").click()
    expect(page.get_by_text("was pinned since")).to_be_visible()
    assert PlannedStep.objects.exists()
    page.goto(f"/plan/?week={cast.starts_at.date().isoformat()}")
    day = page.locator(f"#day-{cast.starts_at.date().isoformat()}")
    if not day.evaluate("e => e.open"):
        day.locator("summary").click()
    day.get_by_role("button", name=re.compile("^Take the pin out of cast")).first.click()
    expect(page.get_by_text("may move again")).to_be_visible()
    page.get_by_role("button", name="Undo this").click()
    expect(page.get_by_text("Undone: casts and steps are planned as they were")).to_be_visible()
    assert not PlannedStep.objects.exists()
    assert not Batch.objects.exists()


def test_a_worker_that_is_killed_is_said_and_a_second_try_works(
    browser: Browser,
    live_server,
    owner: Person,
    worker: Worker,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    first = worker()
    page = signed_in(browser, live_server, owner, "/plan/", DESK)
    page.get_by_role("button", name="Plan the week").click()
    # At once: so small a shop is planned within a second or two.
    at_work = PlanRun.objects.filter(state=RunState.RUNNING).exists
    servers.wait_for(at_work, "planner at work", PATIENCE / 1000, every=0.005)
    os.killpg(first.pid, signal.SIGKILL)
    first.wait()
    expect(page.get_by_role("heading", name=re.compile("Reading|Planning"))).to_be_visible()
    with monkeypatch.context() as sooner:
        # It is dead already: that half a minute is waited for is tested without a browser.
        sooner.setattr(plan_runs, "SILENCE", dt.timedelta(seconds=1))
        expect(page.get_by_text("Planning broke off.")).to_be_visible(timeout=120_000)
    expect(page.get_by_text("The plan is as it was before.")).to_be_visible()
    assert not PlannedStep.objects.exists()

    worker()
    page.get_by_role("button", name="Try again").click()
    page.wait_for_url(re.compile(r"/plan/runs/\d+/"), timeout=PATIENCE)
    expect(page.locator("table.moves tbody tr")).to_have_count(3)


@pytest.mark.parametrize("size", SIZES)
def test_nothing_runs_off_the_screen_and_no_reader_is_shut_out(
    browser: Browser, live_server, owner: Person, size: str
) -> None:
    plan_taking.take(run_id=planned(owner).pk, by=owner)
    factories.make_piece(factories.make_job("310"), area_m2=1.0)
    waiting = planned(owner)
    page = signed_in(browser, live_server, owner, "/plan/", SIZES[size])
    for path in ("/plan/", "/plan/days/", f"/plan/runs/{waiting.pk}/"):
        page.goto(path)
        assert sideways(page) == 0, path
        found = Axe().run(page).response["violations"]
        said = [(rule["id"], rule["nodes"][0]["html"][:90]) for rule in found]
        assert said == [], path


def test_a_week_wider_than_the_phone_begins_with_today(
    browser: Browser, live_server, owner: Person
) -> None:
    plan_taking.take(run_id=planned(owner).pk, by=owner)
    page = signed_in(browser, live_server, owner, "/plan/", SIZES["phone"])
    name = page.locator(".across .lane-name").first.bounding_box()
    today = page.locator(".across rect.today").bounding_box()
    assert name is not None
    assert today is not None
    # Monday has nothing before it; at the week's end there is no more to scroll.
    after_names = name["x"] + name["width"]
    drawn = page.locator(".across .scroll")
    at_end = drawn.evaluate("e => e.scrollLeft + e.clientWidth >= e.scrollWidth - 1")
    assert today["x"] >= after_names - 1
    assert at_end or today["x"] <= after_names + 20
