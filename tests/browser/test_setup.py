from __future__ import annotations

import re
from collections.abc import Callable, Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, ViewportSize, expect
from pytest_django.live_server_helper import LiveServer

from shop.models import ExtraHours, PlannedAir, Role, Room, Route, Worker
from shop.services.fresh import give_usual_figures
from tests.browser.visits import come_in
from tests.factories import make_person, make_shop

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PHONE: ViewportSize = {"width": 390, "height": 844}
SCREENS = ["", "settings/", "rooms/", "hours/", "hours/edit/", "closed/", "crew/", "crew/new/", "stations/", "mixes/", "mixes/new/", "sealers/", "sealers/new/", "routes/", "routes/new/", "people/"]  # fmt: skip


@pytest.fixture
def opened(browser: Browser, live_server: LiveServer) -> Iterator[Callable[..., Page]]:
    """The owner's phone, signed in."""
    contexts = []

    def open_it(*, scripts: bool = True) -> Page:
        make_shop()
        owner = make_person(Role.OWNER, email="ora@example.com", name="Ora Lindqvist")
        context = browser.new_context(
            java_script_enabled=scripts, base_url=live_server.url, viewport=PHONE
        )
        contexts.append(context)
        come_in(context, live_server, owner)
        page = context.new_page()
        page.goto("/shop/")
        return page

    yield open_it
    for context in contexts:
        context.close()


@pytest.mark.parametrize("scripts", [True, False], ids=["with scripts", "without scripts"])
def test_an_owner_makes_a_room_a_plan_and_a_route_on_a_phone(
    opened: Callable[..., Page], scripts: bool
) -> None:
    page = opened(scripts=scripts)
    page.get_by_role("link", name="Rooms").first.click()
    page.get_by_role("link", name="Add a room").click()
    page.get_by_label("Name", exact=True).fill("North bay")
    page.get_by_label("Usual temperature").fill("60 °F")
    page.get_by_role("button", name="Save").click()

    page.get_by_role("checkbox", name="Saturday").check()
    page.get_by_label("Day temperature").fill("70")
    page.get_by_label("Night temperature").fill("50")
    page.get_by_role("button", name="Lay it out on these weekdays").click()
    expect(page.get_by_text("The set-back is laid out.")).to_be_visible()
    picture = page.get_by_role("img", name=re.compile("Planned temperatures"))
    expect(picture).to_have_accessible_name("Planned temperatures through the week, 50 °F – 70 °F")

    room = Room.objects.get(name="North bay")
    assert PlannedAir.objects.filter(room=room).count() == 12
    sunday = page.get_by_role("group", name="Sunday 1")
    sunday.get_by_label("from").select_option("09:00")
    sunday.get_by_label(re.compile("temperature")).fill("45")
    page.get_by_role("button", name="Save the week").click()
    expect(page.get_by_text("The plan is saved.")).to_be_visible()
    assert PlannedAir.objects.filter(room=room, weekday=6, hour=9).count() == 1

    page.get_by_role("link", name="Routes").click()
    page.get_by_role("link", name="Add a route").click()
    page.get_by_label("Name").fill("Wall panel")
    page.get_by_role("button", name="Go on to its steps").click()
    for name, kind in (("demold", "demold and flip"), ("Fit brackets", "other work")):
        page.get_by_role("link", name="Add a step").click()
        page.get_by_label("Name").fill(name)
        page.get_by_label("Kind of work").select_option(kind)
        page.get_by_label("Age, as hours at 68 °F").fill("16")
        page.get_by_role("button", name="Save").click()
    page.get_by_role("button", name="Move Fit brackets up").click()
    expect(page.get_by_role("heading", level=3)).to_have_text(["cast", "Fit brackets", "demold"])
    keys = Route.objects.get(name="Wall panel").steps.values_list("key", flat=True)
    assert list(keys) == ["cast", "fit-brackets", "demold"]


def test_no_screen_of_the_set_up_is_wider_than_a_phone_or_shuts_anybody_out(
    opened: Callable[..., Page],
) -> None:
    page = opened()
    give_usual_figures()
    Room.objects.create(name="North bay")
    route = Route.objects.first()
    assert route is not None
    room = Room.objects.get()
    wren = Worker.objects.create(name="Wren")
    wren.absences.create(first_day="2099-03-02", last_day="2099-03-04", reason="Fishing")
    ExtraHours.objects.create(day="2099-03-07", starts="08:00", ends="12:00", reason="Rush")
    more = [
        f"crew/{wren.pk}/",
        f"rooms/{room.pk}/air/",
        f"routes/{route.pk}/",
        f"routes/{route.pk}/steps/{route.steps.all()[1].pk}/",
    ]
    for address in [f"/shop/{screen}" for screen in SCREENS + more] + ["/account/"]:
        answer = page.goto(address)
        assert answer is not None
        assert answer.status == 200, address
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), address
        found = Axe().run(page)
        assert found.violations_count == 0, f"{address}: {found.generate_report()}"
