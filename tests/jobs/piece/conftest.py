from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
from django.test import Client
from django.utils import timezone

from jobs.models import Piece
from shop.models import Person, Role
from tests import factories
from tests.factories import DAY, NOW


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Callable[[dt.datetime], None]:
    """Wednesday 18 March 2026, 09:00 in the shop, until a test moves it."""

    def set_to(moment: dt.datetime) -> None:
        monkeypatch.setattr(timezone, "now", lambda: moment)

    set_to(NOW)
    return set_to


@pytest.fixture
def opened(db: None, clock: Callable[[dt.datetime], None]) -> None:
    factories.make_shop()
    factories.make_working_week()
    factories.make_readings(factories.make_room(), NOW - 4 * DAY, 96)


@pytest.fixture
def waiting(opened: None) -> Piece:
    """217-A, promised Fri 10 Apr, without a casting time."""
    return factories.make_piece(factories.make_job("217"))


@pytest.fixture
def cast(waiting: Piece) -> Piece:
    """The same, cast a day ago."""
    factories.make_mark(waiting, "cast", NOW - DAY)
    return waiting


@pytest.fixture
def as_owner(opened: None) -> Client:
    return signed_in(factories.make_person(Role.OWNER))


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return client
