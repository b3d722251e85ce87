from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from shop.models import Person, Role
from tests.factories import PASSWORD, make_person
from tests.shop.setup.helpers import text, typed

OWN = "/account/"
NEW = "slurry lantern copper"


def test_name_and_language_are_ones_own_to_change(owners: Client, owner: Person) -> None:
    owners.post(OWN, typed(owners.get(OWN), OWN, name="Ora L.", language="es"))
    owner.refresh_from_db()
    assert (owner.name, owner.language) == ("Ora L.", "es")
    assert b'<html lang="es">' in owners.get(OWN).content


def test_nobody_gives_themselves_a_role(
    signed_in: Callable[[Person], Client], owner: Person
) -> None:
    crew = make_person(Role.CREW)
    client = signed_in(crew)
    client.post(
        OWN, typed(client.get(OWN), OWN, role="owner", is_active="on", email="boss@example.com")
    )
    crew.refresh_from_db()
    assert crew.role == Role.CREW
    assert crew.email != "boss@example.com"


def test_a_name_changed_meanwhile_is_a_conflict(owners: Client, owner: Person) -> None:
    mine = typed(owners.get(OWN), OWN, name="Ora L.")
    owners.post(OWN, typed(owners.get(OWN), OWN, name="Ora Lind"))
    answer = owners.post(OWN, mine)
    assert answer.status_code == 409
    assert "now Ora Lind, yours is Ora L." in text(answer)


def change(client: Client, **changes: str):  # type: ignore[no-untyped-def]
    data = {"old": PASSWORD, "new": NEW, "again": NEW, **changes}
    return client.post(reverse("change-password"), data)


def test_a_new_password_keeps_this_session_and_ends_the_others(
    owners: Client, owner: Person, signed_in: Callable[[Person], Client]
) -> None:
    elsewhere = signed_in(owner)
    assert change(owners).status_code == 302
    assert owners.get(OWN).status_code == 200
    assert elsewhere.get(OWN).status_code == 302
    owner.refresh_from_db()
    assert owner.check_password(NEW)


@pytest.mark.parametrize(
    ("changes", "word"),
    [
        ({"old": "wrong"}, "not your password now"),
        ({"again": "x"}, "not the same"),
        ({"new": "12345678901", "again": "12345678901"}, "entirely numeric"),
    ],
)
def test_a_change_that_cannot_be_leaves_the_password(
    owners: Client, owner: Person, changes: dict[str, str], word: str
) -> None:
    answer = change(owners, **changes)
    assert answer.status_code == 422
    assert word in text(answer)
    owner.refresh_from_db()
    assert owner.check_password(PASSWORD)
