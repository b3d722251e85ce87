"""A mix's strength tests: entered and struck."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from curing.strength import PSI
from shop.models import Change, Mix, Person, Role, Shop, StrengthTest
from shop.models.settings import Units
from shop.services import strength_tests
from shop.services.calibration import calibration_of
from tests.factories import (
    DAY,
    HOUR,
    NOW,
    make_person,
    make_readings,
    make_room,
    make_strength_test,
)
from tests.shop.setup.helpers import text, typed
from tests.shop.setup.strength_helpers import cubes, enter, page

# Entering


def test_a_test_is_typed_in_the_shops_units_and_kept_in_si(
    owners: Client, owner: Person, mix: Mix
) -> None:
    assert enter(owners, mix, kind="cylinder", note="second batch").status_code == 302
    test = StrengthTest.objects.get()

    assert test.strength_mpa == pytest.approx(2500 * PSI)
    assert test.celsius == pytest.approx(20.0)
    assert (test.age_hours, test.kind, test.by, test.note) == (
        18.0, "cylinder", owner, "second batch",
    )  # fmt: skip
    assert "2,500 psi" in text(page(owners, mix))


def test_in_a_metric_shop_it_is_megapascals_and_celsius(
    owners: Client, shop: Shop, mix: Mix
) -> None:
    shop.units = Units.SI
    shop.save()
    enter(owners, mix, strength="17,2", celsius="18,5")
    test = StrengthTest.objects.get()

    assert (test.strength_mpa, test.celsius) == (17.2, 18.5)
    assert "17.2 MPa" in text(page(owners, mix))


@pytest.mark.parametrize(
    ("age", "hours"),
    [
        ("18", 18),
        ("18 h", 18),
        ("3 d", 72),
        ("1 d 6 h", 30),
        ("28 days", 672),
        ("1,5 d", 36),
        ("2d", 48),
    ],
)
def test_an_age_is_written_as_people_write_it(
    owners: Client, mix: Mix, age: str, hours: float
) -> None:
    enter(owners, mix, age=age)

    assert StrengthTest.objects.get().age_hours == pytest.approx(hours)


def test_the_time_of_casting_gives_the_age(owners: Client, mix: Mix) -> None:
    """Over the night of 8 March 2026 the clocks go forward: 16:00 to 10:00 are 17 hours."""
    answer = enter(
        owners, mix, age="", cast_at_0="2026-03-07", cast_at_1="16:00",
        tested_at_0="2026-03-08", tested_at_1="10:00",
    )  # fmt: skip

    assert answer.status_code == 302
    assert StrengthTest.objects.get().age_hours == pytest.approx(17.0)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"strength": "strong"}, "is not a number"),
        ({"strength": "50000"}, "At most 29,008 psi"),
        ({"strength": ""}, "Fill this in"),
        ({"age": "soon"}, "Write an age like 18 h, 3 d or 1 d 6 h"),
        ({"age": "0"}, "An age above nought"),
        ({"age": ""}, "Give its age, or the time it was cast"),
        ({"age": "5000 d"}, "An age from 6 minutes to 3 years"),
        (
            {"cast_at_0": "2026-03-01", "cast_at_1": "08:00"},
            "Give its age, or the time it was cast",
        ),
        ({"age": "", "cast_at_0": "2090-03-01", "cast_at_1": "08:00"}, "It was broken before that"),
        ({"tested_at_0": "2090-01-01"}, "That is still to come"),
        ({"celsius": ""}, "Give the temperature it cured at, or choose the room"),
        ({"celsius": "400"}, "between freezing and a steam bath"),
        ({"kind": "prism"}, "Choose another"),
        ({"room": "999"}, "Choose another"),
    ],
)
def test_what_cannot_be_is_refused_and_what_was_typed_stays(
    owners: Client, mix: Mix, change: dict[str, str], words: str
) -> None:
    answer = enter(owners, mix, note="kept", **change)

    assert answer.status_code == 422
    assert words in text(answer)
    again = typed(answer, action=reverse("add-test", args=[mix.pk]) + "#enter")
    assert again["note"] == "kept"
    assert again["strength"] == change.get("strength", "2500")
    assert not StrengthTest.objects.exists()


def test_both_a_temperature_and_a_room_are_one_too_many(owners: Client, mix: Mix) -> None:
    answer = enter(owners, mix, room=str(make_room().pk))

    assert answer.status_code == 422
    assert "one of the two" in text(answer)


def test_a_button_pressed_twice_enters_one_test(owners: Client, mix: Mix) -> None:
    key = str(uuid.uuid4())
    for _ in range(2):
        assert enter(owners, mix, client_key=key).status_code == 302

    assert StrengthTest.objects.count() == 1


@pytest.mark.parametrize("key", ["", "x"])
def test_a_key_that_got_lost_is_no_reason_to_refuse(owners: Client, mix: Mix, key: str) -> None:
    assert enter(owners, mix, client_key=key).status_code == 302


def test_a_note_is_shown_as_it_was_written(owners: Client, mix: Mix) -> None:
    enter(owners, mix, note="<script>alert(1)</script>")

    assert b"<script>alert(1)" not in page(owners, mix).content
    assert "<script>alert(1)</script>" in text(page(owners, mix))


def test_entering_a_test_moves_no_date(owners: Client, mix: Mix) -> None:
    enter(owners, mix)
    mix.refresh_from_db()

    assert not Change.objects.exists()
    assert mix.version == 1


def test_the_database_holds_no_test_without_a_cure(owner: Person, mix: Mix) -> None:
    for cure in ({"celsius": None}, {"celsius": 20.0, "room": make_room()}):
        with pytest.raises(IntegrityError), transaction.atomic():
            StrengthTest.objects.create(
                mix=mix, by=owner, age_hours=24, strength_mpa=20, tested_at=NOW, **cure
            )


# Cured with the pieces


def test_a_specimen_beside_the_pieces_takes_its_age_from_the_rooms_air(
    owner: Person, shop: Shop, mix: Mix
) -> None:
    """ASTM C1074, Q = 5000 K: 24 h at 10 °C are 13.1 h at 20 °C."""
    mix.activation_energy = 41570.0
    room = make_room()
    make_readings(room, NOW - 2 * DAY, 48, celsius=10.0)
    make_strength_test(mix, owner, 24.0, room=room, tested_at=NOW)
    point = calibration_of(mix, now=NOW, shop=shop).rows[0].point

    assert point is not None
    assert point.age == pytest.approx(24 * 0.5475, rel=2e-3)
    assert point.compressive is not None


def test_air_that_was_not_measured_keeps_it_out_of_the_fit(
    owner: Person, shop: Shop, mix: Mix
) -> None:
    room = make_room()
    make_readings(room, NOW - 6 * HOUR, 6, celsius=10.0)
    make_strength_test(mix, owner, 24.0, room=room, tested_at=NOW)
    point = calibration_of(mix, now=NOW, shop=shop).rows[0].point

    assert point is not None
    assert point.compressive is None
    assert "measured for only 2" in point.why_not


# Struck


def test_a_struck_test_stays_in_sight_and_counts_no_more(
    owners: Client, owner: Person, mix: Mix
) -> None:
    tests = cubes(mix, owner)
    before = calibration_of(mix, now=NOW, shop=Shop.objects.get())
    answer = owners.post(
        reverse("strike-test", args=[tests[0].pk]), {"reason": "chipped"}, follow=True
    )
    after = calibration_of(mix, now=NOW, shop=Shop.objects.get())

    assert "struck by Ora Lindqvist" in text(answer)
    assert "chipped" in text(answer)
    assert (len(before.result.points), len(after.result.points)) == (6, 5)
    assert before.basis != after.basis
    assert StrengthTest.objects.count() == 6


def test_a_second_strike_changes_nothing(owner: Person, mix: Mix) -> None:
    test = make_strength_test(mix, owner)
    strength_tests.strike_test(test_id=test.pk, by=owner, reason="chipped")
    strength_tests.strike_test(test_id=test.pk, by=make_person(), reason="other")
    test.refresh_from_db()

    assert (test.struck_by, test.struck_because) == (owner, "chipped")


def test_a_mix_with_tests_is_not_deleted(owners: Client, owner: Person, mix: Mix) -> None:
    make_strength_test(mix, owner)
    owners.post(reverse("delete-mix", args=[mix.pk]))

    assert Mix.objects.filter(pk=mix.pk).exists()


# Who


def test_the_office_sees_and_cannot_change(
    shop: Shop, owner: Person, mix: Mix, signed_in: Callable[[Person], Client]
) -> None:
    tests = cubes(mix, owner)
    office = signed_in(make_person(Role.OFFICE))
    words = text(page(office, mix))

    assert "2,500 psi" in words
    assert "Enter a test" not in words
    assert "Use the" not in words
    assert "Strike" not in words
    for name, row in (("add-test", mix), ("use-fit", mix), ("strike-test", tests[0])):
        assert office.post(reverse(name, args=[row.pk])).status_code == 403


def test_the_mix_and_the_list_lead_to_its_tests(owners: Client, mix: Mix) -> None:
    address = reverse("mix-tests", args=[mix.pk])

    for name, args in (("mixes", []), ("mix", [mix.pk])):
        assert f'href="{address}"' in owners.get(reverse(name, args=args)).content.decode()


def test_the_age_of_a_test_is_since_its_cast(owner: Person, mix: Mix) -> None:
    test = make_strength_test(mix, owner, 30.0, tested_at=timezone.now())

    assert test.tested_at - test.cast_at == dt.timedelta(hours=30)
