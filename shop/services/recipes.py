"""A mix's recipe in versions, and what the engine makes of it.

A version is added and never edited: what was cast keeps the one it had. The one with the highest
number is in use.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from curing import mixture
from curing.mix_checks import LAYERS, Check, Layer, mix_checks
from curing.mixture import Component, for_layer, normalise
from curing.yield_check import DensityCheck, air_free_density, density_check
from shop.models import Mix, Person, Recipe, RecipePart
from shop.services.errors import Conflict
from shop.services.recipe_faults import FIELDS, Fibre, Part, check, component_of

__all__ = [
    "Fibre",
    "Part",
    "RecipeNotes",
    "current_recipe",
    "current_recipes",
    "engine_mix",
    "fibre_of",
    "layer_mix",
    "notes_of",
    "parts_of",
    "recipe_notes",
    "save_recipe",
    "take_up_again",
    "versions_of",
    "weights_of",
    "write",
]


@dataclass(frozen=True)
class RecipeNotes:
    """A recipe held against the usual limits, and its weight against its components'.

    checks : of the matrix first, then the fibre of face, backer and ribs
    air_free : density without air by layer, from the components' densities [kg/m³]
    density : of the backer's mix, which most of a piece is, against the mix's stated unit weight
    """

    checks: tuple[Check, ...]
    air_free: Mapping[Layer, float]
    density: DensityCheck

    @property
    def beyond(self) -> list[Check]:
        return [one for one in self.checks if not one.within]


def current_recipe(mix: Mix) -> Recipe | None:
    """The version in use, with its parts; None while the mix has no recipe."""
    return versions_of(mix).first()


def versions_of(mix: Mix) -> QuerySet[Recipe]:
    """Newest first, with their parts."""
    return mix.recipes.select_related("mix", "made_by").prefetch_related("parts")


def current_recipes(mixes: Iterable[Mix]) -> dict[int, Recipe]:
    """By mix, in two queries however many there are; mixes without a recipe are left out."""
    rows = Recipe.objects.filter(mix__in=list(mixes)).select_related("mix", "made_by")
    newest: dict[int, Recipe] = {}
    for recipe in rows.order_by("mix", "number").prefetch_related("parts"):
        newest[recipe.mix_id] = recipe
    return newest


def fibre_of(recipe: Recipe) -> Fibre:
    return Fibre(recipe.fibre_face, recipe.fibre_backer, recipe.fibre_rib)


def parts_of(recipe: Recipe) -> tuple[Part, ...]:
    """In the order of adding."""
    return tuple(
        Part(**{name: getattr(row, name) for name in FIELDS}) for row in recipe.parts.all()
    )


def engine_mix(recipe: Recipe) -> mixture.Mix:
    """The recipe as weights in a kilogram of mix, with its fibre as the row has it.

    Raises ValueError where the engine refuses it, which no saved version is.
    """
    return weights_of(parts_of(recipe))


def layer_mix(recipe: Recipe, layer: Layer) -> mixture.Mix:
    """The same with the layer's own share of fibre. Raises ValueError as `engine_mix`."""
    return for_layer(engine_mix(recipe), getattr(recipe, f"fibre_{layer}"))


def weights_of(parts: Sequence[Part]) -> mixture.Mix:
    components: tuple[Component, ...] = tuple(component_of(part) for part in parts)
    return normalise(mixture.Recipe(components))


def recipe_notes(recipe: Recipe) -> RecipeNotes:
    return notes_of(parts_of(recipe), fibre_of(recipe), recipe.mix.density)


def notes_of(parts: Sequence[Part], fibre: Fibre, unit_weight: float) -> RecipeNotes:
    """Of parts that need not be saved yet. unit_weight : of the fresh mix as stated [kg/m³]

    Raises ValueError where the engine refuses the parts.
    """
    mix = weights_of(parts)
    layers: dict[Layer, mixture.Mix] = {
        layer: for_layer(mix, getattr(fibre, layer)) for layer in LAYERS
    }
    checks = {layer: mix_checks(one, layer) for layer, one in layers.items()}
    # Only the last of a layer's checks, its fibre, differs between them.
    return RecipeNotes(
        checks=(*checks["face"][:-1], *(checks[layer][-1] for layer in LAYERS)),
        air_free={layer: air_free_density(one) for layer, one in layers.items()},
        density=density_check(layers["backer"], unit_weight),
    )


@transaction.atomic
def save_recipe(
    *,
    mix_id: int,
    seen_number: int,
    parts: Sequence[Part],
    fibre: Fibre,
    note: str = "",
    by: Person | None,
) -> Recipe:
    """A new version. seen_number : of the version that was changed, 0 where there was none.

    Raises Conflict when somebody saved another meanwhile, RecipeRefused for what cannot be mixed.
    """
    mix = Mix.objects.select_for_update().get(pk=mix_id)
    standing = current_recipe(mix)
    number = standing.number if standing else 0
    if number != seen_number:
        raise Conflict(
            _("Somebody else saved version %(number)d while you were typing. Nothing of yours is "
              "saved yet.") % {"number": number},
            version=number,
            theirs={},
        )  # fmt: skip
    check(parts, fibre)
    return write(mix, number + 1, parts, fibre, note=note, by=by)


@transaction.atomic
def take_up_again(*, mix_id: int, number: int, seen_number: int, by: Person | None) -> Recipe:
    """A new version with the parts of an old one."""
    old = versions_of(Mix.objects.get(pk=mix_id)).get(number=number)
    return save_recipe(
        mix_id=mix_id,
        seen_number=seen_number,
        parts=parts_of(old),
        fibre=fibre_of(old),
        note=_("version %(number)d taken up again") % {"number": number},
        by=by,
    )


def write(
    mix: Mix, number: int, parts: Sequence[Part], fibre: Fibre, *, note: str, by: Person | None
) -> Recipe:
    """The rows as they are, without the rules that `save_recipe` keeps."""
    recipe = Recipe.objects.create(
        mix=mix,
        number=number,
        fibre_face=fibre.face,
        fibre_backer=fibre.backer,
        fibre_rib=fibre.rib,
        note=note,
        made_by=by,
    )
    RecipePart.objects.bulk_create(
        RecipePart(recipe=recipe, place=place, **asdict(part))
        for place, part in enumerate(parts, start=1)
    )
    return recipe
