"""Unit weights measured of a mix's runs, and the owner taking their mean."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from jobs.models import MixerRun
from shop.models import Change, Mix, Person, Recipe, Role
from shop.services.errors import Conflict, Refused
from shop.services.unit_weights import take_unit_weight, unit_weights_of
from tests.factories import NOW, make_batch, make_mix, make_person, make_recipe, make_shop
from tests.shop.setup.helpers import text, typed

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner() -> Person:
    make_shop()
    return make_person(Role.OWNER)


@pytest.fixture
def recipe(owner: Person) -> Recipe:
    return make_recipe(make_mix())


def run(recipe: Recipe, by: Person, weight: float | None, days: int = 0, **fields: object) -> MixerRun:  # fmt: skip
    """A run of a batch of its own, opened so many days after `NOW`."""
    batch = make_batch(mix=recipe.mix)
    opened = NOW + dt.timedelta(days=days)
    values = {"number": 1, "opened_at": opened, "opened_by": by, **fields}
    return MixerRun.objects.create(batch=batch, recipe=recipe, unit_weight=weight, **values)


def test_the_last_ten_that_stand_count(recipe: Recipe, owner: Person) -> None:
    for day in range(12):
        run(recipe, owner, 2000.0 + day, day)
    run(recipe, owner, None, 20)
    run(recipe, owner, 900.0, 21, struck_at=NOW, struck_by=owner, struck_because="spilled")
    run(make_recipe(make_mix(name="Another")), owner, 1500.0, 22)
    seen = unit_weights_of(recipe.mix)
    assert [one.density for one in seen.measured] == [2011.0 - n for n in range(10)]
    assert seen.mean == pytest.approx(2006.5)
    # Ten numbers in a row: the sample's standard deviation is sqrt(110 / 12).
    assert seen.scatter == pytest.approx(3.0277, abs=1e-4)
    assert seen.difference == pytest.approx(2006.5 / 2080 - 1)


@pytest.mark.parametrize(("weight", "beyond"), [(2060.0, False), (2010.0, True), (2130.0, True)])
def test_further_apart_than_two_people_measure_is_said(
    recipe: Recipe, owner: Person, weight: float, beyond: bool
) -> None:
    """ASTM C138 between operators: 37 kg/m³, 1.8 % of 2,080, rounded up to 2 % (from memory)."""
    run(recipe, owner, weight)
    assert unit_weights_of(recipe.mix).beyond is beyond


def test_the_owner_takes_the_mean_and_dates_follow(recipe: Recipe, owner: Person) -> None:
    run(recipe, owner, 2040.0)
    run(recipe, owner, 2061.0, 1)
    seen = unit_weights_of(recipe.mix)
    version = recipe.mix.version
    mix = take_unit_weight(mix_id=recipe.mix.pk, version=version, basis=seen.basis)
    assert (mix.density, mix.version) == (2050.5, version + 1)
    assert Change.objects.filter(reason=f"unit weight of {mix.name} from 2 runs").exists()
    assert unit_weights_of(mix).taken


def test_what_was_not_seen_is_not_taken(recipe: Recipe, owner: Person) -> None:
    mix = recipe.mix
    with pytest.raises(Refused, match="No unit weight"):
        take_unit_weight(mix_id=mix.pk, version=mix.version, basis="")
    run(recipe, owner, 2040.0)
    seen = unit_weights_of(mix)
    with pytest.raises(Conflict):
        take_unit_weight(mix_id=mix.pk, version=mix.version + 1, basis=seen.basis)
    run(recipe, owner, 2000.0, 1)
    with pytest.raises(Conflict, match="measured since you looked"):
        take_unit_weight(mix_id=mix.pk, version=mix.version, basis=seen.basis)
    assert Mix.objects.get(pk=mix.pk).density == 2080.0


def test_what_is_no_concrete_is_refused(recipe: Recipe, owner: Person) -> None:
    run(recipe, owner, 510.0)
    seen = unit_weights_of(recipe.mix)
    with pytest.raises(Refused, match="no unit weight of concrete"):
        take_unit_weight(mix_id=recipe.mix.pk, version=recipe.mix.version, basis=seen.basis)


def test_the_mix_page_shows_them_and_takes_them_with_one_press(
    recipe: Recipe, owner: Person
) -> None:
    client = Client()
    client.force_login(owner, "django.contrib.auth.backends.ModelBackend")
    address = reverse("mix", args=[recipe.mix.pk])
    assert "None is on record." in text(client.get(address))
    run(recipe, owner, 2000.0)
    run(make_recipe(recipe.mix), owner, 2020.0, 1)
    page = client.get(address)
    said = text(page)
    # 2,010 and 2,080 kg/m³ over 16.0185 kg/m³ in a lb/ft³.
    assert "Their mean is 125.5 lb/ft³ ; the mix states 129.9 lb/ft³." in said
    assert "They are of more than one version of the recipe" in said
    assert "further apart than the 2 %" in said
    take = reverse("take-unit-weight", args=[recipe.mix.pk])
    said = text(client.post(take, typed(page, take), follow=True))
    assert "The unit weight is 125.5 lb/ft³ now." in said
    assert "The mix has this mean already." in said


def test_the_mix_page_takes_as_many_queries_for_ten_runs_as_for_two(
    recipe: Recipe, owner: Person
) -> None:
    client = Client()
    client.force_login(owner, "django.contrib.auth.backends.ModelBackend")

    def queries(runs: int) -> int:
        while MixerRun.objects.count() < runs:
            run(recipe, owner, 2040.0)
        with CaptureQueriesContext(connection) as seen:
            client.get(reverse("mix", args=[recipe.mix.pk]))
        return len(seen)

    queries(1)
    assert queries(2) == queries(10)
