from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from shop.models import Person, Role, Shop
from shop.services.fresh import give_usual_figures
from tests.factories import make_person, make_room

SEEN = ["setup", "rooms", "hours", "closed", "mixes", "sealers", "routes"]
CHANGED = ["settings", "new-room", "edit-hours", "new-mix", "new-sealer", "new-route"]
OWNERS = ["people"]
POSTED = ["decide-closed", "add-closed", "invite"]
OF_A_ROW = ["room", "room-air", "delete-room", "set-back", "mix", "delete-mix", "sealer", "delete-sealer",
            "route", "delete-route", "new-step", "person", "new-password", "remove-person", "bring-back",
            "withdraw", "remove-closed"]  # fmt: skip


@pytest.fixture
def of_role(shop: Shop, signed_in: Callable[[Person], Client]) -> Callable[[str], Client]:
    give_usual_figures()
    make_room()
    return lambda role: signed_in(make_person(role))


@pytest.mark.parametrize("name", SEEN)
def test_the_office_sees_the_shops_figures(of_role: Callable[[str], Client], name: str) -> None:
    assert of_role(Role.OFFICE).get(reverse(name)).status_code == 200


@pytest.mark.parametrize("name", SEEN + CHANGED + OWNERS)
def test_crew_is_turned_away(of_role: Callable[[str], Client], name: str) -> None:
    assert of_role(Role.CREW).get(reverse(name)).status_code == 403


@pytest.mark.parametrize("name", CHANGED + OWNERS + POSTED)
@pytest.mark.parametrize("method", ["get", "post"])
def test_the_office_cannot_reach_what_changes_the_shop(
    of_role: Callable[[str], Client], name: str, method: str
) -> None:
    assert getattr(of_role(Role.OFFICE), method)(reverse(name)).status_code == 403


@pytest.mark.parametrize("name", OF_A_ROW)
@pytest.mark.parametrize("role", [Role.OFFICE, Role.CREW])
def test_only_the_owner_reaches_a_row(
    of_role: Callable[[str], Client], name: str, role: str
) -> None:
    client = of_role(role)
    assert client.post(reverse(name, args=[1])).status_code == 403
    assert client.get(reverse(name, args=[1])).status_code == 403


@pytest.mark.parametrize("name", SEEN + CHANGED + OWNERS)
def test_the_owner_reaches_every_page(of_role: Callable[[str], Client], name: str) -> None:
    assert of_role(Role.OWNER).get(reverse(name)).status_code == 200


@pytest.mark.parametrize("name", OF_A_ROW)
def test_a_row_that_is_not_there_is_not_found(of_role: Callable[[str], Client], name: str) -> None:
    if name != "remove-closed":  # taking back what is gone already is done
        assert of_role(Role.OWNER).post(reverse(name, args=[987654])).status_code == 404


def test_nobody_is_asked_to_sign_in(db: Any) -> None:
    for name in SEEN + CHANGED + OWNERS:
        answer = Client().get(reverse(name))
        assert answer.status_code == 302
        assert answer["Location"].startswith(reverse("sign-in"))


def test_the_offices_pages_carry_no_way_to_change(of_role: Callable[[str], Client]) -> None:
    client = of_role(Role.OFFICE)
    for name in SEEN:
        page = client.get(reverse(name)).content.decode()
        main = page[page.index('<main id="main"') :]
        assert "<button" not in main
        assert reverse("new-room") not in main
