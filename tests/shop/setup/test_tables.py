"""Casting tables: listed, added, changed, taken out of use, deleted."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from shop import defaults
from shop.models import CastingTable, Room
from shop.services.errors import Refused
from shop.services.rows import delete
from tests.factories import make_room
from tests.shop.setup.helpers import text, typed


@pytest.fixture
def room(db: None) -> Room:
    return make_room()


@pytest.fixture
def table(room: Room) -> CastingTable:
    return CastingTable.objects.create(name="Long table", room=room)


def test_without_rooms_the_list_says_what_comes_first(owners: Client) -> None:
    said = text(owners.get(reverse("tables")))
    assert "add the room first" in said
    assert "Add a table" not in said


def test_the_first_room_brings_the_two_usual_tables(owners: Client) -> None:
    for name in ("Casting room", "Booth"):
        address = reverse("new-room")
        sent = typed(owners.get(address), name=name, usual_celsius="65", usual_humidity="50")
        assert owners.post(address, sent).status_code == 302
    rows = CastingTable.objects.order_by("name").values_list("room__name", "length_m", "width_m")
    # 10 x 5 ft and 8 x 4 ft; a foot is 0.3048 m.
    assert [(name, round(a / 0.3048), round(b / 0.3048)) for name, a, b in rows] == [
        ("Casting room", 10, 5),
        ("Casting room", 8, 4),
    ]
    assert [row["name"] for row in defaults.TABLES] == ["Table 1", "Table 2"]


def test_a_table_is_typed_in_inches_or_feet_and_kept_in_metres(owners: Client, room: Room) -> None:
    address = reverse("new-table")
    sent = typed(owners.get(address), name="Sink table", length_m="6'", width_m="30 1/2")
    assert sent["room"] == str(room.pk)  # the only one is offered
    assert owners.post(address, sent).status_code == 302
    made = CastingTable.objects.get()
    assert (made.length_m, made.width_m) == pytest.approx((1.8288, 0.7747))
    said = text(owners.get(reverse("tables")))
    assert "Sink table" in said
    assert "30 1/2 in × 72 in" in said


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"name": ""}, "Fill this in"),
        ({"name": "Long table"}, "already exists"),
        ({"length_m": "5"}, "At least 11 13/16 in"),
        ({"width_m": "900"}, "At most 787 3/8 in"),
        ({"width_m": "wide"}, "not a length"),
        ({"room": "999"}, "Choose another"),
    ],
)
def test_what_cannot_be_is_refused_and_kept(
    owners: Client, table: CastingTable, change: dict[str, str], word: str
) -> None:
    address = reverse("new-table")
    answer = owners.post(address, {**typed(owners.get(address), name="Other"), **change})
    assert answer.status_code == 422
    assert word in text(answer)
    if "room" not in change:
        assert typed(answer)[next(iter(change))] == next(iter(change.values()))
    assert CastingTable.objects.count() == 1


def test_out_of_use_it_rests_on_the_list(owners: Client, table: CastingTable) -> None:
    address = reverse("table", args=[table.pk])
    owners.post(address, typed(owners.get(address), in_use=None))
    table.refresh_from_db()
    assert not table.in_use
    assert "out of use" in text(owners.get(reverse("tables")))


def test_two_owners_at_one_table_are_told(owners: Client, table: CastingTable) -> None:
    address = reverse("table", args=[table.pk])
    other = make_room("Back room")
    mine = typed(owners.get(address), name="Window table")
    owners.post(address, typed(owners.get(address), room=str(other.pk)))
    answer = owners.post(address, mine)
    assert answer.status_code == 409
    assert "Stands in : now Back room" in text(answer)
    again = typed(answer)
    assert (again["name"], again["room"]) == ("Window table", str(other.pk))
    assert owners.post(address, again).status_code == 302


def test_a_table_is_deleted_and_holds_its_room(owners: Client, table: CastingTable) -> None:
    with pytest.raises(Refused, match="casting tables, so it stays"):
        delete(Room, table.room_id)
    owners.post(reverse("delete-table", args=[table.pk]))
    assert not CastingTable.objects.exists()


def test_the_list_takes_no_more_queries_for_more_tables(owners: Client, room: Room) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            owners.get(reverse("tables"))
        return len(seen)

    CastingTable.objects.create(name="T0", room=room)
    few = queries()
    CastingTable.objects.bulk_create(CastingTable(name=f"T{n}", room=room) for n in range(1, 12))
    assert queries() == few
