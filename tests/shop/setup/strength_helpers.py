"""A mix's tests, and its page, for the tests of both."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from curing.fitting import Form
from curing.maturity import age_factor
from curing.strength import Hyperbolic
from shop.models import Mix, Person, Shop, StrengthTest
from shop.services import strength_tests
from shop.services.calibration import calibration_of
from tests.factories import (
    NOW,
    make_strength_test,
)
from tests.shop.setup.helpers import typed

# A concrete slower than the placeholder's.
SLOW = Hyperbolic(su=58.0, k=0.024, t0=7.0)
AGES = (12.0, 16.0, 24.0, 48.0, 168.0, 672.0)


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
