"""Early evaporation of a cast: from the room's air, in the shop's units, with whose limit it is."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from jobs.services.evaporation import CastAir, cast_airs
from jobs.services.readiness import rebuild
from shop.models import Role
from tests.factories import (
    DAY,
    HOUR,
    NOW,
    make_batch,
    make_job,
    make_person,
    make_piece,
    make_readings,
    make_room,
    make_shop,
    make_working_week,
)

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _now(monkeypatch: pytest.MonkeyPatch) -> None:
    make_shop()
    make_working_week()
    monkeypatch.setattr(timezone, "now", lambda: NOW)


def air_over(celsius: float, humidity: float, speed: float, **shop: Any) -> CastAir:
    room = make_room(celsius=celsius, usual_humidity=humidity, air_speed=speed)
    return cast_airs({1: (room.pk, NOW + HOUR)}, NOW, make_shop(**shop))[1]


@pytest.mark.parametrize(
    ("celsius", "humidity", "speed", "rate"),
    [
        # Uno 1998: 5 (38^2.5 (1 - r)) (V + 4) 1e-6, V in km/h, concrete at the air's temperature.
        (20.0, 0.5, 0.3, 5e-6 * 38.0**2.5 * 0.5 * (1.08 + 4.0)),
        (20.0, 0.5, 3.0, 5e-6 * 38.0**2.5 * 0.5 * (10.8 + 4.0)),
    ],
)
def test_the_rate_is_the_nomographs(
    celsius: float, humidity: float, speed: float, rate: float
) -> None:
    air = air_over(celsius, humidity, speed)
    assert air.rate is not None
    assert air.rate.likely == pytest.approx(rate, rel=1e-6)


def test_a_closed_room_is_named_with_the_limit_and_no_caution() -> None:
    air = air_over(20.0, 0.5, 0.3)
    assert air.headline == "Early evaporation: about 0.02 lb/ft²/h; limit 0.20 lb/ft²/h."
    assert "68 °F at 50 %, moving at 0.7 mph" in air.basis
    assert "ACI 305R" in air.basis
    assert air.caution is None


def test_a_warm_dry_room_with_a_fan_goes_over_half_of_the_limit() -> None:
    air = air_over(27.0, 0.3, 3.0)
    assert "over half of the limit, 0.20 lb/ft²/h" in air.headline
    assert air.caution is not None
    assert str(air.caution.text).startswith("Cover at once, no moving air.")
    assert "305R" in str(air.caution.reference)


def test_a_hot_dry_wind_goes_over_the_limit() -> None:
    assert "0.37 lb/ft²/h, over the limit of" in air_over(35.0, 0.2, 5.0).headline


def test_a_metric_shop_reads_kilograms() -> None:
    air = air_over(35.0, 0.2, 5.0, units="si")
    assert "kg/m²/h, over the limit of 1.0 kg/m²/h" in air.headline
    assert "5.0 m/s" in air.basis


def test_beyond_the_nomograph_nothing_is_made_up() -> None:
    air = air_over(2.0, 0.5, 0.3)
    assert air.rate is None
    assert "outside the method's range" in air.headline
    assert "Cover at once all the same" in air.basis


def test_measured_humidity_counts_and_unmeasured_is_said() -> None:
    room = make_room(celsius=20.0, usual_humidity=0.5)
    make_readings(room, NOW - 3 * DAY, 72, celsius=20.0, humidity=0.2)
    shop = make_shop()
    dry = cast_airs({1: (room.pk, NOW)}, NOW, shop)[1]
    assert dry.humidity == pytest.approx(0.2, abs=0.02)
    assert "is not measured" not in dry.basis


def test_a_cast_that_is_overdue_counts_from_now() -> None:
    room = make_room(celsius=20.0)
    make_readings(room, NOW - 3 * DAY, 60, celsius=10.0)
    make_readings(room, NOW - 10 * HOUR, 10, celsius=30.0)
    air = cast_airs({1: (room.pk, NOW - DAY)}, NOW, make_shop())[1]
    assert air.celsius > 25.0


@pytest.fixture
def cast() -> Any:
    room = make_room(celsius=32.0, usual_humidity=0.2, air_speed=4.0)
    piece = make_piece(make_job(), room=room)
    return make_batch(piece, planned_for=NOW + 2 * HOUR)


def get(role: str, address: str, **person: Any) -> str:
    client = Client()
    client.force_login(make_person(role, **person))
    rebuild()
    return client.get(address).content.decode()


def test_the_floors_casting_card_says_it_with_the_caution(cast: Any) -> None:
    page = get(Role.CREW, reverse("floor"))
    assert "lb/ft²/h, over the limit of 0.20 lb/ft²/h." in page
    assert "Cover at once, no moving air" in page
    assert "ACI 305R: precautions from" in page
    assert "Evaporación temprana" in get(Role.CREW, reverse("floor"), language="es")


def test_setting_a_cast_shows_it_before_it_is_saved(cast: Any) -> None:
    client = Client()
    client.force_login(make_person(Role.OWNER))
    local = (NOW + DAY).astimezone(make_shop().zone)
    sent = {
        "pieces": [cast.pieces.get().pk],
        "room": cast.room_id,
        "planned_for_0": f"{local:%Y-%m-%d}",
        "planned_for_1": f"{local:%H:%M}",
    }
    page = client.post(reverse("cast-effect"), sent).content.decode()
    assert "over the limit of 0.20 lb/ft²/h" in page
    assert "Cover at once, no moving air" in page
    still = make_room("Closed room", celsius=20.0).pk
    page = client.post(reverse("cast-effect"), sent | {"room": still}).content.decode()
    assert "Early evaporation: about 0.02 lb/ft²/h" in page
    assert "Cover at once" not in page


def test_eight_casts_take_as_many_queries_as_two() -> None:
    client, counts = Client(), []
    client.force_login(make_person(Role.CREW))
    for numbers in (range(300, 302), range(302, 308)):
        for number in numbers:
            planned = NOW + dt.timedelta(hours=number - 299)
            make_batch(make_piece(make_job(str(number))), planned_for=planned)
        rebuild()
        client.get(reverse("floor"))
        with CaptureQueriesContext(connection) as queries:
            client.get(reverse("floor"))
        counts.append(len(queries))
    assert counts[0] == counts[1]
