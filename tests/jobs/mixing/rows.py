"""Rows for the tests of mixing."""

from __future__ import annotations

from typing import Any

from jobs.models import Batch, MixerRun
from jobs.services.mixing import cast_runs, open_run
from shop import defaults
from shop.models import Mix, Person, Recipe, RecipePart
from tests.factories import NOW, make_batch, make_job, make_mix, make_piece

# Sand as it lies at 4 %; all else as `shop.defaults` has it.
PARTS: tuple[dict[str, Any], ...] = (
    {"name": "Water", "role": "water", "amount": 0.34, "by": "water-of-cementitious",
     "density": 998.2},
    {"name": "Polymer", "role": "polymer", "amount": 0.05, "by": "solids-of-cement",
     "density": 1060.0, "solids": 0.5},
    {"name": "Black", "role": "pigment", "amount": 0.02, "by": "cement", "density": 4900.0},
    {"name": "Sand", "role": "sand", "amount": 100.0, "by": "parts", "density": 2650.0,
     "absorption": 0.005},
    {"name": "Cement", "role": "cement", "amount": 85.0, "by": "parts", "density": 3150.0},
    {"name": "Metakaolin", "role": "pozzolan", "amount": 15.0, "by": "parts", "density": 2600.0},
    {"name": "Glass fibre", "role": "fibre", "amount": 0.025, "by": "total", "density": 2680.0},
)  # fmt: skip


def make_recipe(mix: Mix | None = None, number: int = 1, **fields: Any) -> Recipe:
    recipe = Recipe.objects.create(mix=mix or make_mix(), number=number, **fields)
    RecipePart.objects.bulk_create(
        RecipePart(recipe=recipe, place=place, **part) for place, part in enumerate(PARTS, start=1)
    )
    return recipe


def make_cast(*letters: str, number: str = "217", **fields: Any) -> Batch:
    """A cast of plain slabs of one job, 1.5 m² and 19 mm with a face coat of 4 mm each."""
    job = fields.pop("job", None) or make_job(number)
    pieces = [make_piece(job, letter, **fields) for letter in letters or ("A", "B")]
    return make_batch(*pieces)


def opened(batch: Batch, by: Person, number: int = 1, **fields: Any) -> MixerRun:
    fields = {"moisture": {}, "now": NOW} | fields
    return open_run(batch_id=batch.pk, number=number, by=by, **fields)


__all__ = ["PARTS", "cast_runs", "defaults", "make_cast", "make_recipe", "opened"]
