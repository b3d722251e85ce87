from __future__ import annotations

import datetime as dt
import os
import time
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from shop.models import Change, Person, Reading, Role, Room
from shop.services import uploads
from tests.factories import make_person, make_room, make_shop

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _folder(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def room() -> Room:
    make_shop()
    return make_room()


@pytest.fixture
def owner() -> Person:
    return make_person(Role.OWNER)


def signed_in(person: Person, **options: Any) -> Client:
    client = Client(**options)
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.fixture
def client(room: Room, owner: Person) -> Client:
    return signed_in(owner)


def stamp(minutes: int) -> str:
    at = timezone.now().replace(second=0, microsecond=0) - dt.timedelta(minutes=minutes)
    return at.isoformat()


def send(client: Client, text: str | bytes, **fields: Any) -> Any:
    content = text if isinstance(text, bytes) else text.encode()
    room = Room.objects.first()
    values = {
        "room": room.pk if room else 0,
        "zone": "America/Chicago",
        "humidity": "percent",
        "file": SimpleUploadedFile("shop.csv", content, content_type="text/csv"),
        **fields,
    }
    return client.post("/readings/upload/", values)


def uploaded(client: Client, text: str) -> str:
    answer = send(client, text)
    assert answer.status_code == 302, answer.content.decode()
    return str(answer["Location"]).removesuffix("#main")


def test_the_preview_says_row_by_row_what_will_be_taken_and_takes_nothing(
    client: Client, room: Room
) -> None:
    at = dt.datetime.fromisoformat(stamp(30))
    Reading.objects.create(room=room, at=at, celsius=15.0, source="hand")
    Reading.objects.create(room=room, at=at + dt.timedelta(minutes=5), celsius=15.0, source="hand")
    address = uploaded(
        client,
        "time,celsius\n"
        f"{stamp(40)},14.0\n{stamp(30)},15.0\n{stamp(25)},11.0\n{stamp(20)},85\n"
        f"{stamp(40)},14.0\n{stamp(40)},12.0\n2026-03-08 02:30,14\n",
    )
    preview = client.get(address).context["preview"]
    assert [(row.line, row.verdict) for row in preview.rows] == [
        (2, "taken"), (3, "already"), (4, "refused"), (5, "refused"),
        (6, "already"), (7, "refused"), (8, "refused"),
    ]  # fmt: skip
    reasons = [row.reason for row in preview.rows]
    assert reasons[2] == "The room already has 15.0 °C (59 °F) for this time."
    assert "looks like Fahrenheit" in reasons[3]
    assert reasons[4] == "The same as line 2."
    assert reasons[5] == "This file in line 2 has 14.0 °C (57 °F) for this time."
    assert "does not exist" in reasons[6]
    assert Reading.objects.count() == 2
    assert not Change.objects.exists()


def test_confirming_takes_exactly_what_was_shown(client: Client, owner: Person) -> None:
    address = uploaded(client, f"time,celsius,humidity\n{stamp(40)},14.0,55\n{stamp(20)},85,55\n")
    answer = client.post(address + "take/", follow=True)
    assert "1 reading taken." in answer.content.decode()
    reading = Reading.objects.get()
    assert (reading.celsius, reading.humidity, reading.source, reading.by) == (
        14.0,
        0.55,
        "file",
        owner,
    )
    assert Change.objects.count() == 1


def test_confirming_twice_takes_it_once(client: Client) -> None:
    address = uploaded(client, f"time,celsius\n{stamp(40)},14.0\n")
    client.post(address + "take/")
    answer = client.post(address + "take/", follow=True)
    assert "not waiting any more" in answer.content.decode()
    assert Reading.objects.count() == 1


def test_the_same_file_again_is_there_already(client: Client) -> None:
    text = f"time,celsius\n{stamp(40)},14.0\n{stamp(35)},14.1\n"
    client.post(uploaded(client, text) + "take/")
    preview = client.get(uploaded(client, text)).context["preview"]
    assert preview.counts == {"taken": 0, "already": 2, "refused": 0}


def test_a_reading_that_came_meanwhile_refuses_the_whole(client: Client, room: Room) -> None:
    address = uploaded(client, f"time,celsius\n{stamp(40)},14.0\n{stamp(35)},14.1\n")
    Reading.objects.create(
        room=room, at=dt.datetime.fromisoformat(stamp(35)), celsius=9.0, source="hand"
    )
    answer = client.post(address + "take/", follow=True)
    assert "Nothing was taken" in answer.content.decode()
    assert Reading.objects.count() == 1


def test_thrown_away_is_gone(client: Client) -> None:
    address = uploaded(client, f"time,celsius\n{stamp(40)},14.0\n")
    client.post(address + "discard/")
    assert client.get(address).status_code == 302
    assert not Reading.objects.exists()


def test_a_preview_waits_an_hour(client: Client) -> None:
    address = uploaded(client, f"time,celsius\n{stamp(40)},14.0\n")
    (kept,) = (Path(settings.MEDIA_ROOT) / "readings").iterdir()
    past = time.time() - 3700
    os.utime(kept, (past, past))
    assert client.post(address + "take/").status_code == 302
    assert not Reading.objects.exists()
    uploads.clear_old()
    assert not kept.exists()


def test_a_preview_is_its_persons_own(client: Client) -> None:
    address = uploaded(client, f"time,celsius\n{stamp(40)},14.0\n")
    other = signed_in(make_person(Role.CREW))
    assert other.get(address).status_code == 302
    other.post(address + "take/")
    other.post(address + "discard/")
    assert not Reading.objects.exists()
    assert client.get(address).status_code == 200


@pytest.mark.parametrize("token", ["0" * 32, "../../../etc/passwd", "x", "0" * 31 + "/"])
def test_an_invented_preview_is_not_there(client: Client, token: str) -> None:
    assert client.get(f"/readings/upload/{token}/").status_code in {302, 404}


def test_the_chosen_clock_and_the_chosen_humidity_count(client: Client) -> None:
    local = (timezone.now() - dt.timedelta(hours=3)).replace(second=0, microsecond=0)
    answer = send(
        client,
        f"time,fahrenheit,humidity\n{local:%Y-%m-%d %H:%M},58,0.55\n",
        zone="UTC",
        humidity="fraction",
    )
    client.post(answer["Location"].removesuffix("#main") + "take/")
    reading = Reading.objects.get()
    assert (reading.at, reading.humidity) == (local, 0.55)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "The file is empty"),
        (b"time,celsius,battery\n", "Unknown column"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "not a text file"),
        (b"time,celsius\n", "no readings under it"),
    ],
)
def test_a_file_that_is_none_is_refused_and_the_form_stays(
    client: Client, content: bytes, said: str
) -> None:
    answer = send(client, content, zone="America/Denver")
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert 'value="America/Denver"' in answer.content.decode()


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("zone", "Moon/Sea", "no time zone"),
        ("zone", "", "Fill this in"),
        ("room", "999", "Choose another"),
        ("humidity", "cups", "Choose another"),
        ("file", "", "Choose the file"),
    ],
)
def test_a_wrong_choice_is_refused(client: Client, field: str, value: str, said: str) -> None:
    answer = send(client, "time,celsius\n", **{field: value})
    assert answer.status_code == 422
    assert said in answer.content.decode()


def test_a_file_above_the_limit_is_refused(client: Client, settings: Any) -> None:
    settings.CUREWRIGHT_UPLOAD_LIMIT = 1024
    answer = send(client, "time,celsius\n" + f"{stamp(40)},14.0\n" * 100)
    assert answer.status_code == 422
    assert "was not read" in answer.content.decode()


def test_fifty_megabytes_are_refused_unread_with_the_form_still_there(
    room: Room, owner: Person
) -> None:
    class Unreadable:
        def read(self, *_: int) -> bytes:
            raise AssertionError("the body was read")

        readline = read

    client = signed_in(owner, enforce_csrf_checks=True)
    answer = client.generic(
        "POST", "/readings/upload/", b"x", content_type="multipart/form-data; boundary=x",
        CONTENT_LENGTH=str(50 * 1024 * 1024), **{"wsgi.input": Unreadable()},
    )  # fmt: skip
    assert answer.status_code == 413
    assert "larger than 4 MB" in answer.content.decode()
    assert 'name="file"' in answer.content.decode()


def test_a_forged_upload_is_refused(room: Room, owner: Person) -> None:
    client = signed_in(owner, enforce_csrf_checks=True)
    assert send(client, f"time,celsius\n{stamp(40)},14.0\n").status_code == 403


def test_a_long_file_is_shown_in_pages_and_by_what_happens(client: Client) -> None:
    rows = "".join(f"{stamp(minutes)},{14 if minutes % 50 else 85}\n" for minutes in range(1, 251))
    address = uploaded(client, "time,celsius\n" + rows)
    page = client.get(address + "?page=3")
    assert len(page.context["rows"]) == 50
    assert page.context["counts"] == {"taken": 245, "already": 0, "refused": 5}
    refused = client.get(address + "?show=refused").context["rows"]
    assert {row.verdict for row in refused} == {"refused"}
    assert client.get(address + "?show=nonsense&page=x").status_code == 200


def test_what_a_file_says_is_shown_as_text(client: Client) -> None:
    answer = send(
        client, 'time,celsius\n"<script>alert(1)</script>",14\n',
        file=SimpleUploadedFile("<img src=x>.csv", b'time,celsius\n"<script>alert(1)</script>",14\n'),
    )  # fmt: skip
    page = client.get(answer["Location"]).content.decode()
    assert "<script>alert(1)" not in page
    assert "<img src=x>" not in page


def test_thirty_thousand_rows_are_previewed_and_taken_in_few_queries(client: Client) -> None:
    start = timezone.now() - dt.timedelta(days=100)
    text = "time,celsius\n" + "".join(
        f"{start + dt.timedelta(minutes=number):%Y-%m-%d %H:%MZ},14\n" for number in range(30_000)
    )
    with CaptureQueriesContext(connection) as queries:
        address = uploaded(client, text)
        client.post(address + "take/")
    assert Reading.objects.count() == 30_000
    assert len(queries) < 60  # fifteen of them insert two thousand rows each
