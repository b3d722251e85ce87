from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from shop.models import Person, Role, Shop
from tests import factories


@pytest.fixture
def var(settings: Any, tmp_path: Path) -> Path:
    """Where tables are kept between the steps, for this test alone."""
    settings.VAR_DIR = tmp_path
    return tmp_path / "bring-in"


@pytest.fixture
def shop(db: None, monkeypatch: pytest.MonkeyPatch) -> Iterator[Shop]:
    monkeypatch.setattr(timezone, "now", lambda: factories.NOW)
    shop = factories.make_shop()
    factories.make_working_week()
    factories.make_room()
    factories.make_mix()
    factories.make_route()
    factories.make_sealer()
    return shop


@pytest.fixture
def clerk(shop: Shop) -> Person:
    return factories.make_person(Role.OFFICE, name="Tobias Wrenfield")


@pytest.fixture
def office(clerk: Person) -> Client:
    client = Client()
    client.force_login(clerk)
    return client
