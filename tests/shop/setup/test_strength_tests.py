"""A mix's strength tests: entered, struck, and taken for its curve by the owner."""

from __future__ import annotations

import datetime as dt
import re
import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.http import HttpResponse
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from curing.fitting import Form
from curing.maturity import age_factor
from curing.strength import PSI, Hyperbolic
from shop.models import Change, FitTaken, Mix, Person, Role, Shop, StrengthTest
from shop.models.settings import Units
from shop.services import strength_tests
from shop.services.calibration import calibration_of
from shop.services.errors import Conflict, Refused
from shop.services.materials import curve_of
from tests.factories import (
    DAY,
    HOUR,
    NOW,
    make_mix,
    make_person,
    make_readings,
    make_room,
    make_route,
    make_strength_test,
)
from tests.shop.setup.helpers import text, typed

# A concrete slower than the placeholder's.
SLOW = Hyperbolic(su=58.0, k=0.024, t0=7.0)
AGES = (12.0, 16.0, 24.0, 48.0, 168.0, 672.0)


@pytest.fixture
def mix(shop: Shop) -> Mix:
    return make_mix()


def cubes(
    mix: Mix, by: Person, celsius: float = 20.0, energy: float = 41500.0, ages: Any = AGES
) -> list[StrengthTest]:
    factor = float(age_factor(celsius, energy))
    return [
        make_strength_test(mix, by, age, celsius=celsius, strength_mpa=float(SLOW.at(age * factor)))
        for age in ages
        if age * factor > 7.5
    ]


def page(client: Client, mix: Mix) -> HttpResponse:
    return client.get(reverse("mix-tests", args=[mix.pk]))


def enter(client: Client, mix: Mix, **changes: Any) -> HttpResponse:
    shown = page(client, mix)
    address = reverse("add-test", args=[mix.pk])
    values = typed(shown, action=f"{address}#enter")
    return client.post(
        address, {**values, "strength": "2500", "age": "18 h", "celsius": "68", **changes}
    )


def use(client: Client, mix: Mix, what: str, **changes: Any) -> HttpResponse:
    address = reverse("use-fit", args=[mix.pk])
    values = typed(page(client, mix), action=address)
    return client.post(address, {**values, "what": what, **changes}, follow=True)


def taken(mix: Mix, by: Person, **changes: Any) -> Mix:
    seen = calibration_of(mix, now=NOW, shop=Shop.objects.get())
    asked = {"version": mix.version, "basis": seen.basis, "form": Form.HYPERBOLIC, **changes}
    return strength_tests.use_curve(mix_id=mix.pk, by=by, now=NOW, shop=Shop.objects.get(), **asked)


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
        ({"strength": ""}, "This field is required"),
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
        ({"kind": "prism"}, "valid choice"),
        ({"room": "999"}, "valid choice"),
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


# What the page says


def test_without_tests_it_is_nobodys_concrete(owners: Client, mix: Mix) -> None:
    words = text(page(owners, mix))

    assert "placeholder, not your concrete: ±30 %" in words
    assert "No tests yet" in words
    assert "0 tests count as compression so far" in words
    assert "Use the hyperbolic curve" not in words


@pytest.mark.parametrize(
    ("ages", "words"),
    [
        ((12.0, 24.0), "2 tests count as compression so far"),
        ((24.0, 24.0, 48.0), "at fewer than three different ages"),
    ],
)
def test_too_few_tests_say_what_is_missing(
    owners: Client, owner: Person, mix: Mix, ages: tuple[float, ...], words: str
) -> None:
    cubes(mix, owner, ages=ages)

    assert words in text(page(owners, mix))
    assert "placeholder, not your concrete" in text(page(owners, mix))


def test_tests_that_fall_are_questioned(owners: Client, owner: Person, mix: Mix) -> None:
    for age, mpa in ((12.0, 30.0), (24.0, 20.0), (48.0, 10.0)):
        make_strength_test(mix, owner, age, strength_mpa=mpa)

    assert "do not gain strength with age" in text(page(owners, mix))


def test_the_page_shows_both_curves_and_what_they_would_change(
    owners: Client, owner: Person, mix: Mix
) -> None:
    cubes(mix, owner)
    words = text(page(owners, mix))
    # t0 + S / (k (su - S)) of the slow curve and of the placeholder, S = 2,500 psi.
    assert "24.6 h at 68 °F instead of 17.9 h for 2,500 psi" in words
    assert "Use the hyperbolic curve" in words
    assert "Use the exponential curve" in words
    assert "The hyperbolic curve fits these tests clearly better" in words
    assert "safe " not in words


def test_the_strengths_are_those_the_routes_ask_for(owner: Person, shop: Shop, mix: Mix) -> None:
    make_route()
    seen = calibration_of(mix, now=NOW, shop=shop)

    assert [round(gate.mpa / PSI, -1) for gate in seen.gates] == [2500, 3000, 5000]


def test_a_test_far_off_is_pointed_out(owners: Client, owner: Person, mix: Mix) -> None:
    cubes(mix, owner)
    make_strength_test(mix, owner, 48.0, strength_mpa=9.0)

    assert "was it a bad break?" in text(page(owners, mix))


def test_a_coupon_is_shown_and_not_fitted(owners: Client, owner: Person, mix: Mix) -> None:
    cubes(mix, owner)
    make_strength_test(mix, owner, 24.0, kind="coupon", strength_mpa=6.0)
    answer = page(owners, mix)

    assert "bending: shown, not fitted as compression" in text(answer)
    assert answer.content.count(b'<g class="test aside"') == 2  # a wide and a narrow drawing


def test_the_drawing_has_its_words_and_its_table(owners: Client, owner: Person, mix: Mix) -> None:
    cubes(mix, owner)
    content = page(owners, mix).content.decode()

    assert content.count('role="img"') == 2
    assert "6 tests and the curves; the tables below have the same numbers" in content
    assert content.count('<g class="test"') == 2 * 6
    assert "The same in a table" in content
    assert not re.search(r"\sstyle=|<script>|\son\w+=", content)
    assert "nan" not in re.sub(r"<[^>]*class=[^>]*>", "", content).lower().split()


def test_a_page_takes_as_many_queries_with_many_tests(
    owners: Client, owner: Person, mix: Mix
) -> None:
    counts = []
    room = make_room()
    for _ in range(2):
        cubes(mix, owner)
        for hours in (20.0, 30.0):
            make_strength_test(mix, make_person(), hours, room=room)
        with CaptureQueriesContext(connection) as queries:
            page(owners, mix)
        counts.append(len(queries))

    assert counts[0] == counts[1]


# Taken by the owner


def test_the_owner_takes_the_curve(owners: Client, owner: Person, mix: Mix) -> None:
    cubes(mix, owner)
    answer = use(owners, mix, "hyperbolic")
    mix.refresh_from_db()

    assert not mix.placeholder
    assert mix.version == 2
    assert mix.curve == "hyperbolic"
    assert float(curve_of(mix).at(24.0)) == pytest.approx(float(SLOW.at(24.0)), rel=1e-4)
    assert Change.objects.filter(reason__contains="hyperbolic curve").exists()
    words = text(answer)
    assert "taken from 6 tests by Ora Lindqvist" in words
    assert "This curve is in use" in words
    assert "placeholder, not your concrete" not in words


def test_the_exponential_curve_can_be_taken_too(owner: Person, mix: Mix) -> None:
    cubes(mix, owner)
    changed = taken(mix, owner, form=Form.EXPONENTIAL)

    assert changed.curve == "exponential"
    assert float(curve_of(changed).at(24.0)) == pytest.approx(float(SLOW.at(24.0)), rel=0.06)


def test_a_curve_taken_can_be_edited_and_saved_again(
    owners: Client, owner: Person, mix: Mix
) -> None:
    for age, mpa in ((10.0, 4.0), (12.0, 6.1), (14.0, 8.1), (16.0, 10.2)):
        make_strength_test(mix, owner, age, strength_mpa=mpa)
    taken(mix, owner)
    address = reverse("mix", args=[mix.pk])

    assert owners.post(address, typed(owners.get(address), notes="mine")).status_code == 302


def test_figures_typed_since_are_not_said_to_come_from_tests(
    owners: Client, owner: Person, mix: Mix
) -> None:
    cubes(mix, owner)
    taken(mix, owner)
    Mix.objects.filter(pk=mix.pk).update(su_mpa=70.0)

    assert "typed in, not taken from these tests" in text(page(owners, mix))


def test_a_mix_saved_meanwhile_is_not_overwritten(owner: Person, mix: Mix) -> None:
    cubes(mix, owner)
    Mix.objects.filter(pk=mix.pk).update(version=5)
    with pytest.raises(Conflict):
        taken(mix, owner)

    assert Mix.objects.get().placeholder
    assert not FitTaken.objects.exists()


def test_a_test_added_meanwhile_asks_for_another_look(
    owners: Client, owner: Person, mix: Mix
) -> None:
    cubes(mix, owner)
    address = reverse("use-fit", args=[mix.pk])
    old = typed(page(owners, mix), action=address)
    make_strength_test(mix, owner, 24.0, strength_mpa=15.0)
    answer = owners.post(address, {**old, "what": "hyperbolic"}, follow=True)

    assert "added or struck since you looked" in text(answer)
    assert Mix.objects.get().placeholder


@pytest.mark.parametrize(
    "sent",
    [
        {"what": "parabolic"},
        {"what": "hyperbolic", "version": "x"},
        {"what": "hyperbolic", "version": "9" * 40},
        {"what": "energy"},
        {},
    ],
)
def test_what_makes_no_sense_changes_nothing(
    owners: Client, owner: Person, mix: Mix, sent: dict[str, str]
) -> None:
    cubes(mix, owner)
    answer = owners.post(reverse("use-fit", args=[mix.pk]), sent, follow=True)

    assert answer.status_code == 200
    assert Mix.objects.get().version == 1
    assert not FitTaken.objects.exists()


def test_too_few_tests_cannot_be_taken(owner: Person, mix: Mix) -> None:
    cubes(mix, owner, ages=(12.0, 24.0))
    with pytest.raises(Refused, match="too few"):
        taken(mix, owner)


def test_tests_at_three_temperatures_give_the_activation_energy(
    owners: Client, owner: Person, mix: Mix
) -> None:
    for celsius in (10.0, 20.0, 30.0):
        cubes(mix, owner, celsius, energy=36000.0)
    assert "by these tests" in text(page(owners, mix))
    answer = use(owners, mix, "energy")
    mix.refresh_from_db()

    assert mix.activation_energy == pytest.approx(36000, rel=1e-3)
    assert mix.placeholder  # the curve is another matter
    assert "Taken from 17 tests" in text(answer)


def test_one_temperature_gives_none(owners: Client, owner: Person, mix: Mix) -> None:
    cubes(mix, owner)

    assert "ASTM C1074 asks for three temperatures" in text(page(owners, mix))
    assert "Use this activation energy" not in text(page(owners, mix))


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
