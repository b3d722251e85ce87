"""The invented shop's recipes: the usual one, and a charcoal that was made lighter since."""

from __future__ import annotations

import datetime as dt

from jobs.demo.cast_list import CHARCOAL
from shop import defaults
from shop.models import Mix, Person, Recipe
from shop.services.fresh import add_usual_recipe
from shop.services.recipes import Fibre, Part, write

PIGMENT = "Black iron oxide"
FIRST, LIGHTER = 0.05, 0.04  # of cement
# Before anything on show was cast.
FIRST_DAYS_AGO, LIGHTER_DAYS_AGO = 90, 45


def write_recipes(now: dt.datetime, by: Person) -> None:
    charcoal = Mix.objects.get(name=CHARCOAL)
    add_usual_recipe(charcoal, FIRST, PIGMENT)
    Recipe.objects.update(made_at=now - dt.timedelta(days=FIRST_DAYS_AGO))
    lighter = write(
        charcoal,
        2,
        [Part(**part) for part in defaults.usual_recipe(LIGHTER, PIGMENT)],
        Fibre(**defaults.RECIPE_FIBRE),
        note="a shade lighter, as on the signed sample",
        by=by,
    )
    made = now - dt.timedelta(days=LIGHTER_DAYS_AGO)
    Recipe.objects.filter(pk=lighter.pk).update(made_at=made)
