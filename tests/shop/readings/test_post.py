from __future__ import annotations

import datetime as dt
import json
import threading
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.utils import timezone

from shop.models import Change, Reading, Room, Sensor
from shop.readings.api import BODY_LIMIT
from shop.services.sensors import add_sensor, renew_token, token_hash, withdraw
from tests.factories import make_room, make_shop

pytestmark = pytest.mark.django_db

ADDRESS = "/api/readings"


@pytest.fixture
def room() -> Room:
    make_shop()
    return make_room(celsius=18.0)


@pytest.fixture
def sensor(room: Room) -> tuple[Sensor, str]:
    return add_sensor(name="By the tables", room=room)


def post(token: str, pack: Any, **more: Any) -> tuple[int, dict[str, Any]]:
    body = pack if isinstance(pack, bytes | str) else json.dumps(pack)
    more.setdefault("content_type", "application/senml+json")
    more.setdefault("path", ADDRESS)
    answer = Client(enforce_csrf_checks=True).post(
        more.pop("path"), body, headers={"Authorization": f"Bearer {token}"}, **more
    )
    assert answer["Content-Type"] == "application/json"
    return answer.status_code, answer.json()


def pack_of(*values: float, start: float | None = None, **fields: Any) -> list[dict[str, Any]]:
    start = timezone.now().timestamp() // 60 * 60 - 3600 if start is None else start
    records = [{"n": "t", "u": "Cel", "t": 60 * place, "v": v} for place, v in enumerate(values)]
    return [{"bn": "s:", "bt": start, **fields}, *records]


def test_a_pack_is_taken(sensor: tuple[Sensor, str], room: Room) -> None:
    status, answer = post(sensor[1], pack_of(18.4, 18.2))
    assert (status, answer) == (200, {"taken": 2, "already": 0})
    reading = Reading.objects.order_by("at").first()
    assert reading is not None
    assert (reading.room, reading.celsius, reading.sensor, reading.source) == (
        room, 18.4, sensor[0], "sensor",
    )  # fmt: skip
    assert Change.objects.count() == 1


def test_the_sensor_is_marked_as_heard(sensor: tuple[Sensor, str]) -> None:
    before = timezone.now()
    post(sensor[1], pack_of(18.4))
    sensor[0].refresh_from_db()
    assert sensor[0].last_heard is not None
    assert sensor[0].last_heard >= before


@pytest.mark.parametrize("path", ["/api/readings", "/api/readings/"])
@pytest.mark.parametrize("kind", ["application/senml+json", "application/json; charset=utf-8"])
def test_with_and_without_a_slash_and_as_plain_json(
    sensor: tuple[Sensor, str], path: str, kind: str
) -> None:
    assert post(sensor[1], pack_of(18.4), path=path, content_type=kind)[0] == 200


def test_temperature_and_humidity_of_one_moment_are_one_reading(sensor: tuple[Sensor, str]) -> None:
    pack = [{"bn": "s:", "n": "t", "u": "Cel", "v": 18.4}, {"n": "h", "u": "%RH", "v": 52}]
    assert post(sensor[1], pack) == (200, {"taken": 1, "already": 0})
    assert Reading.objects.get().humidity == 0.52


def test_kelvin_is_converted(sensor: tuple[Sensor, str]) -> None:
    post(sensor[1], [{"n": "t", "u": "K", "v": 291.55}])
    assert Reading.objects.get().celsius == pytest.approx(18.4)


def test_the_same_pack_again_changes_nothing(sensor: tuple[Sensor, str]) -> None:
    pack = pack_of(18.4, 18.2)
    post(sensor[1], pack)
    assert post(sensor[1], pack) == (200, {"taken": 0, "already": 2})
    assert Reading.objects.count() == 2
    assert Change.objects.count() == 1


def test_another_value_for_a_time_that_is_there_is_refused_saying_both(
    sensor: tuple[Sensor, str],
) -> None:
    pack = pack_of(18.4, 18.2)
    post(sensor[1], pack)
    pack[2]["v"] = 11.0
    status, answer = post(sensor[1], [*pack, {"n": "t", "u": "Cel", "t": 120, "v": 18.0}])
    assert (status, answer["record"], answer["taken"]) == (409, 2, 0)
    assert "18.2 °C" in answer["error"]
    assert "11.0 °C" in answer["error"]
    assert Reading.objects.count() == 2


BAD_RECORDS: list[tuple[dict[str, Any], str]] = [
    ({"n": "t", "u": "Cel", "v": 68}, "looks like Fahrenheit: 68 °F is 20.0 °C"),
    ({"n": "t", "u": "Cel", "v": 58}, "looks like Fahrenheit"),
    ({"n": "t", "u": "Cel", "v": 327.67}, "outside -40 to 60"),
    ({"n": "t", "u": "Cel", "v": -127}, "outside -40 to 60"),
    ({"n": "t", "u": "degF", "v": 58}, "Send Cel, K or %RH, not 'degF'"),
    ({"n": "t", "v": 18}, "no unit"),
    ({"n": "h", "u": "%RH", "v": 130, "t": 0}, "outside 0 to 100"),
    ({"n": "h", "u": "%RH", "v": 50, "t": -300}, "needs a temperature"),
    ({"n": "t", "u": "Cel", "v": 18, "t": 180}, "in the future"),
    ({"n": "t", "u": "Cel", "v": 18, "t": -401 * 86400}, "days ago"),
    ({"n": "t", "u": "Cel", "v": 18, "t": 1e300}, "not a time"),
    ({"n": "t", "u": "Cel", "v": 17.0, "t": -60}, "Record 0 has another value"),
    ({"n": "t", "u": "Cel", "vs": "18"}, "number in 'v'"),
]


@pytest.mark.parametrize(("record", "reason"), BAD_RECORDS)
def test_one_bad_record_refuses_the_pack(
    sensor: tuple[Sensor, str], record: dict[str, Any], reason: str
) -> None:
    status, answer = post(sensor[1], [{"n": "t", "u": "Cel", "v": 18, "t": -60}, record])
    assert (status, answer["record"], answer["taken"]) == (422, 1, 0)
    assert reason in answer["error"]
    assert not Reading.objects.exists()
    assert not Change.objects.exists()


def test_a_room_that_is_usually_hot_may_be_hot(sensor: tuple[Sensor, str], room: Room) -> None:
    Room.objects.update(usual_celsius=40.0)
    assert post(sensor[1], [{"n": "t", "u": "Cel", "v": 52}])[0] == 200


def test_two_minutes_ahead_is_a_clock_that_runs_fast(sensor: tuple[Sensor, str]) -> None:
    assert post(sensor[1], [{"n": "t", "u": "Cel", "v": 18, "t": 110}])[0] == 200


@pytest.mark.parametrize(
    ("header", "status"),
    [
        ("", 401),
        ("Bearer", 401),
        ("Bearer nobody-has-this", 401),
        ("Basic abc", 401),
        ("Bearer \x00é", 401),
    ],
)
def test_no_sensor_has_this_token(room: Room, header: str, status: int) -> None:
    answer = Client().post(
        ADDRESS, "[]", content_type="application/senml+json", headers={"Authorization": header}
    )
    assert answer.status_code == status
    assert answer["WWW-Authenticate"] == "Bearer"


def test_a_withdrawn_sensor_is_refused_until_its_token_is_renewed(
    sensor: tuple[Sensor, str],
) -> None:
    withdraw(sensor=sensor[0])
    assert post(sensor[1], pack_of(18.4))[0] == 403
    token = renew_token(sensor=sensor[0])
    assert post(sensor[1], pack_of(18.4))[0] == 401
    assert post(token, pack_of(18.4))[0] == 200


def test_the_token_is_kept_as_a_hash_only(sensor: tuple[Sensor, str]) -> None:
    kept, token = sensor
    assert kept.token_hash == token_hash(token)
    assert token not in str(Sensor.objects.filter(pk=kept.pk).values())
    assert len(token) >= 43


@pytest.mark.parametrize("method", ["get", "put", "delete", "patch", "head"])
def test_readings_are_sent_by_post(sensor: tuple[Sensor, str], method: str) -> None:
    answer = getattr(Client(), method)(ADDRESS)
    assert (answer.status_code, answer["Allow"]) == (405, "POST")


def test_another_content_type_is_refused(sensor: tuple[Sensor, str]) -> None:
    assert post(sensor[1], "v=18", content_type="application/x-www-form-urlencoded")[0] == 415


def test_a_body_that_announces_too_much_is_refused_unread(sensor: tuple[Sensor, str]) -> None:
    class Unreadable:
        def read(self, *_: int) -> bytes:
            raise AssertionError("the body was read")

        readline = read

    answer = Client().generic(
        "POST", ADDRESS, b"[]", content_type="application/senml+json",
        headers={"Authorization": f"Bearer {sensor[1]}"},
        CONTENT_LENGTH=str(50 * 1024 * 1024), **{"wsgi.input": Unreadable()},
    )  # fmt: skip
    assert answer.status_code == 413
    assert str(BODY_LIMIT // 1024) in answer.json()["error"]


def test_a_body_without_a_length_is_asked_for_one(sensor: tuple[Sensor, str]) -> None:
    answer = Client().generic(
        "POST", ADDRESS, b"[]", content_type="application/senml+json", CONTENT_LENGTH="",
        headers={"Authorization": f"Bearer {sensor[1]}"},
    )  # fmt: skip
    assert answer.status_code == 411


def test_a_body_that_is_no_json_is_refused_without_a_record(sensor: tuple[Sensor, str]) -> None:
    status, answer = post(sensor[1], b"{")
    assert status == 400
    assert "record" not in answer


def test_a_pack_of_a_day_takes_a_handful_of_queries(
    sensor: tuple[Sensor, str], django_assert_max_num_queries: Any
) -> None:
    start = timezone.now().timestamp() - 90_000
    with django_assert_max_num_queries(30):
        assert post(sensor[1], pack_of(*[18.0] * 1440, start=start))[1]["taken"] == 1440


@pytest.mark.django_db(transaction=True)
def test_the_same_pack_posted_by_eight_at_once_is_taken_once(sensor: tuple[Sensor, str]) -> None:
    pack = pack_of(*[18.0 + number / 10 for number in range(30)])
    answers: list[tuple[int, dict[str, Any]]] = []
    gate = threading.Barrier(8)

    def send() -> None:
        try:
            gate.wait(timeout=20)
            answers.append(post(sensor[1], pack))
        finally:
            connection.close()

    threads = [threading.Thread(target=send) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    assert [status for status, _ in answers] == [200] * 8
    assert sum(answer["taken"] for _, answer in answers) == 30
    assert sum(answer["already"] for _, answer in answers) == 7 * 30
    assert Reading.objects.count() == 30
    assert Reading.objects.latest("at").at <= timezone.now() + dt.timedelta(minutes=2)
