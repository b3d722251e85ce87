from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from shop.models import Change, PlannedAir, Reading, Room, Shop
from shop.services import setup
from shop.services.setup import AirFrom
from shop.setup.picture import step_picture, week_of
from tests.factories import make_room
from tests.shop.setup.helpers import text, typed


def plan_of(room: Room) -> list[tuple[int, int, float]]:
    return [(p.weekday, p.hour, round(p.celsius, 3)) for p in PlannedAir.objects.filter(room=room)]


def test_an_empty_shop_is_told_why_it_needs_a_room(owners: Client) -> None:
    assert "No rooms yet" in text(owners.get(reverse("rooms")))


def test_a_room_is_added_in_the_shops_degrees(owners: Client) -> None:
    data = {"name": "North bay", "usual_celsius": "59", "usual_humidity": "45", "in_use": "on"}
    answer = owners.post(reverse("new-room"), data)
    room = Room.objects.get(name="North bay")
    assert answer["Location"] == reverse("room-air", args=[room.pk])
    assert room.usual_celsius == pytest.approx(15.0)
    assert room.usual_humidity == pytest.approx(0.45)
    assert Change.objects.exists()


def test_a_second_room_of_the_name_is_refused_and_keeps_what_was_typed(owners: Client) -> None:
    make_room("North bay")
    data = {"name": "North bay", "usual_celsius": "61", "usual_humidity": "45"}
    answer = owners.post(reverse("new-room"), data)
    assert answer.status_code == 422
    assert 'value="61"' in answer.content.decode()
    assert Room.objects.count() == 1


def test_the_second_saver_is_told_what_changed_and_loses_nothing(owners: Client) -> None:
    room = make_room("North bay", celsius=20.0)
    address = reverse("room", args=[room.pk])
    mine = typed(owners.get(address), name="North hall", usual_celsius="70")
    theirs = typed(owners.get(address), usual_celsius="50", usual_humidity="30")
    assert owners.post(address, theirs).status_code == 302
    answer = owners.post(address, mine)
    assert answer.status_code == 409
    said = text(answer)
    assert "now 50 °F, yours is 70 °F" in said
    assert "now 30 %. You had not touched it" in said
    room.refresh_from_db()
    assert (room.name, room.usual_celsius) == ("North bay", pytest.approx(10.0))
    again = typed(answer)
    assert (again["name"], again["usual_celsius"], again["usual_humidity"]) == (
        "North hall",
        "70",
        "30",
    )
    assert owners.post(address, again).status_code == 302
    room.refresh_from_db()
    assert (room.name, room.usual_humidity) == ("North hall", pytest.approx(0.3))


def test_a_form_without_its_version_changes_nothing(owners: Client) -> None:
    room = make_room("North bay")
    data = {"name": "Taken over", "usual_celsius": "61", "usual_humidity": "45"}
    assert owners.post(reverse("room", args=[room.pk]), data).status_code == 409
    assert (
        owners.post(
            reverse("room", args=[room.pk]), data | {"version": "1", "seen": "[[["}
        ).status_code
        == 302
    )


def test_an_unused_room_is_deleted_and_one_with_readings_stays(owners: Client) -> None:
    idle, busy = make_room("Idle"), make_room("Busy")
    Reading.objects.create(room=busy, at=timezone.now(), celsius=12.0, source="hand")
    owners.post(reverse("delete-room", args=[idle.pk]))
    answer = owners.post(reverse("delete-room", args=[busy.pk]), follow=True)
    assert list(Room.objects.values_list("name", flat=True)) == ["Busy"]
    assert "Take it out of use instead" in text(answer)


def test_the_set_back_starts_from_the_rooms_own_plan(owners: Client) -> None:
    room = make_room("Casting room")
    address = reverse("room-air", args=[room.pk])
    assert initial_set_back(owners, address) == (["0", "1", "2", "3", "4"], 6, 20.0, 18)
    own = [(weekday, 5, 20.0) for weekday in (0, 2)] + [(weekday, 18, 16.0) for weekday in (0, 2)]
    PlannedAir.objects.filter(room=room).delete()
    for weekday, hour, celsius in [*own, (5, 9, 12.0)]:
        PlannedAir.objects.create(room=room, weekday=weekday, hour=hour, celsius=celsius)
    assert initial_set_back(owners, address) == (["0", "2"], 5, 20.0, 18)
    assert 'value="60.8"' in owners.get(address).content.decode()


def initial_set_back(owners: Client, address: str) -> tuple[object, ...]:
    form = owners.get(address).context["set_back"]
    names = ("days", "day_from", "day_celsius", "night_from")
    return tuple(form.get_initial_for_field(form.fields[name], name) for name in names)


def test_a_set_back_is_laid_out_on_the_ticked_weekdays_only(owners: Client) -> None:
    room = make_room()
    PlannedAir.objects.create(room=room, weekday=5, hour=0, celsius=8.0)
    PlannedAir.objects.create(room=room, weekday=1, hour=3, celsius=9.0)
    data = {
        "days": ["0", "1"],
        "day_from": "6",
        "day_celsius": "68",
        "night_from": "18",
        "night_celsius": "50",
    }
    assert owners.post(reverse("set-back", args=[room.pk]), data).status_code == 302
    assert plan_of(room) == [(0, 6, 20.0), (0, 18, 10.0), (1, 6, 20.0), (1, 18, 10.0), (5, 0, 8.0)]


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"night_from": "6"}, "same hour"),
        ({"days": []}, "Choose at least one"),
        ({"day_from": "24"}, "23"),
        ({"day_celsius": "400"}, "At most 140 °F"),
    ],
)
def test_a_set_back_that_cannot_be_is_refused(
    owners: Client, change: dict[str, object], word: str
) -> None:
    room = make_room()
    data = {
        "days": ["0"],
        "day_from": "6",
        "day_celsius": "68",
        "night_from": "18",
        "night_celsius": "50",
    }
    answer = owners.post(reverse("set-back", args=[room.pk]), data | change)
    assert answer.status_code == 422
    assert word in text(answer)
    assert not PlannedAir.objects.exists()


def test_as_the_day_before_copies_its_rows(owners: Client) -> None:
    room = make_room()
    address = reverse("room-air", args=[room.pk])
    changes = {"d0-0-hour": "6", "d0-0-celsius": "68", "same1": "on", "same2": "on"}
    assert owners.post(address, typed(owners.get(address), address, **changes)).status_code == 302
    assert plan_of(room) == [(0, 6, 20.0), (1, 6, 20.0), (2, 6, 20.0)]
    shown = typed(owners.get(address), address)
    assert (shown["same1"], shown["same2"], "same3" in shown) == (["on"], ["on"], False)


@pytest.mark.parametrize(
    ("changes", "word"),
    [
        ({"d0-0-hour": "6"}, "Which temperature?"),
        ({"d0-0-celsius": "60"}, "From which hour on?"),
        (
            {"d0-0-hour": "6", "d0-0-celsius": "68", "d0-1-hour": "6", "d0-1-celsius": "50"},
            "same hour",
        ),
        ({"d6-0-hour": "99", "d6-0-celsius": "68"}, "can't be chosen"),
        ({"d0-0-hour": "6", "d0-0-celsius": "sixty"}, "not a number"),
    ],
)
def test_rows_that_make_no_plan_are_refused_with_all_typed_kept(
    owners: Client, changes: dict[str, str], word: str
) -> None:
    room = make_room()
    address = reverse("room-air", args=[room.pk])
    answer = owners.post(address, typed(owners.get(address), address, **changes))
    assert answer.status_code == 422
    assert word in text(answer)
    shown = typed(answer, address)
    assert all(shown[name] == value for name, value in changes.items() if value != "99")
    assert not PlannedAir.objects.exists()


def test_a_plan_changed_meanwhile_is_shown_and_what_was_typed_is_kept(owners: Client) -> None:
    room = make_room()
    address = reverse("room-air", args=[room.pk])
    mine = typed(owners.get(address), address, **{"d0-0-hour": "6", "d0-0-celsius": "68"})
    setup.plan_air(room_id=room.pk, seen=setup.edition([]), plan=[AirFrom(3, 7, 15.0)])
    answer = owners.post(address, mine)
    assert answer.status_code == 409
    assert "Thursday 07:00 59 °F" in text(answer)
    again = typed(answer, address)
    assert again["d0-0-celsius"] == "68"
    assert owners.post(address, again).status_code == 302
    assert plan_of(room) == [(0, 6, 20.0)]


@pytest.mark.parametrize(
    "broken", [{}, {"seen": "x" * 50}, {"d0-TOTAL_FORMS": "999999999", "d0-INITIAL_FORMS": "-1"}]
)
def test_a_mangled_week_changes_nothing(owners: Client, broken: dict[str, str]) -> None:
    room = make_room()
    PlannedAir.objects.create(room=room, weekday=0, hour=0, celsius=8.0)
    answer = owners.post(reverse("room-air", args=[room.pk]), broken)
    assert answer.status_code in {409, 422}
    assert plan_of(room) == [(0, 0, 8.0)]


def test_sundays_last_row_holds_until_mondays_first() -> None:
    steps = week_of([AirFrom(0, 6, 20.0), AirFrom(6, 18, 9.0)], usual=15.0)
    assert steps == [(0.0, 9.0), (6.0, 20.0), (162.0, 9.0)]


def test_a_room_without_a_plan_is_drawn_flat_at_its_usual_temperature() -> None:
    shop = Shop(pk=1, name="Test shop", units="us")
    picture = step_picture([], 20.0, shop)
    assert "V" not in picture.path
    assert [level.words for level in picture.levels] == ["68 °F"]


def test_twenty_rooms_take_as_many_queries_as_ten(owners: Client) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    counts = []
    for first, last in ((0, 10), (10, 20)):
        for number in range(first, last):
            room = make_room(f"Room {number}")
            PlannedAir.objects.create(room=room, weekday=0, hour=0, celsius=8.0)
        with CaptureQueriesContext(connection) as caught:
            owners.get(reverse("rooms"))
        counts.append(len(caught))
    assert counts[0] == counts[1]


def test_a_plan_for_every_hour_of_a_day_can_be_saved_again(owners: Client) -> None:
    room = make_room()
    for hour in range(24):
        PlannedAir.objects.create(room=room, weekday=0, hour=hour, celsius=10.0 + hour / 2)
    before = plan_of(room)
    address = reverse("room-air", args=[room.pk])
    assert owners.post(address, typed(owners.get(address), address)).status_code == 302
    assert plan_of(room) == before


def test_a_room_says_how_its_air_moves(owners: Client) -> None:
    room = make_room("North bay")
    address = reverse("room", args=[room.pk])
    shown = owners.get(address)
    assert "a fan on fresh concrete 6.7 mph" in text(shown)
    assert typed(shown)["air_speed"] == "0.67"
    assert owners.post(address, typed(shown, air_speed="5")).status_code == 302
    room.refresh_from_db()
    assert room.air_speed == pytest.approx(2.2352)
    assert "At most 25.1 mph" in text(owners.post(address, typed(shown, air_speed="40")))
    assert owners.post(address, typed(owners.get(address), air_speed="")).status_code == 302
    room.refresh_from_db()
    assert room.air_speed == 0.3
