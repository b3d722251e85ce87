from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.models import Mark, Piece
from jobs.services import readiness
from shop.models import Person, Role
from tests import factories

Clock = Callable[[dt.datetime], None]


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    """Wednesday 18 March 2026, 09:00 in the shop, until a test moves it."""

    def set_to(moment: dt.datetime) -> None:
        monkeypatch.setattr(timezone, "now", lambda: moment)

    set_to(factories.NOW)
    return set_to


@pytest.fixture(autouse=True)
def _shop(db: None, clock: Clock) -> None:
    factories.make_shop()
    factories.make_working_week()


@pytest.fixture
def crew() -> Person:
    return factories.make_person(Role.CREW, name="Ben Carrow")


@pytest.fixture
def other() -> Person:
    return factories.make_person(Role.CREW, name="Ida Marsh")


@pytest.fixture
def owner() -> Person:
    return factories.make_person(Role.OWNER, name="Olive Trent")


@pytest.fixture
def piece() -> Piece:
    """Not cast, without a casting time."""
    return factories.make_piece(factories.make_job(), "B")


@pytest.fixture
def cured(piece: Piece, crew: Person) -> Piece:
    """Cast two days ago: it may be demolded."""
    factories.make_mark(piece, "cast", factories.NOW - 48 * factories.HOUR, by=crew)
    return piece


@pytest.fixture
def green(piece: Piece, crew: Person) -> Piece:
    """Cast two hours ago: it may not."""
    factories.make_mark(piece, "cast", factories.NOW - 2 * factories.HOUR, by=crew)
    return piece


@dataclass
class Hand:
    """Somebody signed in, with what a tap on the floor sends."""

    client: Client
    person: Person

    def floor(self, **query: str) -> Any:
        readiness.rebuild()
        return self.client.get(reverse("floor"), query)

    def page(self, piece: Piece) -> Any:
        return self.client.get(reverse("piece", args=[piece.code]))

    def mark(self, piece: Piece, step: str, **sent: str) -> Any:
        return self._post(reverse("floor-mark", args=[piece.code]), step_key=step, **sent)

    def strike(self, mark: Mark, **sent: str) -> Any:
        return self._post(reverse("floor-strike", args=[mark.pk]), **sent)

    def on_piece(self, action: str, piece: Piece, **sent: str) -> Any:
        return self._post(reverse(f"floor-{action}", args=[piece.code]), **sent)

    def cast(self, batch_id: int, **sent: str) -> Any:
        return self._post(reverse("floor-mark-cast", args=[batch_id]), **sent)

    def take_back_cast(self, batch_id: int, **sent: str) -> Any:
        return self._post(reverse("floor-take-back-cast", args=[batch_id]), **sent)

    def _post(self, url: str, headers: dict[str, str] | None = None, **sent: str) -> Any:
        sent.setdefault("client_key", str(uuid.uuid4()))
        return self.client.post(url, sent, headers=headers or {})


@pytest.fixture
def hand() -> Callable[[Person], Hand]:
    def signed_in(person: Person) -> Hand:
        client = Client()
        client.force_login(person)
        return Hand(client, person)

    return signed_in


SWAP = {"HX-Request": "true", "HX-Target": "piece-217-B"}
KEPT = {"X-Kept": "true"}
