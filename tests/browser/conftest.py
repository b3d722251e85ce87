from __future__ import annotations

import datetime as dt

import pytest

from shop.models import Person, Role, WorkingHours
from tests import factories


@pytest.fixture
def crew(transactional_db: None) -> Person:
    """One of a crew that is always on shift."""
    factories.make_shop()
    for weekday in range(7):
        WorkingHours.objects.create(
            weekday=weekday, starts=dt.time(0), ends=dt.time(23, 59, 59), people=3
        )
    return factories.make_person(Role.CREW, name="Ben Carrow")
