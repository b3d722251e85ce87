"""The further pages of the settings: ways and truck, mixer and scales, words for customers."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from shop import defaults
from shop.models import Shop
from tests.shop.setup.helpers import text, typed

WAYS, MIXING, WORDS = (reverse("settings-part", args=[p]) for p in ("ways", "mixing", "words"))


def save(owners: Client, address: str, **changes: str) -> object:
    return owners.post(address, typed(owners.get(address), **changes))


def test_every_page_leads_to_the_others(owners: Client) -> None:
    for address in (reverse("settings"), WAYS, MIXING, WORDS):
        page = owners.get(address).content.decode()
        assert all(f'href="{other}"' in page for other in (WAYS, MIXING, WORDS))
    assert owners.get(reverse("settings-part", args=["nothing"])).status_code == 404


def test_doors_and_truck_are_typed_as_on_the_tape(owners: Client) -> None:
    assert typed(owners.get(WAYS))["door_width_m"] == "32"
    save(owners, WAYS, door_width_m="2' 6\"", truck_length_m="12 ft", stone_density="165")
    shop = Shop.objects.get()
    assert shop.door_width_m == pytest.approx(0.762)
    assert shop.truck_length_m == pytest.approx(3.6576)
    assert shop.stone_density == pytest.approx(165 * 16.018463, rel=1e-6)
    assert shop.door_height_m == 2.032  # untouched, as it was


def test_a_scale_is_typed_in_its_own_unit(owners: Client) -> None:
    shown = typed(owners.get(MIXING))
    assert (shown["scale_unit"], shown["scale_step_kg"]) == ("lb", "0.05")
    assert (shown["small_scale_unit"], shown["small_scale_step_kg"]) == ("g", "1")

    save(
        owners, MIXING, scale_unit="kg", scale_step_kg="0,02",
        small_scale_unit="oz", small_scale_step_kg="0.05",
    )  # fmt: skip
    shop = Shop.objects.get()
    assert (shop.scale_unit, shop.small_scale_unit) == ("kg", "oz")
    assert shop.scale_step_kg == pytest.approx(0.02)
    # The avoirdupois ounce is 28.349523125 g, exactly (international agreement of 1959).
    assert shop.small_scale_step_kg == pytest.approx(0.05 * 0.028349523125)
    assert typed(owners.get(MIXING))["small_scale_step_kg"] == "0.05"


def test_saving_again_moves_no_step(owners: Client) -> None:
    before = Shop.objects.get()
    for _ in range(3):
        save(owners, MIXING)
    after = Shop.objects.get()
    assert after.scale_step_kg == pytest.approx(before.scale_step_kg, rel=1e-9)
    assert (after.mixer_kg, after.waste_face) == (before.mixer_kg, before.waste_face)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"scale_step_kg": "20"}, "From 2.2e-05 to 11 lb"),
        ({"small_scale_step_kg": "0"}, "From 0.001 to 1e+03 g"),
        ({"small_scale_step_kg": "a gram"}, "Write a number"),
        ({"mixer_kg": "1"}, "At least 2 lb"),
        ({"waste_face": "130"}, "Between 0 and 100 %"),
        ({"waste_backer": ""}, "Write a number"),
        ({"scale_unit": "stone"}, "Choose another"),
    ],
)
def test_what_cannot_be_is_said_and_kept(owners: Client, change: dict[str, str], said: str) -> None:
    answer = save(owners, MIXING, **change)
    assert answer.status_code == 422  # type: ignore[attr-defined]
    assert said in text(answer)  # type: ignore[arg-type]
    if "scale_unit" not in change:
        assert typed(answer).items() >= change.items()  # type: ignore[arg-type]
    assert Shop.objects.get().version == 1


def test_two_owners_at_one_scale_merge(owners: Client) -> None:
    mine = typed(owners.get(MIXING), mixer_kg="200")
    save(owners, MIXING, small_scale_step_kg="0.5")
    answer = owners.post(MIXING, mine)
    assert answer.status_code == 409
    again = typed(answer)
    assert (again["mixer_kg"], again["small_scale_step_kg"]) == ("200", "0.5")
    assert owners.post(MIXING, again).status_code == 302
    shop = Shop.objects.get()
    assert shop.small_scale_step_kg == pytest.approx(0.0005)
    assert shop.mixer_kg == pytest.approx(90.718, abs=0.001)


def test_an_owner_at_another_page_of_the_settings_is_told_and_loses_nothing(
    owners: Client,
) -> None:
    mine = typed(owners.get(WORDS), care_words="Wipe it dry.")
    save(owners, WAYS, door_width_m="30")
    answer = owners.post(WORDS, mine)
    assert answer.status_code == 409
    assert "not among the fields below" in text(answer)
    assert owners.post(WORDS, typed(answer)).status_code == 302
    shop = Shop.objects.get()
    assert (shop.care_words, shop.door_width_m) == ("Wipe it dry.", pytest.approx(0.762))


def test_the_usual_words_stand_where_the_shop_has_none(owners: Client) -> None:
    said = text(owners.get(WORDS))
    assert "While it is empty, this is said" in said
    for words in (
        defaults.ABOUT_WORDS, defaults.AGEING_WORDS, defaults.CARE_WORDS,
        defaults.SITE_READY_WORDS,
    ):  # fmt: skip
        assert words.splitlines()[0] in said
    save(owners, WORDS, about_words="Light and strong.")
    shop = Shop.objects.get()
    assert (shop.about_words, shop.care_words) == ("Light and strong.", "")
    answer = save(owners, WORDS, care_words="x" * 1700)
    assert answer.status_code == 422  # type: ignore[attr-defined]


def test_the_usual_words_fit_their_fields_and_promise_nothing() -> None:
    words = {
        "about_words": defaults.ABOUT_WORDS,
        "ageing_words": defaults.AGEING_WORDS,
        "care_words": defaults.CARE_WORDS,
        "site_ready_words": defaults.SITE_READY_WORDS,
    }
    for name, text_ in words.items():
        assert 0 < len(text_) <= Shop._meta.get_field(name).max_length
        lower = text_.lower()
        claims = ("safe", "guarantee", "warrant", "stain-proof", "never", "crack-free", "forever")
        assert not [word for word in claims if word in lower]
    for care in ("stand", "acid", "board", "trivet", "mild soap", "data sheet"):
        assert care in defaults.CARE_WORDS
