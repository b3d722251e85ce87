from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from jobs.models import Piece
from jobs.services import readiness
from shop.models import Person, Role
from tests import factories


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Callable[[dt.datetime], None]:
    """Wednesday 18 March 2026, 09:00 in the shop, until a test moves it."""

    def set_to(moment: dt.datetime) -> None:
        monkeypatch.setattr(timezone, "now", lambda: moment)

    set_to(factories.NOW)
    return set_to


@pytest.fixture
def opened(db: None, clock: Callable[[dt.datetime], None]) -> None:
    """The shop, with its working week."""
    factories.make_shop()
    factories.make_working_week()
    factories.make_room()


@pytest.fixture
def owner(opened: None) -> Person:
    return factories.make_person(Role.OWNER, name="Olive Trent")


@pytest.fixture
def office(opened: None) -> Person:
    return factories.make_person(Role.OFFICE, name="Petra Lund")


@pytest.fixture
def crew(opened: None) -> Person:
    return factories.make_person(Role.CREW, name="Ben Carrow")


@pytest.fixture
def piece(opened: None) -> Piece:
    """217-A, promised Fri 10 Apr, without a casting time."""
    return factories.make_piece(factories.make_job("217"))


@pytest.fixture
def as_owner(owner: Person) -> Client:
    return signed_in(owner)


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return client


def week(client: Client, query: str = "", **headers: Any) -> Any:
    """The board as it is once the facts are worked in."""
    readiness.rebuild()
    return client.get(f"/board/{query}", headers=headers)
