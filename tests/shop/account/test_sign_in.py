from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from shop.models import Person, Role, Shop
from tests.factories import PASSWORD, make_person
from tests.shop.setup.helpers import text, typed

SIGN_IN = "/sign-in/"


@pytest.fixture
def person(shop: Shop) -> Person:
    return make_person(Role.CREW, email="rosa@example.com")


def try_in(client: Client, email: str = "rosa@example.com", password: str = PASSWORD, **more: str):  # type: ignore[no-untyped-def]
    return client.post(SIGN_IN, {"email": email, "password": password, **more})


def test_the_right_password_opens_the_app(client: Client, person: Person) -> None:
    answer = try_in(client)
    assert answer["Location"] == reverse("home")
    assert client.get(reverse("own-account")).status_code == 200


def test_an_address_is_the_same_in_capitals(client: Client, person: Person) -> None:
    assert try_in(client, "ROSA@Example.com").status_code == 302


def test_a_page_asked_for_before_comes_after(client: Client, person: Person) -> None:
    asked = client.get(reverse("own-account"))
    shown = client.get(asked["Location"])
    answer = client.post(SIGN_IN, typed(shown, email="rosa@example.com", password=PASSWORD))
    assert answer["Location"] == reverse("own-account")


@pytest.mark.parametrize(
    "onward",
    [
        "https://elsewhere.example.com/",
        "//elsewhere.example.com",
        "javascript:alert(1)",
        "\\\\elsewhere.example.com",
    ],
)
def test_nobody_is_sent_elsewhere(client: Client, person: Person, onward: str) -> None:
    assert try_in(client, next=onward)["Location"] == reverse("home")


@pytest.mark.parametrize("onward", ["people", "no-such-view", "sign-out", "", "\x00"])
def test_what_is_no_address_leads_to_ones_own_door(
    client: Client, person: Person, onward: str
) -> None:
    assert try_in(client, next=onward)["Location"] == reverse("home")


def test_who_was_signed_out_while_sending_is_not_led_to_a_page_that_only_takes_a_post(
    client: Client, person: Person
) -> None:
    shown = client.get(client.post(reverse("floor-hold", args=["217-A"]))["Location"])
    answer = client.post(SIGN_IN, typed(shown, email="rosa@example.com", password=PASSWORD))
    assert client.get(answer["Location"], follow=True).status_code == 200


def test_an_unknown_address_and_a_wrong_password_read_the_same(
    client: Client, person: Person
) -> None:
    unknown, wrong = try_in(client, "nobody@example.com"), try_in(client, password="wrong")
    assert unknown.status_code == wrong.status_code == 422
    assert text(unknown) == text(wrong)
    assert "don't go together" in text(wrong)


def test_what_was_typed_stays_but_never_the_password(client: Client, person: Person) -> None:
    page = try_in(client, password="wrong-hone-and-wash", next="/account/").content.decode()
    assert "rosa@example.com" in page
    assert 'value="/account/"' in page
    assert "wrong-hone-and-wash" not in page


def test_a_removed_person_stays_out(client: Client, person: Person) -> None:
    Person.objects.update(is_active=False)
    assert "don't go together" in text(try_in(client))


def lock(client: Client) -> object:
    answers = [try_in(client, password=f"wrong {n}") for n in range(6)]
    assert [a.status_code for a in answers[:5]] == [422] * 5
    return answers[-1]


def test_six_wrong_passwords_lock_and_say_until_when(client: Client, person: Person) -> None:
    answer = lock(client)
    assert answer.status_code == 429
    assert "Try again at" in text(answer)
    assert try_in(client).status_code == 429


def test_the_lock_is_one_addresss_alone(client: Client, person: Person) -> None:
    make_person(Role.CREW, email="hal@example.com")
    lock(client)
    assert try_in(client, "hal@example.com").status_code == 302


def test_capitals_do_not_go_around_the_lock(client: Client, person: Person) -> None:
    lock(client)
    assert try_in(client, "ROSA@example.com", "wrong").status_code == 429


def test_signing_out_takes_a_post(client: Client, person: Person) -> None:
    try_in(client)
    assert client.get("/sign-out/").status_code == 405
    assert client.post("/sign-out/")["Location"] == SIGN_IN
    assert client.get(reverse("own-account")).status_code == 302


def test_who_is_signed_in_is_taken_on(client: Client, person: Person) -> None:
    try_in(client)
    assert client.get(SIGN_IN)["Location"] == reverse("home")


def test_a_forgotten_password_is_the_owners_to_renew(client: Client, shop: Shop) -> None:
    assert "Ask the owner" in text(client.get(reverse("forgot")))


@pytest.mark.parametrize(
    "data",
    [
        {},
        {"email": "x" * 5000},
        {"email": "a@b.c\x00", "password": "\x00"},
        {"email": "rosa@example.com", "password": "x" * 5000},
    ],
)
def test_senseless_input_is_refused(client: Client, person: Person, data: dict[str, str]) -> None:
    assert client.post(SIGN_IN, data).status_code == 422


def test_a_page_from_before_signing_in_gives_back_what_was_typed(person: Person) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    answer = client.post(
        reverse("own-account"), {"name": "<b>Rosa</b> Quint", "version": "hidden-77"}
    )
    assert answer.status_code == 403
    assert "Nothing was changed" in text(answer)
    assert "&lt;b&gt;Rosa&lt;/b&gt; Quint" in answer.content.decode()
    assert "hidden-77" not in answer.content.decode()
    person.refresh_from_db()
    assert person.name != "<b>Rosa</b> Quint"


def test_but_never_a_password(person: Person) -> None:
    client = Client(enforce_csrf_checks=True)
    form = {"email": "rosa@example.com", "password": PASSWORD, "old": PASSWORD, "new": PASSWORD}
    answer = client.post(SIGN_IN, form)
    assert answer.status_code == 403
    assert "rosa@example.com" in text(answer)
    assert PASSWORD not in answer.content.decode()
