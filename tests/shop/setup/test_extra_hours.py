"""Extra hours on the page of the working hours: added, listed, taken back."""

from __future__ import annotations

import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse

from shop.models import Change, ExtraHours, Role
from tests.factories import make_person, make_working_week
from tests.shop.setup.helpers import text, today, typed

HOURS, ADD = "/shop/hours/", "/shop/hours/extra/"


def next_saturday() -> dt.date:
    return today() + dt.timedelta(days=(5 - today().weekday()) % 7 or 7)


def sent(owners: Client, **changes: str) -> dict[str, str]:
    day = str(next_saturday())
    usual = {"day": day, "starts": "08:00", "ends": "12:00", "reason": "Kitchen island"}
    return typed(owners.get(HOURS), ADD, **{**usual, **changes})


def test_a_saturday_is_added_listed_and_taken_back(owners: Client) -> None:
    make_working_week()
    assert "None to come." in text(owners.get(HOURS))
    assert owners.post(ADD, sent(owners)).status_code == 302
    row = ExtraHours.objects.get()
    assert (row.day, row.starts, row.ends) == (next_saturday(), dt.time(8), dt.time(12))
    assert Change.objects.filter(reason="extra hours added").exists()
    assert "08:00–12:00 Kitchen island" in text(owners.get(HOURS))
    assert "extra on 1 day" in text(owners.get(reverse("setup")))
    owners.post(reverse("remove-extra", args=[row.pk]))
    assert not ExtraHours.objects.exists()


def test_hours_that_are_over_are_not_listed(owners: Client) -> None:
    yesterday = today() - dt.timedelta(days=1)
    ExtraHours.objects.create(day=yesterday, starts=dt.time(8), ends=dt.time(9), reason="Past")
    assert "Past" not in text(owners.get(HOURS))


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"day": "2020-01-04"}, "That day is over"),
        ({"day": "someday"}, "Write a date"),
        ({"ends": "07:00"}, "Ends before it begins"),
        ({"starts": ""}, "Give a time"),
        ({"starts": "25:00"}, "Write a time"),
    ],
)
def test_hours_that_cannot_be_are_refused_and_kept(
    owners: Client, change: dict[str, str], word: str
) -> None:
    answer = owners.post(ADD, sent(owners, **change))
    assert answer.status_code == 422
    assert word in text(answer)
    again = typed(answer, ADD)
    assert again["reason"] == "Kitchen island"
    ((name, value),) = change.items()
    assert again[name] == value
    assert not ExtraHours.objects.exists()


def test_the_same_hours_twice_are_refused(owners: Client) -> None:
    owners.post(ADD, sent(owners))
    answer = owners.post(ADD, sent(owners))
    assert answer.status_code == 422
    assert "There are extra hours from 08:00 to 12:00 on that day" in text(answer)


def test_the_office_sees_them_and_adds_none(signed_in, shop) -> None:  # type: ignore[no-untyped-def]
    office = signed_in(make_person(Role.OFFICE))
    ExtraHours.objects.create(
        day=next_saturday(), starts=dt.time(8), ends=dt.time(9), reason="Rush"
    )
    page = office.get(HOURS).content.decode()
    assert "Rush" in page
    assert ADD not in page
