"""A new shop, from the one command of the README."""

from __future__ import annotations

import re

import pytest
from django.core.management import CommandError, call_command
from django.test import Client

from shop.models import Change, Mix, Person, Role, Route, Sealer, Shop, WorkingHours
from tests.factories import make_person

pytestmark = pytest.mark.django_db

NEW = {"name": "Quarry Lane Casting", "email": "first@example.com", "time_zone": "America/Denver"}


def test_the_first_owner_gets_in_and_the_usual_figures_are_there(capsys, client: Client) -> None:
    call_command("found_shop", **NEW)
    said = capsys.readouterr().out

    assert Shop.objects.get().name == "Quarry Lane Casting"
    assert Shop.objects.get().time_zone == "America/Denver"
    assert Mix.objects.get().placeholder
    assert all(model.objects.exists() for model in (Sealer, Route, WorkingHours, Change))
    owner = Person.objects.get()
    assert (owner.role, owner.warned) == (Role.OWNER, True)
    address = re.search(r"http://\S+(/join/\S+)", said)[1]
    assert client.get(address).status_code == 200
    chosen = "sand trowel bucket"
    client.post(address, {"new": chosen, "again": chosen, "language": "en"})
    assert Person.objects.get().check_password(chosen)


def test_a_shop_with_people_is_left_alone() -> None:
    make_person(Role.OWNER)

    with pytest.raises(CommandError, match="has people already"):
        call_command("found_shop", **NEW)
    assert Person.objects.count() == 1


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"email": "first at example"}, "e-mail address like"),
        ({"time_zone": "America/Nowhere"}, "no time zone 'America/Nowhere'"),
    ],
)
def test_what_is_wrong_is_named_and_nothing_is_made(change, message: str) -> None:
    with pytest.raises(CommandError, match=message):
        call_command("found_shop", **{**NEW, **change})
    assert not Person.objects.exists()
