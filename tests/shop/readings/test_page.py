from __future__ import annotations

import datetime as dt
import re
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from shop.models import Change, Person, Reading, Role, Room
from shop.services.sensors import add_sensor
from tests.factories import make_person, make_readings, make_room, make_shop

pytestmark = pytest.mark.django_db

HOUR = dt.timedelta(hours=1)


@pytest.fixture
def room() -> Room:
    make_shop()
    return make_room()


@pytest.fixture
def owner() -> Person:
    return make_person(Role.OWNER)


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.fixture
def client(room: Room, owner: Person) -> Client:
    return signed_in(owner)


def text_of(answer: Any) -> str:
    return re.sub(r"\s+", " ", answer.content.decode())


def test_the_latest_reading_is_shown_with_its_time_and_source(client: Client, room: Room) -> None:
    sensor, _ = add_sensor(name="By the tables", room=room)
    Reading.objects.create(
        room=room,
        at=timezone.now() - HOUR,
        celsius=14.44,
        humidity=0.52,
        source="sensor",
        sensor=sensor,
    )
    page = text_of(client.get("/readings/"))
    assert "58 °F" in page
    assert "52 % humidity" in page
    assert "By the tables" in page
    assert "No reading since" not in page


def test_a_sensor_that_stopped_is_flagged_with_the_time(client: Client, room: Room) -> None:
    make_readings(room, timezone.now() - 12 * HOUR, 4, celsius=15.0)
    page = text_of(client.get("/readings/"))
    assert re.search(
        r"No reading since \w{3} \d+ \w{3} \d\d:\d\d: what follows is expected, not measured\.",
        page,
    )


def test_a_room_that_never_had_a_reading_says_so(client: Client) -> None:
    assert "No reading yet" in text_of(client.get("/readings/"))


def test_a_hole_in_the_readings_is_said(client: Client, room: Room) -> None:
    now = timezone.now()
    make_readings(room, now - 30 * HOUR, 6)
    make_readings(room, now - 12 * HOUR, 12)
    assert "bridged by the expected temperature" in text_of(client.get("/readings/"))


def test_measured_and_expected_are_drawn_apart(client: Client, room: Room) -> None:
    make_readings(room, timezone.now() - 48 * HOUR, 48)
    page = text_of(client.get("/readings/"))
    assert '<polyline class="measured"' in page
    assert '<polyline class="expected"' in page


def test_a_shop_without_rooms_says_what_to_do(client: Client) -> None:
    Room.objects.all().delete()
    assert "The owner adds rooms" in text_of(client.get("/readings/"))


@pytest.mark.parametrize(
    "query", ["?page=0", "?page=-1", "?page=x", "?page=99999999", "?room=99", "?room='", "?page=²"]
)
def test_nonsense_in_the_address_shows_the_page(client: Client, query: str) -> None:
    assert client.get("/readings/" + query).status_code == 200


def test_older_readings_are_a_page_away(client: Client, room: Room) -> None:
    make_readings(room, timezone.now() - 20 * HOUR, 20, every_minutes=30)
    first, last = client.get("/readings/"), client.get("/readings/?page=2")
    assert [len(answer.context["recent"].rows) for answer in (first, last)] == [25, 16]
    assert (first.context["recent"].older, last.context["recent"].older) == (2, None)


def test_more_rooms_and_readings_take_as_many_queries(client: Client, room: Room) -> None:
    def count() -> int:
        with CaptureQueriesContext(connection) as queries:
            assert client.get("/readings/").status_code == 200
        return len(queries)

    make_readings(room, timezone.now() - 5 * HOUR, 5, source="file")
    count()
    few = count()
    for number in range(6):
        other = make_room(f"Room {number}")
        make_readings(other, timezone.now() - 48 * HOUR, 47)
    make_readings(room, timezone.now() - 40 * HOUR, 30, source="hand")
    assert count() == few


def by_hand(client: Client, room: Room, /, **fields: str) -> Any:
    local = timezone.localtime(timezone.now(), make_shop().zone) - HOUR
    values = {
        "room": str(room.pk),
        "celsius": "58 °F",
        "at_0": f"{local:%Y-%m-%d}",
        "at_1": f"{local:%H:%M}",
        "humidity": "",
        **fields,
    }
    return client.post("/readings/by-hand/", values)


def test_a_thermometer_on_the_wall_is_read_in_the_shops_unit_or_its_own(
    client: Client, room: Room, owner: Person
) -> None:
    assert by_hand(client, room).status_code == 302
    reading = Reading.objects.get()
    assert reading.celsius == pytest.approx(14.444, abs=1e-3)
    assert (reading.source, reading.by) == ("hand", owner)
    assert Change.objects.count() == 1
    by_hand(client, room, celsius="58", at_0="2026-01-05", at_1="06:40", humidity="55")
    other = Reading.objects.earliest("at")
    assert (other.celsius, other.humidity) == (pytest.approx(14.444, abs=1e-3), 0.55)


def test_the_clock_time_is_the_shops(client: Client, room: Room) -> None:
    yesterday = timezone.localdate(timezone=make_shop().zone) - dt.timedelta(days=1)
    by_hand(client, room, at_0=yesterday.isoformat(), at_1="6:40")
    expected = dt.datetime.combine(yesterday, dt.time(6, 40), tzinfo=make_shop().zone)
    assert Reading.objects.get().at == expected


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"celsius": "warm"}, "is not a number"),
        ({"celsius": "58 bar"}, "is not a unit"),
        ({"celsius": "900"}, "outside -40 to 60"),
        ({"celsius": ""}, "Fill this in"),
        ({"celsius": "1" * 400}, "ordinary number"),
        ({"humidity": "130"}, "Between 0 and 100"),
        ({"at_0": "2099-01-01"}, "in the future"),
        ({"at_0": "soon"}, "Write a date"),
        ({"at_1": "25:00"}, "Write a time"),
        ({"at_0": "1026-01-01"}, "days ago"),
        ({"room": "999"}, "Choose another"),
    ],
)
def test_a_reading_that_cannot_be_is_refused_and_nothing_typed_is_lost(
    client: Client, room: Room, fields: dict[str, str], said: str
) -> None:
    answer = by_hand(client, room, **fields)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    (value,) = fields.values()
    if "room" not in fields:
        assert value in answer.content.decode()
    assert not Reading.objects.exists()


def test_a_time_of_the_night_the_clocks_go_back_asks_which(client: Client, room: Room) -> None:
    year = timezone.now().year - (timezone.now().month < 12)
    first = dt.date(year, 11, 1)
    night = (first + dt.timedelta(days=(6 - first.weekday()) % 7)).isoformat()
    answer = by_hand(client, room, at_0=night, at_1="01:30")
    assert answer.status_code == 422
    assert "the second, CST" in answer.content.decode()
    assert by_hand(client, room, at_0=night, at_1="01:30", at_2="1").status_code == 302
    assert Reading.objects.get().at.isoformat() == f"{night}T07:30:00+00:00"


def test_in_a_celsius_shop_a_bare_58_looks_like_fahrenheit_and_58_c_is_believed(
    client: Client, room: Room
) -> None:
    make_shop(units="si")
    answer = by_hand(client, room, celsius="58")
    assert "looks like Fahrenheit" in answer.content.decode()
    assert by_hand(client, room, celsius="58 °C").status_code == 302


def test_two_values_for_one_moment_are_refused_saying_both(client: Client, room: Room) -> None:
    by_hand(client, room, at_0="2026-01-05", at_1="06:40")
    answer = by_hand(client, room, at_0="2026-01-05", at_1="06:40", celsius="70")
    assert answer.status_code == 422
    assert "already has 14.4 °C (58 °F) at 2026-01-05 06:40:00 CST" in answer.content.decode()
    assert "this one says 21.1 °C (70 °F)" in answer.content.decode()


def reading_by(person: Person | None, room: Room, source: str) -> Reading:
    return Reading.objects.create(
        room=room, at=timezone.now() - HOUR, celsius=15.0, source=source, by=person
    )


@pytest.mark.parametrize("source", ["hand", "file"])
def test_the_owner_removes_what_a_person_entered_after_seeing_who(
    client: Client, room: Room, source: str
) -> None:
    reading = reading_by(make_person(Role.CREW, name="Rosa Telles"), room, source)
    question = client.get(f"/readings/{reading.pk}/remove/")
    assert "Rosa Telles" in question.content.decode()
    assert Reading.objects.exists()
    assert client.post(f"/readings/{reading.pk}/remove/").status_code == 302
    assert not Reading.objects.exists()
    assert Change.objects.count() == 1


def test_what_a_sensor_measured_stays(client: Client, room: Room) -> None:
    reading = reading_by(None, room, "sensor")
    assert client.post(f"/readings/{reading.pk}/remove/").status_code == 404
    assert Reading.objects.exists()


@pytest.mark.parametrize("role", [Role.CREW, Role.OFFICE])
def test_only_the_owner_removes_and_keeps_sensors(room: Room, role: str) -> None:
    client = signed_in(make_person(role))
    reading = reading_by(None, room, "hand")
    assert client.post(f"/readings/{reading.pk}/remove/").status_code == 403
    assert client.get("/readings/sensors/").status_code == 403
    assert client.get("/readings/").status_code == 200
    assert by_hand(client, room).status_code == 302


def test_nobody_who_is_not_signed_in_sees_the_air(room: Room) -> None:
    assert Client().get("/readings/").status_code == 302


class TestSensors:
    def test_without_a_room_the_form_says_what_comes_first(
        self, client: Client, room: Room
    ) -> None:
        said = "There is no room in use yet."
        assert said not in client.get("/readings/sensors/").content.decode()
        Room.objects.update(in_use=False)
        assert said in client.get("/readings/sensors/").content.decode()

    def test_the_token_is_shown_once_and_works(self, client: Client, room: Room) -> None:
        answer = client.post("/readings/sensors/", {"name": "By the tables", "room": room.pk})
        token = answer.context["token"]
        assert answer.content.decode().count(token) >= 2
        assert "no-store" in answer["Cache-Control"]
        assert token not in client.get("/readings/sensors/").content.decode()
        sent = Client().post(
            "/api/readings", '[{"n":"t","u":"Cel","v":18}]', content_type="application/senml+json",
            headers={"Authorization": f"Bearer {token}"},
        )  # fmt: skip
        assert sent.json() == {"taken": 1, "already": 0}

    def test_the_example_on_the_page_is_taken(self, client: Client, room: Room) -> None:
        page = client.post("/readings/sensors/", {"name": "By the tables", "room": room.pk})
        token = page.context["token"]
        body = re.search(r"-d &#x27;(.*?)&#x27;|-d '(.*?)'", page.content.decode(), re.DOTALL)
        assert body is not None
        sent = Client().post(
            "/api/readings", body[1] or body[2], content_type="application/senml+json",
            headers={"Authorization": f"Bearer {token}"},
        )  # fmt: skip
        assert sent.json() == {"taken": 1, "already": 0}

    def test_a_name_that_is_taken_is_refused_and_kept(self, client: Client, room: Room) -> None:
        add_sensor(name="By the tables", room=room)
        answer = client.post("/readings/sensors/", {"name": "by the tables", "room": room.pk})
        assert answer.status_code == 422
        assert 'value="by the tables"' in answer.content.decode()

    def test_a_new_token_ends_the_old_one(self, client: Client, room: Room) -> None:
        sensor, old = add_sensor(name="By the tables", room=room)
        new = client.post(f"/readings/sensors/{sensor.pk}/renew/").context["token"]
        for token, status in ((old, 401), (new, 200)):
            sent = Client().post(
                "/api/readings", '[{"n":"t","u":"Cel","v":18}]', content_type="application/senml+json",
                headers={"Authorization": f"Bearer {token}"},
            )  # fmt: skip
            assert sent.status_code == status

    def test_a_withdrawn_sensor_stays_listed_and_its_readings_too(
        self, client: Client, room: Room
    ) -> None:
        sensor, _ = add_sensor(name="By the tables", room=room)
        Reading.objects.create(
            room=room, at=timezone.now(), celsius=15, source="sensor", sensor=sensor
        )
        client.post(f"/readings/sensors/{sensor.pk}/withdraw/")
        assert "(withdrawn)" in text_of(client.get("/readings/sensors/"))
        assert Reading.objects.count() == 1
