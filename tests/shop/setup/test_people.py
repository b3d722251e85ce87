from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from shop.models import Invitation, Person, Role
from shop.services import people
from shop.services.errors import Refused
from tests.factories import make_person
from tests.shop.setup.helpers import text, typed

NEW = {"name": "Ines Calloway", "email": "Ines@Example.com", "role": Role.CREW}


def test_an_invitation_shows_its_link_once_and_keeps_only_a_hash(owners: Client) -> None:
    page = owners.post(reverse("invite"), NEW).content.decode()
    token = re.search(r"/join/([\w-]{40,})/", page)[1]
    invitation = Invitation.objects.get()
    assert token not in str(Invitation.objects.values().get())
    assert invitation.email == "ines@example.com"
    assert token not in owners.get(reverse("people")).content.decode()
    left = invitation.expires_at - timezone.now()
    assert dt.timedelta(days=6, hours=23) < left <= dt.timedelta(days=7)
    assert people.find_invitation(token) == invitation


def test_a_newer_link_closes_the_older(owner: Person) -> None:
    _, first = people.invite(name="Ines", email="ines@example.com", role="crew", by=owner)
    _, second = people.invite(name="Ines", email="ines@example.com", role="crew", by=owner)
    with pytest.raises(Refused, match="withdrawn"):
        people.find_invitation(first)
    assert people.find_invitation(second)


def test_somebody_on_the_list_is_not_invited_again(owners: Client) -> None:
    make_person(Role.CREW, email="ines@example.com")
    answer = owners.post(reverse("invite"), NEW)
    assert answer.status_code == 422
    assert "already on the list" in text(answer)
    assert typed(answer, reverse("invite"))["name"] == "Ines Calloway"


@pytest.mark.parametrize(
    "change", [{"email": "nobody"}, {"role": "king"}, {"name": ""}, {"name": "x" * 61}]
)
def test_an_invitation_that_cannot_be_is_refused(owners: Client, change: dict[str, str]) -> None:
    assert owners.post(reverse("invite"), NEW | change).status_code == 422
    assert not Invitation.objects.exists()


def test_a_withdrawn_link_opens_nothing(owners: Client, owner: Person) -> None:
    invitation, token = people.invite(name="Ines", email="ines@example.com", role="crew", by=owner)
    owners.post(reverse("withdraw", args=[invitation.pk]))
    assert Client().get(reverse("join", args=[token])).status_code == 410


def test_role_and_warning_are_changed(owners: Client) -> None:
    person = make_person(Role.CREW)
    address = reverse("person", args=[person.pk])
    owners.post(address, typed(owners.get(address), role="office", warned="on"))
    person.refresh_from_db()
    assert (person.role, person.warned) == (Role.OFFICE, True)


def test_a_person_changed_meanwhile_is_a_conflict(owners: Client) -> None:
    person = make_person(Role.CREW, name="Ines")
    address = reverse("person", args=[person.pk])
    mine = typed(owners.get(address), name="Ines Calloway")
    owners.post(address, typed(owners.get(address), role="office"))
    answer = owners.post(address, mine)
    assert answer.status_code == 409
    assert "Role : now Office" in text(answer)
    owners.post(address, typed(answer))
    person.refresh_from_db()
    assert (person.name, person.role) == ("Ines Calloway", Role.OFFICE)


def test_the_last_owner_keeps_the_role(owners: Client, owner: Person) -> None:
    address = reverse("person", args=[owner.pk])
    answer = owners.post(address, typed(owners.get(address), role="crew"))
    assert answer.status_code == 422
    assert "is the last owner" in text(answer)
    owner.refresh_from_db()
    assert owner.role == Role.OWNER


def test_a_removed_owner_does_not_count_as_another(owners: Client, owner: Person) -> None:
    make_person(Role.OWNER, is_active=False)
    with pytest.raises(Refused, match="last owner"):
        people.change_person(person_id=owner.pk, version=1, name="Ora", role="office", warned=False)


def test_one_of_two_owners_can_step_down(owner: Person) -> None:
    make_person(Role.OWNER)
    people.change_person(person_id=owner.pk, version=1, name="Ora", role="office", warned=False)
    owner.refresh_from_db()
    assert owner.role == Role.OFFICE


def test_nobody_removes_themselves(owners: Client, owner: Person) -> None:
    make_person(Role.OWNER)
    answer = owners.post(reverse("remove-person", args=[owner.pk]), follow=True)
    assert "You can't remove yourself" in text(answer)
    owner.refresh_from_db()
    assert owner.is_active


def test_the_last_owner_is_not_removed_by_anybody(owner: Person) -> None:
    with pytest.raises(Refused, match="last owner"):
        people.remove(person_id=owner.pk, by=make_person(Role.CREW))


def test_a_removed_person_is_signed_out_at_once_and_can_come_back(
    owners: Client, signed_in: Callable[[Person], Client]
) -> None:
    person = make_person(Role.CREW)
    theirs = signed_in(person)
    assert theirs.get(reverse("own-account")).status_code == 200
    owners.post(reverse("remove-person", args=[person.pk]))
    assert theirs.get(reverse("own-account")).status_code == 302
    assert Person.objects.filter(pk=person.pk).exists()
    owners.post(reverse("bring-back", args=[person.pk]))
    assert signed_in(person).get(reverse("own-account")).status_code == 200


def test_removing_somebody_closes_their_link_too(owner: Person) -> None:
    person = make_person(Role.CREW)
    _, token = people.new_password_link(person_id=person.pk, by=owner)
    people.remove(person_id=person.pk, by=owner)
    with pytest.raises(Refused, match="withdrawn"):
        people.find_invitation(token)


def test_a_removed_person_gets_no_link(owners: Client) -> None:
    person = make_person(Role.CREW, is_active=False)
    answer = owners.post(reverse("new-password", args=[person.pk]), follow=True)
    assert "Bring this person back first" in text(answer)
    assert not Invitation.objects.exists()


def test_a_new_password_link_is_shown_for_a_known_person(owners: Client) -> None:
    person = make_person(Role.CREW)
    page = owners.post(reverse("new-password", args=[person.pk])).content.decode()
    assert "/join/" in page
    assert person.email in page
