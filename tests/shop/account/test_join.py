from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
from axes.models import AccessAttempt
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from shop.models import Invitation, Person, Role
from shop.services import people
from shop.services.errors import Refused
from tests.factories import PASSWORD, make_person
from tests.shop.setup.helpers import text

NEW = "slurry lantern copper"


def post(client: Client, token: str, **changes: str):  # type: ignore[no-untyped-def]
    data = {"new": NEW, "again": NEW, "language": "es", **changes}
    return client.post(reverse("join", args=[token]), data)


@pytest.fixture
def token(owner: Person) -> str:
    return people.invite(name="Ines Calloway", email="ines@example.com", role="crew", by=owner)[1]


def test_a_link_makes_the_person_and_signs_them_in(client: Client, token: str) -> None:
    assert "Hello Ines Calloway" in text(client.get(reverse("join", args=[token])))
    assert post(client, token)["Location"] == reverse("home")
    person = Person.objects.get(email="ines@example.com")
    assert (person.name, person.role, person.language) == ("Ines Calloway", Role.CREW, "es")
    assert person.check_password(NEW)
    assert client.get(reverse("own-account")).status_code == 200


def test_a_link_works_once(client: Client, token: str) -> None:
    post(client, token)
    answer = post(Client(), token, new="another password", again="another password")
    assert answer.status_code == 410
    assert "has been used" in text(answer)
    assert Person.objects.get(email="ines@example.com").check_password(NEW)


def test_a_link_ends_after_seven_days(client: Client, token: str) -> None:
    late = timezone.now() + dt.timedelta(days=7, seconds=1)
    with pytest.raises(Refused, match="seven days"):
        people.accept(token=token, password=NEW, language="en", now=late)
    Invitation.objects.update(expires_at=timezone.now())
    assert client.get(reverse("join", args=[token])).status_code == 410


@pytest.mark.parametrize("token", ["x", "a" * 500, "../../account"])
def test_a_link_of_nobodys_opens_nothing(client: Client, db: None, token: str) -> None:
    answer = client.get(f"/join/{token}/")
    assert answer.status_code in {404, 410}


@pytest.mark.parametrize(
    ("changes", "word"),
    [
        ({"new": "short", "again": "short"}, "too short"),
        ({"new": "ines calloway", "again": "ines calloway"}, "too similar"),
        ({"new": "password123", "again": "password123"}, "too common"),
        ({"again": "slurry lantern iron"}, "not the same"),
        ({"language": "xx"}, "can't be chosen"),
    ],
)
def test_a_weak_password_is_refused_and_the_link_stays_open(
    client: Client, token: str, changes: dict[str, str], word: str
) -> None:
    answer = post(client, token, **changes)
    assert answer.status_code == 422
    assert word in text(answer)
    assert post(client, token).status_code == 302


def test_a_new_password_ends_other_sessions_and_the_lock(
    client: Client, owner: Person, signed_in: Callable[[Person], Client]
) -> None:
    person = make_person(Role.CREW, email="rosa@example.com")
    elsewhere = signed_in(person)
    for n in range(6):
        client.post(reverse("sign-in"), {"email": person.email, "password": f"wrong {n}"})
    assert AccessAttempt.objects.exists()
    _, token = people.new_password_link(person_id=person.pk, by=owner)
    post(client, token)
    assert elsewhere.get(reverse("own-account")).status_code == 302
    assert Person.objects.filter(email="rosa@example.com").count() == 1
    fresh = Client().post(reverse("sign-in"), {"email": person.email, "password": NEW})
    assert fresh.status_code == 302


def test_a_link_does_not_let_a_removed_person_in(client: Client, owner: Person) -> None:
    person = make_person(Role.CREW)
    _, token = people.new_password_link(person_id=person.pk, by=owner)
    Person.objects.filter(pk=person.pk).update(is_active=False)
    assert post(client, token).status_code == 410
    person.refresh_from_db()
    assert person.check_password(PASSWORD)
    assert Invitation.objects.get().used_at is None
