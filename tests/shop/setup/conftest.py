from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client

from shop.models import Mix, Person, Role, Shop
from tests.factories import make_mix, make_person, make_shop


@pytest.fixture
def shop(db: None) -> Shop:
    return make_shop()


@pytest.fixture
def owner(shop: Shop) -> Person:
    return make_person(Role.OWNER, name="Ora Lindqvist")


@pytest.fixture
def mix(shop: Shop) -> Mix:
    return make_mix()


@pytest.fixture
def signed_in() -> Callable[[Person], Client]:
    def sign_in(person: Person) -> Client:
        client = Client()
        client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
        return client

    return sign_in


@pytest.fixture
def owners(owner: Person, signed_in: Callable[[Person], Client]) -> Client:
    return signed_in(owner)
