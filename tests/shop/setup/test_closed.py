from __future__ import annotations

import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from shop.models import Change, ClosedDay
from shop.services.calendar import closed_days
from tests.shop.setup.helpers import text

CLOSED = "/shop/closed/"
YEAR = timezone.now().year
FOURTH = dt.date(YEAR, 7, 4)
CHRISTMAS = dt.date(YEAR, 12, 25)


def add(owners: Client, **data: str) -> object:
    return owners.post(reverse("add-closed"), {"name": "Inventory", **data})


def test_holidays_are_only_proposed_until_the_shop_decides(owners: Client) -> None:
    assert "not decided" in text(owners.get(CLOSED))
    assert closed_days(FOURTH, CHRISTMAS) == {}


def test_ticked_holidays_are_closed_and_the_others_worked_through(owners: Client) -> None:
    owners.post(reverse("decide-closed"), {"year": str(YEAR), "closed": [CHRISTMAS.isoformat()]})
    assert list(closed_days(dt.date(YEAR, 1, 1), dt.date(YEAR, 12, 31))) == [CHRISTMAS]
    assert ClosedDay.objects.get(day=FOURTH).open_anyway
    assert Change.objects.exists()
    assert "not decided" not in text(owners.get(CLOSED, {"year": YEAR}))


def test_only_proposed_days_can_be_decided(owners: Client) -> None:
    owners.post(reverse("decide-closed"), {"closed": ["2031-01-15", "x", f"{YEAR}-02-30"]})
    assert not ClosedDay.objects.filter(open_anyway=False).exists()


def test_the_shop_closes_a_stretch_of_its_own_and_opens_a_day_again(owners: Client) -> None:
    add(owners, first=f"{YEAR}-08-03", last=f"{YEAR}-08-05")
    assert ClosedDay.objects.count() == 3
    assert "Inventory" in text(owners.get(f"{CLOSED}?year={YEAR}"))
    owners.post(reverse("remove-closed", args=[ClosedDay.objects.first().pk]))
    assert ClosedDay.objects.count() == 2


def test_one_day_needs_no_last_day(owners: Client) -> None:
    add(owners, first=f"{YEAR}-08-03")
    assert ClosedDay.objects.get().day == dt.date(YEAR, 8, 3)


@pytest.mark.parametrize(
    ("data", "word"),
    [
        ({"first": f"{YEAR}-08-05", "last": f"{YEAR}-08-03"}, "before the first"),
        ({"first": f"{YEAR}-08-05", "last": f"{YEAR + 2}-08-03"}, "more than 60 days"),
        ({"first": "someday"}, "Write a date"),
        ({"first": f"{YEAR}-08-05", "name": ""}, "Fill this in"),
    ],
)
def test_days_that_cannot_be_closed_are_refused(
    owners: Client, data: dict[str, str], word: str
) -> None:
    answer = add(owners, **data)
    assert answer.status_code == 422
    assert word in text(answer)
    assert data["first"] in answer.content.decode()
    assert not ClosedDay.objects.exists()


@pytest.mark.parametrize("year", ["", "abc", "99999", "-1", "٢٠٢٦"])
def test_a_senseless_year_shows_one_that_is_near(owners: Client, year: str) -> None:
    assert owners.get(CLOSED, {"year": year}).status_code == 200
