"""The main job, end to end, on real programs: a web server, a worker and a clock of their own on
PostgreSQL and Redis, a mail server, and a browser for each of the people.

A cold night comes in by the sensor's door. Without anybody touching a page the board shows the job
short; the owner has one mail; the office tells the new day; the customer sees it; the crew goes on.
"""

from __future__ import annotations

import datetime as dt
import json
import re
import sys
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone
from icalendar import Calendar
from playwright.sync_api import Browser, Page, expect
from redis import Redis

from jobs.models import Flag, Job, Mark
from jobs.services.links import make_link, page_address
from jobs.services.readiness import outlook_of
from shop.models import Change, Reading, Room, WorkingHours
from shop.services.sensors import add_sensor
from tests import servers
from tests.conftest import Mailbox
from tests.factories import (
    PASSWORD,
    make_customer,
    make_job,
    make_mark,
    make_person,
    make_piece,
    make_readings,
    make_room,
    make_route,
    make_shop,
)

pytestmark = [pytest.mark.browser, pytest.mark.servers, pytest.mark.django_db(transaction=True)]

ZONE = ZoneInfo("America/Chicago")
HOUR = dt.timedelta(hours=1)
# Open round the clock, so that the test says the same at whatever hour it runs.
ALWAYS = [dt.time(0, 0), dt.time(23, 59)]
STEPS = (
    {"key": "cast", "kind": "cast", "name": "cast"},
    {
        "key": "demold",
        "kind": "demold",
        "name": "demold and flip",
        "hours_after_cast": 12.0,
        "strength_mpa": 17.2,
        "labour_hours": 0.5,
    },
    {"key": "grind", "kind": "grind", "name": "grind", "labour_hours": 1.0},
    {"key": "deliver", "kind": "deliver", "name": "deliver"},
)


@pytest.fixture
def now() -> dt.datetime:
    return timezone.now().replace(second=0, microsecond=0)


@pytest.fixture
def room() -> Room:
    return make_room("Casting room", celsius=20.0)


@pytest.fixture
def job(now: dt.datetime, room: Room, settings: Any) -> Job:
    """Cast ten hours ago; in a mild room its pieces are ready well before the promise."""
    # The programs check passwords as in production, so they are kept as in production.
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
    make_shop(margin_hours=1.0, name="Ferrow Bend Thin Concrete")
    WorkingHours.objects.bulk_create(
        WorkingHours(weekday=day, starts=ALWAYS[0], ends=ALWAYS[1], people=3) for day in range(7)
    )
    make_person("owner", email="owner@example.com", warned=True)
    make_person("office", email="office@example.com")
    make_person("crew", email="crew@example.com", name="Nell Arbogast")
    job = make_job(
        "217",
        promised_on=None,
        taken_on=(now - 30 * 24 * HOUR).date(),
        customer=make_customer("Ada Fenwick-Lowe", email="ada@example.com", phone="(555) 555-0142"),
    )
    route = make_route("Round the clock", STEPS)
    piece = make_piece(job, room=room, route=route)
    make_mark(piece, "cast", now - 10 * HOUR)
    make_readings(room, now - 14 * HOUR, 4.0, celsius=20.0)
    ready = outlook_of("217", now).judged_at
    promise = (ready + 3 * HOUR).astimezone(ZONE)
    job.promised_on, job.promised_by = promise.date(), promise.time().replace(second=0)
    job.save()
    other = make_job("218", promised_on=(now + 30 * 24 * HOUR).date())
    make_mark(make_piece(other, room=room, route=route), "cast", now - 90 * HOUR)
    return job


@pytest.fixture
def address(
    job: Job,
    smtp: Mailbox,
    redis_url: str,
    tmp_path: Path,
    program_environment: Callable[..., dict[str, str]],
) -> Iterator[str]:
    """The whole app running as in production, on this test's database."""
    port = servers.free_port()
    address = f"http://127.0.0.1:{port}"
    environment = program_environment(
        CUREWRIGHT_VAR=str(tmp_path),
        REDIS_URL=redis_url,
        CUREWRIGHT_SMTP=smtp.url,
        CUREWRIGHT_URL=address,
    )
    (tmp_path / "static").mkdir()
    with Redis.from_url(redis_url) as client:
        client.flushdb()
    programs = {
        "web": ["gunicorn", "shop.wsgi", "--bind", f"127.0.0.1:{port}", "--workers", "2"],
        "worker": ["celery", "-A", "shop", "worker", "--pool", "solo"],
        "beat": ["celery", "-A", "shop", "beat", "--pidfile="],
    }
    with ExitStack() as running:
        for name, command in programs.items():
            log = tmp_path / f"{name}.log"
            program = [sys.executable, "-m", *command]
            running.enter_context(servers.running(program, log, environment=environment))
        servers.wait_for(lambda: answers(address), "answer from the web server")
        yield address


def answers(address: str) -> bool:
    try:
        with urllib.request.urlopen(f"{address}/health/", timeout=2) as response:
            return bool(response.status == 200)
    except OSError:
        return False


@pytest.fixture
def sign_in(browser: Browser, address: str) -> Iterator[Callable[..., Page]]:
    contexts = []

    def start(email: str, **screen: object) -> Page:
        context = browser.new_context(**screen)
        contexts.append(context)
        page = context.new_page()
        page.goto(f"{address}/sign-in/")
        page.get_by_label("E-mail").fill(email)
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        expect(page.get_by_role("button", name="Sign out")).to_be_visible()
        return page

    yield start
    for context in contexts:
        context.close()


def post_night(address: str, token: str, first: dt.datetime, last: dt.datetime) -> dict[str, int]:
    """SenML (RFC 8428): a base name and time, then one record for each quarter of an hour."""
    count = int((last - first) / (HOUR / 4))
    base = {"bn": "casting-room:", "bt": first.timestamp(), "bu": "Cel"}
    records = [{"n": "air", "t": 900 * step, "v": 5.0} for step in range(count + 1)]
    request = urllib.request.Request(
        f"{address}/api/readings",
        data=json.dumps([{**base, **records[0]}, *records[1:]]).encode(),
        headers={
            "Content-Type": "application/senml+json",
            "Authorization": f"Bearer {token}",
        },
    )
    with urllib.request.urlopen(request, timeout=10) as response:
        return dict(json.load(response))


def test_a_cold_night_from_sensor_to_customer(
    sign_in: Callable[..., Page],
    address: str,
    smtp: Mailbox,
    job: Job,
    room: Room,
    now: dt.datetime,
    browser: Browser,
) -> None:
    _, token = add_sensor(name="Casting room thermometer", room=room)
    owner = sign_in("owner@example.com", viewport={"width": 1280, "height": 800})
    owner.goto(f"{address}/board/")
    line = owner.locator("#job-217")
    expect(line.locator(".promise").first).to_contain_text("holds", timeout=20_000)

    # The night arrives; nobody touches the page.
    taken = post_night(address, token, now - 9.75 * HOUR, now)
    assert taken["taken"] == Reading.objects.filter(source="sensor", celsius=5.0).count() > 30
    expect(line.locator(".promise").first).to_contain_text(
        re.compile(r"short by \d+ h"), timeout=20_000
    )
    expect(owner.locator("main")).to_contain_text("strength for handling")

    # One warning, however often the dates are derived again.
    servers.wait_for(lambda: smtp.messages, "warning mail")
    Change.objects.create(reason="anything at all")
    servers.wait_for(lambda: not Change.objects.exists(), "second run", seconds=40)
    assert [message["To"] for message in smtp.messages] == ["owner@example.com"]
    assert "217 is short by" in smtp.messages[0]["Subject"]
    flag = Flag.objects.get(job=job, cleared_at=None)
    assert flag.state == "short"
    assert flag.hours > 1

    # The office finds the job by telephone number and tells the day that holds.
    new_day = outlook_of("217").holding_on
    office = sign_in("office@example.com", viewport={"width": 1280, "height": 800})
    office.goto(f"{address}/office/?q=555+0142")
    expect(office.locator("main")).to_contain_text("217")
    office.goto(f"{address}/office/jobs/217/tell/")
    expect(office.get_by_label("The day that is told")).to_have_value(new_day.isoformat())
    office.get_by_label("This is now the promised day, too").check()
    office.get_by_role("button", name="Look at it").last.click()
    office.get_by_role("button", name="Send it").click()
    servers.wait_for(lambda: len(smtp.messages) > 1, "notice to the customer")

    notice = next(m for m in smtp.messages if m["To"] == "ada@example.com")
    calendar = Calendar.from_ical(
        next(
            part.get_content()
            for part in notice.walk()
            if part.get_content_type() == "text/calendar"
        )
    )
    event = calendar.walk("VEVENT")[0]
    assert event["DTSTART"].dt == new_day
    assert event["DTEND"].dt == new_day + dt.timedelta(days=1)

    # The customer's page, without signing in.
    customer = browser.new_page(viewport={"width": 390, "height": 844})
    link = urlsplit(page_address(make_link(job_id=job.pk, by=None)))
    customer.goto(address + link.path)
    expect(customer.locator("time").first).to_have_attribute("datetime", new_day.isoformat())
    customer.close()

    # The crew, on a phone: one tap moves a piece on.
    crew = sign_in("crew@example.com", viewport={"width": 390, "height": 844}, has_touch=True)
    crew.goto(f"{address}/floor/")
    card = crew.locator("[data-card]", has_text="218-A").first
    card.get_by_role("button", name="Mark demolded").tap()
    expect(crew.locator("main")).to_contain_text("Take back")
    mark = Mark.objects.get(piece__code="218-A", step_key="demold")
    assert mark.by.name == "Nell Arbogast"
    assert outlook_of("218").pieces[0].next_step.key == "grind"
