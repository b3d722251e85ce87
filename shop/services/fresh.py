"""Give a shop the usual figures to start from. What it has entered itself stays as it is."""

from __future__ import annotations

from typing import Any

from django.db import transaction

from shop import defaults
from shop.models import Mix, PlannedAir, Recipe, Room, Route, RouteStep, Sealer, WorkingHours
from shop.services import recipes


@transaction.atomic
def give_usual_figures() -> None:
    if not Mix.objects.exists():
        add_usual_recipe(Mix.objects.create(**defaults.MIX))
    if not Sealer.objects.exists():
        for sealer in defaults.SEALERS:
            Sealer.objects.create(**sealer)
    if not Route.objects.exists():
        for name, steps in defaults.ROUTES.items():
            add_route(name, steps)
    if not WorkingHours.objects.exists():
        add_working_week()


def add_route(name: str, steps: tuple[dict[str, Any], ...]) -> Route:
    route = Route.objects.create(name=name, notes=defaults.BASIS)
    RouteStep.objects.bulk_create(
        RouteStep(route=route, place=place, **step) for place, step in enumerate(steps, start=1)
    )
    return route


def add_usual_recipe(mix: Mix, pigment: float = 0.0, colour: str = "Iron oxide") -> Recipe:
    """The mix's first version. pigment : of cement"""
    return recipes.write(
        mix,
        1,
        [recipes.Part(**part) for part in defaults.usual_recipe(pigment, colour)],
        recipes.Fibre(**defaults.RECIPE_FIBRE),
        note=defaults.RECIPE_NOTE,
        by=None,
    )


def add_working_week() -> None:
    WorkingHours.objects.bulk_create(
        WorkingHours(weekday=weekday, starts=starts, ends=ends, people=people)
        for weekday, starts, ends, people in defaults.WORKING_WEEK
    )


def add_heating_plan(room: Room, warmer: float = 0.0) -> None:
    """Day and night set-back, `warmer` than usual by so many K."""
    PlannedAir.objects.bulk_create(
        PlannedAir(room=room, weekday=weekday, hour=hour, celsius=celsius + warmer)
        for weekday in range(7)
        for hour, celsius in (defaults.HEATING_WEEKDAY if weekday < 5 else defaults.HEATING_WEEKEND)
    )
