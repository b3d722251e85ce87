"""Recipes in versions: what is kept, what is refused and what the engine makes of them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from shop import defaults
from shop.models import Mix, Recipe, Role
from shop.services import materials, recipes
from shop.services.errors import Conflict, Refused
from shop.services.fresh import give_usual_figures
from shop.services.recipe_faults import RecipeRefused
from shop.services.recipes import Fibre, Part
from tests.factories import make_job, make_mix, make_person, make_piece, make_recipe

pytestmark = pytest.mark.django_db
POUND_FOOT = 16.018463  # kg/m³ in a lb/ft³

CEMENT = Part("cement", "cement", 100.0, "parts", 3150.0)
SAND = Part("sand", "sand", 100.0, "parts", 2650.0)
WATER = Part("water", "water", 34.0, "parts", 998.2)
GLASS = Part("glass", "fibre", 0.025, "total", 2680.0)
PARTS = (CEMENT, SAND, WATER, GLASS)


def save(mix: Mix, parts: tuple[Part, ...] = PARTS, seen: int = 0, fibre: Fibre | None = None) -> Recipe:  # fmt: skip
    return recipes.save_recipe(
        mix_id=mix.pk,
        seen_number=seen,
        parts=parts,
        fibre=fibre or Fibre(),
        by=make_person(Role.OWNER),
    )


def test_a_fresh_shop_has_the_usual_recipe_within_every_usual_limit() -> None:
    """Sand 1 : 1, free water 0.34, polymer 5 % of cement, pozzolan 15 %: common practice."""
    give_usual_figures()
    mix = Mix.objects.get()
    recipe = recipes.current_recipe(mix)
    assert recipe is not None
    weights = recipes.engine_mix(recipe)
    assert weights.water_cementitious == pytest.approx(0.34)
    assert weights.polymer == pytest.approx(0.05)
    assert weights.pozzolan == pytest.approx(0.15)
    assert weights.sand == pytest.approx(1.0)
    notes = recipes.recipe_notes(recipe)
    assert [check.key for check in notes.checks] == [
        "water", "polymer", "pozzolan", "pigment", "fibre-face", "fibre-backer", "fibre-rib",
    ]  # fmt: skip
    assert notes.beyond == []
    # GFRC weighs 112 to 140 lb/ft³ with its air; without, a little more than the stated 130.
    assert 130 < notes.air_free["backer"] / POUND_FOOT < 142
    assert notes.density.measured == mix.density
    assert 0 < notes.density.air < 0.10


def test_each_layer_has_its_own_fibre_and_the_same_matrix() -> None:
    recipe = make_recipe(pigment=0.04)
    face, backer, rib = (recipes.layer_mix(recipe, layer) for layer in ("face", "backer", "rib"))
    assert (face.fibre, backer.fibre, rib.fibre) == pytest.approx((0.0, 0.025, 0.035))
    for one in (face, backer, rib):
        assert one.water_cementitious == pytest.approx(0.34)
        assert one.pigment == pytest.approx(0.04)


def test_a_change_is_a_new_version_and_the_old_one_stays() -> None:
    mix = make_mix()
    first = save(mix)
    second = save(mix, (CEMENT, replace(SAND, amount=110.0), WATER, GLASS), seen=1)
    assert (first.number, second.number) == (1, 2)
    now = recipes.current_recipe(mix)
    assert now is not None
    assert now.pk == second.pk
    assert [part.name for part in now.parts.all()] == ["cement", "sand", "water", "glass"]
    assert first.parts.get(name="sand").amount == 100.0
    assert recipes.current_recipes([mix]) == {mix.pk: second}


def test_the_second_of_two_savers_is_told_and_nothing_is_lost() -> None:
    mix = make_mix()
    save(mix)
    with pytest.raises(Conflict, match="version 1") as told:
        save(mix, seen=0)
    assert told.value.version == 1
    assert mix.recipes.count() == 1


def test_an_old_version_taken_up_again_is_a_new_one_with_its_parts() -> None:
    mix = make_mix()
    save(mix)
    save(mix, (CEMENT, replace(SAND, amount=110.0), WATER, GLASS), seen=1, fibre=Fibre(0, 0.03))
    again = recipes.take_up_again(mix_id=mix.pk, number=1, seen_number=2, by=None)
    assert (again.number, again.note) == (3, "version 1 taken up again")
    assert again.parts.get(name="sand").amount == 100.0
    assert again.fibre_backer == 0.025


@pytest.mark.parametrize(
    ("parts", "fibre", "row", "field", "words"),
    [
        ((replace(CEMENT, name=" "), *PARTS[1:]), Fibre(), 0, "name", "1 to 60 letters"),
        ((CEMENT, replace(SAND, name="Cement"), WATER, GLASS), Fibre(), 1, "name", "Rename"),
        ((CEMENT, SAND, replace(WATER, solids=0.5), GLASS), Fibre(), 2, "solids", "polymer"),
        ((CEMENT, replace(SAND, density=1.0), WATER, GLASS), Fibre(), 1, "density", "unit"),
        ((CEMENT, replace(SAND, absorption=0.6), WATER, GLASS), Fibre(), 1, "absorption", "50 %"),
        ((CEMENT, replace(SAND, by="water-of-cement"), WATER, GLASS), Fibre(), 1, "by", "ratio"),
        ((replace(CEMENT, by="cement"), *PARTS[1:]), Fibre(), 0, "by", "share of itself"),
        ((SAND, WATER, GLASS), Fibre(), None, "", "no cement"),
        ((CEMENT, SAND, GLASS), Fibre(), None, "", "no water"),
        ((CEMENT, SAND, WATER), Fibre(0, 0.02, 0), None, "fibre_backer", "is a fibre"),
        (PARTS, Fibre(0.0, 0.3), None, "fibre_backer", "20 %"),
        ((replace(CEMENT, by="total", amount=0.6), replace(SAND, by="total", amount=0.5), WATER,
          GLASS), Fibre(), None, "", "nothing for the rest"),
        # 40 of emulsion bring 24 of water, and w/c 0.2 leaves no room for it.
        ((CEMENT, SAND, replace(WATER, amount=0.2, by="water-of-cement"), GLASS,
          Part("emulsion", "polymer", 40.0, "parts", 1050.0, 0.4)), Fibre(), 2, "amount",
         "below 0"),
        ((CEMENT, SAND, WATER, replace(GLASS, by="parts", amount=0.0),
          Part("other", "fibre", 0.0, "parts", 2680.0)), Fibre(), None, "", "fibre"),
        ((replace(CEMENT, amount=0.9, by="cementitious"), SAND, WATER, GLASS), Fibre(), None, "",
         "come to 90 %"),
        ((CEMENT, replace(SAND, amount=0.5, by="total"), replace(WATER, amount=0.3, by="total"),
          replace(GLASS, amount=0.3, by="cementitious"),
          Part("ash", "pozzolan", 0.4, "total", 2300.0)), Fibre(), None, "", "for the rest"),
        ((replace(CEMENT, amount=0.5, by="cementitious"), SAND, WATER, GLASS,
          Part("ash", "pozzolan", 0.6, "cementitious", 2300.0)), Fibre(), None, "", "110 %"),
    ],
)  # fmt: skip
def test_what_cannot_be_mixed_is_said_where_it_stands(
    parts: tuple[Part, ...], fibre: Fibre, row: int | None, field: str, words: str
) -> None:
    mix = make_mix()
    with pytest.raises(RecipeRefused) as refused:
        save(mix, parts, fibre=fibre)
    told = [(fault.row, fault.field) for fault in refused.value.faults if words in fault.words]
    assert told == [(row, field)], refused.value.faults
    assert not mix.recipes.exists()


def test_a_mix_beyond_the_usual_is_saved_and_said() -> None:
    mix = make_mix()
    recipe = save(mix, (CEMENT, SAND, replace(WATER, amount=45.0), GLASS))
    beyond = {check.key: check for check in recipes.recipe_notes(recipe).beyond}
    assert set(beyond) == {"water", "polymer", "pozzolan"}
    assert beyond["water"].value == pytest.approx(0.45)


def test_a_mix_of_which_nothing_was_cast_goes_with_its_recipe() -> None:
    mix = make_mix()
    make_recipe(mix)
    materials.delete_mix(mix.pk)
    assert not Mix.objects.exists()
    assert not Recipe.objects.exists()


def test_a_mix_that_pieces_have_keeps_its_recipe() -> None:
    mix = make_piece(make_job()).mix
    make_recipe(mix)
    with pytest.raises(Refused, match="used by pieces"):
        materials.delete_mix(mix.pk)
    assert mix.recipes.count() == 1


def test_usual_parts_stand_in_the_order_of_adding_with_their_pigment() -> None:
    roles = [part["role"] for part in defaults.usual_recipe(0.04)]
    assert roles == [
        "water", "polymer", "admixture", "pigment", "sand", "cement", "pozzolan", "fibre",
    ]  # fmt: skip
