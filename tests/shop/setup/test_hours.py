from __future__ import annotations

import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse

from shop.models import Change, WorkingHours
from shop.services import setup
from shop.services.setup import Stretch
from tests.shop.setup.helpers import text, typed

ADDRESS = "/shop/hours/edit/"
MORNING = {"d0-0-starts": "07:00", "d0-0-ends": "12:00", "d0-0-people": "3"}


def week() -> list[tuple[int, str, str, int]]:
    return [
        (w.weekday, f"{w.starts:%H:%M}", f"{w.ends:%H:%M}", w.people)
        for w in WorkingHours.objects.all()
    ]


def test_a_day_can_have_several_stretches_and_others_follow_it(owners: Client) -> None:
    changes = {
        **MORNING,
        "d0-1-starts": "12:30",
        "d0-1-ends": "15:30",
        "d0-1-people": "2",
        "same1": "on",
    }
    assert owners.post(ADDRESS, typed(owners.get(ADDRESS), **changes)).status_code == 302
    assert week() == [
        (0, "07:00", "12:00", 3), (0, "12:30", "15:30", 2), (1, "07:00", "12:00", 3), (1, "12:30", "15:30", 2),
    ]  # fmt: skip
    assert Change.objects.exists()
    assert "07:00–12:00, 3 people" in text(owners.get(reverse("hours")))


def test_stretches_that_only_touch_are_taken(owners: Client) -> None:
    changes = {**MORNING, "d0-1-starts": "12:00", "d0-1-ends": "15:30", "d0-1-people": "2"}
    assert owners.post(ADDRESS, typed(owners.get(ADDRESS), **changes)).status_code == 302
    assert len(week()) == 2


@pytest.mark.parametrize(
    ("changes", "word"),
    [
        (
            {**MORNING, "d0-1-starts": "11:00", "d0-1-ends": "15:30", "d0-1-people": "2"},
            "07:00–12:00 and 11:00–15:30 overlap",
        ),
        ({**MORNING, "d0-1-starts": "07:00", "d0-1-ends": "15:30", "d0-1-people": "2"}, "overlap"),
        ({**MORNING, "d0-0-ends": "06:00"}, "Ends before it begins"),
        ({**MORNING, "d0-0-ends": ""}, "Say from when to when"),
        ({**MORNING, "d0-0-people": ""}, "How many people?"),
        ({**MORNING, "d0-0-people": "0"}, "At least 1"),
        ({**MORNING, "d0-0-starts": "27:00"}, "Write a time"),
    ],
)
def test_stretches_that_cannot_be_are_refused_and_kept(
    owners: Client, changes: dict[str, str], word: str
) -> None:
    answer = owners.post(ADDRESS, typed(owners.get(ADDRESS), **changes))
    assert answer.status_code == 422
    assert word in text(answer)
    shown = typed(answer)
    assert all(shown[name] == value for name, value in changes.items())
    assert week() == []


def test_a_week_changed_meanwhile_is_shown(owners: Client) -> None:
    mine = typed(owners.get(ADDRESS), **MORNING)
    late = Stretch(4, dt.time(8), dt.time(11), 1)
    setup.set_working_week(seen=setup.edition([]), week=[late])
    answer = owners.post(ADDRESS, mine)
    assert answer.status_code == 409
    assert "Friday 08:00–11:00, 1" in text(answer)
    assert owners.post(ADDRESS, typed(answer)).status_code == 302
    assert week() == [(0, "07:00", "12:00", 3)]


def test_emptying_a_day_makes_it_free(owners: Client) -> None:
    owners.post(ADDRESS, typed(owners.get(ADDRESS), **MORNING))
    owners.post(ADDRESS, typed(owners.get(ADDRESS), **dict.fromkeys(MORNING, "")))
    assert week() == []
    assert "No hours yet" in text(owners.get(reverse("hours")))
