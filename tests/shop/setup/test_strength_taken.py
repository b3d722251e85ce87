"""A curve and an activation energy, taken from tests by the owner."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from curing.fitting import Form
from shop.models import Change, FitTaken, Mix, Person
from shop.services.errors import Conflict, Refused
from shop.services.materials import curve_of
from tests.factories import (
    make_strength_test,
)
from tests.shop.setup.helpers import text, typed
from tests.shop.setup.strength_helpers import SLOW, cubes, page, taken, use

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
