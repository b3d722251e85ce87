"""A mix's recipe on its pages: shown, changed in rows, looked at, weighed out, taken up again."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from django.http import HttpResponse
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from shop.models import Mix, Person, Role, Shop
from shop.models.settings import Units
from shop.services import recipes
from shop.services.recipes import Part
from tests.factories import make_person, make_recipe, make_shop
from tests.shop.setup.helpers import text, typed

pytestmark = pytest.mark.django_db


def page(client: Client, mix: Mix) -> HttpResponse:
    return client.get(reverse("recipe", args=[mix.pk]))


def filled(client: Client, mix: Mix, keep: int | None = None, **changes: Any) -> dict[str, Any]:
    """The form as it opens, with these typed over, as a browser sends it; `keep` rows of it."""
    response = page(client, mix)
    values = typed(response, reverse("recipe", args=[mix.pk]), **changes)
    values.pop("row", None)
    rows = re.findall(r'name="row" value="(\d+)"', response.content.decode())
    return values | {"row": rows[:keep]}


def save(client: Client, mix: Mix, **changes: Any) -> HttpResponse:
    return client.post(reverse("recipe", args=[mix.pk]), filled(client, mix, **changes))


def latest(mix: Mix) -> dict[str, Any]:
    now = recipes.current_recipe(mix)
    assert now is not None
    return {part.name: part for part in now.parts.all()} | {"version": now}


def test_a_mix_without_a_recipe_says_so_and_offers_the_usual_one(owners: Client, mix: Mix) -> None:
    assert "No recipe yet" in text(owners.get(reverse("mix", args=[mix.pk])))
    assert "No recipe yet" in text(owners.get(reverse("recipes", args=[mix.pk])))
    assert "Filled in with usual figures; nothing is saved yet" in text(page(owners, mix))
    assert not mix.recipes.exists()
    assert save(owners, mix, note="as mixed since spring").status_code == 302
    now = latest(mix)
    assert now["version"].number == 1
    assert now["version"].made_by.name == "Ora Lindqvist"
    assert now["Acrylic polymer"].solids == 0.5
    assert now["Water"].amount == pytest.approx(0.34)


def test_the_parts_stand_on_the_mix_page_with_shares_checks_and_density(
    owners: Client, mix: Mix
) -> None:
    make_recipe(mix, pigment=0.04)
    said = text(owners.get(reverse("mix", args=[mix.pk])))
    assert "version 1, in use" in said
    assert "5 % solids of cement" in said
    assert "w/cm 0.34" in said
    assert "3.15 times water (196 lb/ft³)" in said
    # White cement 85 of 100, sand 100: their shares of the backer, by the engine's own test figures.
    backer = recipes.layer_mix(latest(mix)["version"], "backer")
    kg = {c.name: kg for c, kg in zip(backer.components, backer.kg, strict=True)}
    assert f"{100 * kg['White cement']:.2f} %" in said
    assert "ASTM C979: at most 10 % of cement, from memory; a default of this program" in said
    assert "would mean" in said
    assert "beyond" not in said


def test_percentages_are_typed_as_such_and_kept_as_fractions(owners: Client, mix: Mix) -> None:
    make_recipe(mix)
    answer = save(
        owners, mix,
        **{"p2-amount": "6", "p2-solids": "47", "p4-absorption": "0,7", "p4-written_moisture": "0",
           "fibre_backer": "2.8", "note": "stiffer"},
    )  # fmt: skip
    assert answer.status_code == 302
    now = latest(mix)
    assert (now["Acrylic polymer"].amount, now["Acrylic polymer"].solids) == (0.06, 0.47)
    assert now["Silica sand"].absorption == pytest.approx(0.007)
    assert now["Silica sand"].written_moisture == 0.0
    assert now["version"].fibre_backer == pytest.approx(0.028)
    said = text(owners.get(answer["Location"]))
    assert "Version 2 of the recipe is in use." in said
    assert "Acrylic polymer: 5 % solids of cement, now 6 % solids of cement; solids 50 %, now 47 %." in said  # fmt: skip
    assert "absorption 0.5 %, now 0.7 %; moisture as written surface-dry, now 0 %" in said
    assert "Fibre in backer: 2.5 %, now 2.8 %." in said
    assert "stiffer" in said


@pytest.mark.parametrize(
    ("units", "unit", "figure", "kg_m3"),
    [
        # A gallon of water weighs 8.345 lb at its densest (1,000 kg/m³): 231 in³ of it.
        (Units.US, "lb/gal", "8.3454", 1000.0),
        (Units.US, "lb/ft³", "165.4", 2649.5),
        (Units.US, "sg", "2.65", 2645.2),
        (Units.SI, "kg/m³", "2650", 2650.0),
        (Units.SI, "kg/L", "1.06", 1060.0),
    ],
)
def test_a_density_is_typed_in_the_unit_that_stands_beside_it(
    owners: Client, mix: Mix, units: str, unit: str, figure: str, kg_m3: float
) -> None:
    make_recipe(mix)
    make_shop(units=units)
    form = page(owners, mix).content.decode()
    assert f'<option value="{unit}"' in form
    changes = {"p4-density": figure, "p4-density_unit": unit}
    assert save(owners, mix, **changes).status_code == 302
    assert latest(mix)["Silica sand"].density == pytest.approx(kg_m3, rel=1e-4)


def test_nothing_changed_is_no_change_however_it_was_typed(owners: Client, mix: Mix) -> None:
    make_recipe(mix)
    save(owners, mix, **{"p4-density": f"{2.65 * 998.2 / 16.018463:.5f}", "p4-density_unit": "lb/ft³"})  # fmt: skip
    assert "The same parts as the version before it." in text(
        owners.get(reverse("recipes", args=[mix.pk]))
    )


def test_rows_are_added_moved_and_taken_out_with_nothing_saved_or_lost(
    owners: Client, mix: Mix
) -> None:
    make_recipe(mix)
    address = reverse("recipe", args=[mix.pk])

    def after(do: str, **changes: Any) -> tuple[list[str], HttpResponse]:
        response = owners.post(address, filled(owners, mix, **changes) | {"do": do})
        assert response.status_code == 200
        return re.findall(r'name="row" value="(\d+)"', response.content.decode()), response

    rows, response = after("down-1", **{"p3-amount": "not a number", "fibre_rib": "4"})
    assert rows == ["2", "1", "3", "4", "5", "6", "7"]
    kept = typed(response, address)
    assert (kept["p3-amount"], kept["fibre_rib"]) == ("not a number", "4")
    assert "not a number" in response.content.decode()
    assert 'class="errors"' not in response.content.decode()
    assert after("up-1")[0] == ["1", "2", "3", "4", "5", "6", "7"]
    assert after("up-" + "9" * 5000)[0] == ["1", "2", "3", "4", "5", "6", "7"]
    assert after("remove-3")[0] == ["1", "2", "4", "5", "6", "7"]
    assert after("add")[0] == ["1", "2", "3", "4", "5", "6", "7", "8"]
    assert after("remove-99")[0] == ["1", "2", "3", "4", "5", "6", "7"]
    assert mix.recipes.count() == 1


def test_the_order_of_the_rows_is_the_order_of_adding(owners: Client, mix: Mix) -> None:
    make_recipe(mix)
    values = filled(owners, mix)
    values["row"] = ["4", "1", "2", "3", "5", "6", "7"]
    assert owners.post(reverse("recipe", args=[mix.pk]), values).status_code == 302
    now = recipes.current_recipe(mix)
    assert now is not None
    assert [part.name for part in now.parts.all()][:2] == ["Silica sand", "Water"]
    said = text(owners.get(reverse("recipes", args=[mix.pk])))
    assert "Silica sand: added at another place." in said
    assert "Water: added" not in said


def test_a_new_row_left_empty_is_no_part(owners: Client, mix: Mix) -> None:
    make_recipe(mix)
    values = filled(owners, mix)
    values |= {"row": [*values["row"], "8"], "p8-role": "cement", "p8-by": "parts",
               "p8-density_unit": "sg"}  # fmt: skip
    assert owners.post(reverse("recipe", args=[mix.pk]), values).status_code == 302
    now = recipes.current_recipe(mix)
    assert now is not None
    assert now.parts.count() == 7


@pytest.mark.parametrize(
    ("changes", "where", "words"),
    [
        ({"p4-amount": "a shovel"}, "p4-amount", "Write a number"),
        ({"p4-name": ""}, "p4-name", "Give it a name."),
        ({"p4-name": "Water"}, "p4-name", "Another part has this name already"),
        ({"p4-density": ""}, "p4-density", "Its data sheet has it"),
        ({"p4-density": "2650"}, "p4-density", "look at the unit beside the field"),
        ({"p2-solids": "0"}, "p2-solids", "above 0 and at most 100"),
        ({"p4-absorption": "60"}, "p4-absorption", "below 50 %"),
        ({"p5-by": "water-of-cement"}, "p5-by", "Only water is written by the ratio"),
        # 5 % solids from a 50 % emulsion bring more water than 0.02 of cementitious allows.
        ({"p1-amount": "0.02"}, "p1-amount", "Water would have to be below 0"),
        ({"fibre_backer": "25"}, "fibre_backer", "below 20 % of the total weight"),
    ],
)
def test_what_is_wrong_stands_at_its_field_and_what_was_typed_stays(
    owners: Client, mix: Mix, changes: dict[str, str], where: str, words: str
) -> None:
    make_recipe(mix)
    response = save(owners, mix, **changes)
    assert response.status_code == 422
    page = response.content.decode()
    marked = re.search(rf'<ul class="errors" id="id_{where}_error">(.*?)</ul>', page)
    assert marked, text(response)
    assert words in marked[1]
    values = typed(response, reverse("recipe", args=[mix.pk]))
    assert {name: values[name] for name in changes} == changes
    assert mix.recipes.count() == 1


def test_what_is_no_rows_own_fault_is_said_on_top(owners: Client, mix: Mix) -> None:
    make_recipe(mix)
    response = save(owners, mix, **{"p5-role": "sand"})
    assert response.status_code == 422
    assert "There is no cement with an amount in it. Add one." in text(response)


def test_a_recipe_beyond_the_usual_is_saved_with_limit_basis_and_what_follows(
    owners: Client, mix: Mix
) -> None:
    make_recipe(mix)
    answer = save(owners, mix, **{"p1-amount": "0.45"})
    assert answer.status_code == 302
    said = text(owners.get(answer["Location"]))
    assert "0.45, of cement alone (w/c) 0.529 beyond 0.30 – 0.38" in said
    assert "It gets weaker, shrinks more and takes longer to dry." in said
    assert "Beyond what is usual is no refusal" in said


def test_somebody_elses_version_is_told_apart_and_saving_again_follows_it(
    owners: Client, mix: Mix
) -> None:
    make_recipe(mix)
    mine = filled(owners, mix, **{"p4-amount": "120"})
    save(owners, mix, **{"p5-amount": "90", "p6-amount": "10"})
    response = owners.post(reverse("recipe", args=[mix.pk]), mine)
    assert response.status_code == 409
    said = text(response)
    assert "Somebody else saved version 2 while you were typing" in said
    assert "White cement: 85 parts, now 90 parts." in said
    assert typed(response, reverse("recipe", args=[mix.pk]))["p4-amount"] == "120"
    again = mine | {"seen": typed(response, reverse("recipe", args=[mix.pk]))["seen"]}
    assert owners.post(reverse("recipe", args=[mix.pk]), again).status_code == 302
    now = latest(mix)
    assert now["version"].number == 3
    assert (now["Silica sand"].amount, now["White cement"].amount) == (120.0, 85.0)


def test_a_look_reckons_what_is_typed_and_saves_nothing(owners: Client, mix: Mix) -> None:
    make_recipe(mix)
    address = reverse("recipe-look", args=[mix.pk])
    said = text(owners.post(address, filled(owners, mix, **{"p1-amount": "0.42"})))
    assert "0.42, of cement alone (w/c) 0.494 beyond" in said
    assert "Without any air, by the absolute volumes" in said
    said = text(owners.post(address, filled(owners, mix, **{"p1-amount": "0.02"})))
    assert "Water: Water would have to be below 0" in said
    said = text(owners.post(address, filled(owners, mix, **{"p1-amount": "x"})))
    assert "cannot be read yet" in said
    assert mix.recipes.count() == 1


def test_any_version_is_opened_and_taken_up_again(owners: Client, mix: Mix) -> None:
    make_recipe(mix)
    save(owners, mix, **{"p4-amount": "120"})
    old = reverse("recipe-version", args=[mix.pk, 1])
    said = text(owners.get(old))
    assert "An older version: version 2 is in use." in said
    assert "100 parts" in said
    again = reverse("recipe-again", args=[mix.pk, 1])
    stale = owners.post(again, {"seen": "1"}, follow=True)
    assert "Somebody else saved version 2" in text(stale)
    said = text(owners.post(again, typed(owners.get(old), again), follow=True))
    assert "Version 3 is in use, with the parts of version 1." in said
    assert latest(mix)["Silica sand"].amount == 100.0
    assert owners.get(reverse("recipe-version", args=[mix.pk, 9])).status_code == 404


def test_the_office_sees_recipes_and_changes_none(
    mix: Mix, signed_in: Callable[[Person], Client]
) -> None:
    make_recipe(mix)
    make_recipe(mix)
    office = signed_in(make_person(Role.OFFICE))
    assert reverse("recipes", args=[mix.pk]) in office.get(reverse("mixes")).content.decode()
    old = office.get(reverse("recipe-version", args=[mix.pk, 1]))
    assert old.status_code == 200
    assert "Take this one up again" not in text(old)
    assert "Change the recipe" not in text(old)


def test_weights_for_a_hundred_pounds_take_the_sands_water_off(owners: Client, mix: Mix) -> None:
    """US Navy NAVEDTRA 14070, chapter 17, cut to its sand and a hundredth: 11.53 lb of sand with 6 %
    of free water are 12.22 to weigh, 0.69 less water. Absorption 0, as the manual counts it.
    """
    make_recipe(
        mix,
        [
            Part("cement", "cement", 6.10, "parts", 3150.0),
            Part("sand", "sand", 11.53, "parts", 2650.0),
            Part("water", "water", 3.05, "parts", 998.2),
            Part("glass", "fibre", 0.0, "parts", 2680.0),
        ],
    )
    response = owners.get(
        reverse("recipes", args=[mix.pk]), {"weight": "20.68", "layer": "face", "wet0": "6"}
    )
    said = text(response)
    assert "sand 12.22 lb" in said
    assert "water 2.36 lb" in said
    assert "cement 6.10 lb" in said
    assert "Together 20.68 lb" in said


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"weight": "none", "layer": "backer"}, "is not a number"),
        ({"weight": "100", "layer": "roof"}, "can't be chosen"),
        ({"weight": "100", "layer": "backer", "wet0": "55"}, "Below 50 %"),
        ({"weight": "100", "layer": "backer", "wet0": "49"}, "more water than the mix adds"),
    ],
)
def test_what_cannot_be_weighed_out_is_said(
    owners: Client, mix: Mix, asked: dict[str, str], words: str
) -> None:
    make_recipe(mix)
    response = owners.get(reverse("recipes", args=[mix.pk]), asked)
    assert response.status_code == 422
    assert words in text(response)
    assert f'value="{asked["weight"]}"' in response.content.decode()


def test_the_list_of_versions_takes_as_many_queries_for_twelve_as_for_three(
    owners: Client, mix: Mix
) -> None:
    address = reverse("recipes", args=[mix.pk])

    def queries(versions: int) -> int:
        while mix.recipes.count() < versions:
            make_recipe(mix)
        owners.get(address)
        with CaptureQueriesContext(
            connection,
        ) as seen:
            owners.get(address)
        return len(seen)

    assert queries(3) == queries(12)


def test_rows_that_the_app_would_not_write_are_shown_with_what_is_wrong(
    owners: Client, mix: Mix, shop: Shop
) -> None:
    make_recipe(mix, [Part("sand", "sand", 100.0, "parts", 2650.0)])
    said = text(owners.get(reverse("recipes", args=[mix.pk])))
    assert "No weights come out of this version" in said
    assert "a recipe needs a cement" in said
