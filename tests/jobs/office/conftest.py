from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone, translation

from jobs.models import Job, Piece
from shop.models import Person, Role
from tests import factories

TODAY = dt.date(2026, 3, 18)  # a Wednesday, 09:00 in the shop
PROMISE = dt.date(2026, 4, 10)


@pytest.fixture(autouse=True)
def _shop(db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(timezone, "now", lambda: factories.NOW)
    factories.make_shop(name="Ferrow Bend Thin Concrete", phone="(555) 555-0100")
    factories.make_working_week()


@pytest.fixture(autouse=True)
def _english_again() -> Iterator[None]:
    """A page asked for in another language leaves its thread in it."""
    yield
    translation.deactivate()


@pytest.fixture
def clerk() -> Person:
    return factories.make_person(Role.OFFICE, name="Tobias Wrenfield")


@pytest.fixture
def office(clerk: Person) -> Client:
    client = Client()
    client.force_login(clerk)
    return client


@pytest.fixture
def job() -> Job:
    """Promised Friday 10 April, and it holds."""
    customer = factories.make_customer(
        "Ada Fenwick-Lowe", email="ada@example.com", phone="(555) 555-0142", address="4 Quay Lane"
    )
    return factories.make_job(
        "217", PROMISE, customer=customer, site="4 Quay Lane", notes="pays late", price="5300.00"
    )


@pytest.fixture
def piece(job: Job) -> Piece:
    """Not cast, without a casting time."""
    return factories.make_piece(job, "A", name="Island top", notes="watch the corner")


@pytest.fixture
def cast(piece: Piece) -> Piece:
    factories.make_mark(piece, "cast", factories.NOW - 20 * factories.HOUR)
    return piece


def text_of(answer: Any) -> str:
    return " ".join(answer.content.decode().split())
