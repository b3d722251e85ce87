from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from shop.models import Change, Shop
from tests.shop.setup.helpers import text, typed

ADDRESS = "/shop/settings/"


def save(owners: Client, **changes: str) -> object:
    return owners.post(ADDRESS, typed(owners.get(ADDRESS), **changes))


def test_settings_are_saved_and_dates_told(owners: Client) -> None:
    answer = save(
        owners,
        name="Keel Street Castings",
        margin_hours="8,5",
        leave_by="14:30",
        region="tn",
        country="us",
    )
    assert answer.status_code == 302
    shop = Shop.objects.get()
    assert (shop.name, shop.margin_hours, shop.region, shop.country) == (
        "Keel Street Castings",
        8.5,
        "TN",
        "US",
    )
    assert f"{shop.leave_by:%H:%M}" == "14:30"
    assert Change.objects.exists()


def test_the_carry_limit_is_typed_in_pounds_and_kept_in_kilograms(owners: Client) -> None:
    save(owners, carry_limit_kg="40")
    assert Shop.objects.get().carry_limit_kg == pytest.approx(18.144, abs=0.001)


def test_handling_figures_are_typed_in_the_shops_units(owners: Client) -> None:
    page = text(owners.get(ADDRESS))
    assert "PCI Design Handbook, from memory" in page
    assert typed(owners.get(ADDRESS))["form_bond_pa"] == "20.9"  # 1 kPa; 1 psf is 47.88 Pa

    save(
        owners,
        strip_multiplier="1,4",
        form_bond_pa="30",
        support_share="22",
        rupture_factor="2",
    )

    shop = Shop.objects.get()
    assert (shop.strip_multiplier, shop.support_share, shop.rupture_factor) == (1.4, 0.22, 2.0)
    assert shop.form_bond_pa == pytest.approx(1436.4, abs=0.1)


@pytest.mark.parametrize(
    ("typed_over", "said"),
    [
        ({"strip_multiplier": "0.9"}, "At least 1"),
        ({"travel_multiplier": "4"}, "At most 3"),
        ({"support_share": "50"}, "At most 49 %"),
        ({"rupture_factor": "0.5"}, "At least 1"),
        ({"form_bond_pa": "500"}, "At most 418 psf"),
    ],
)
def test_a_handling_figure_out_of_range_is_said(
    owners: Client, typed_over: dict[str, str], said: str
) -> None:
    answer = save(owners, **typed_over)
    assert answer.status_code == 422  # type: ignore[attr-defined]
    assert said in text(answer)  # type: ignore[arg-type]


def test_the_owner_sets_the_age_before_which_no_demold_is_trusted(owners: Client) -> None:
    save(owners, demold_floor_hours="14,5")
    assert Shop.objects.get().demold_floor_hours == 14.5
    answer = save(owners, demold_floor_hours="400")
    assert answer.status_code == 422
    assert Shop.objects.get().demold_floor_hours == 14.5


def test_changing_the_units_leaves_the_quantities_alone(owners: Client) -> None:
    before = Shop.objects.get().carry_limit_kg
    save(owners, units="si")
    assert Shop.objects.get().carry_limit_kg == before
    assert typed(owners.get(ADDRESS))["carry_limit_kg"] == "22.7"


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"time_zone": "America/Atlantis"}, "no time zone"),
        ({"margin_hours": "-1"}, "At least 0"),
        ({"margin_hours": "nan"}, "Write a number"),
        ({"leave_by": "25:00"}, "Write a time"),
        ({"country": "ZZ"}, "No holidays are known"),
        ({"region": "ZZ"}, "Not known there"),
        ({"carry_limit_kg": "0"}, "At least 2 lb"),
        ({"carry_limit_kg": "50 °F"}, "not a unit"),
        ({"reply_to": "nobody"}, "Write an e-mail address"),
        ({"name": ""}, "Fill this in"),
        ({"name": "x" * 200}, "At most 80"),
    ],
)
def test_what_cannot_be_is_refused_and_kept_on_the_form(
    owners: Client, change: dict[str, str], word: str
) -> None:
    answer = save(owners, **change)
    assert answer.status_code == 422
    assert word in text(answer)
    shown = typed(answer)
    assert all(shown[name] == value for name, value in change.items())
    assert Shop.objects.get().version == 1


def test_two_owners_at_once_merge_what_each_changed(owners: Client) -> None:
    mine = typed(owners.get(ADDRESS), phone="555-0142")
    save(owners, address="12 Keel Street")
    answer = owners.post(ADDRESS, mine)
    assert answer.status_code == 409
    again = typed(answer)
    assert (again["phone"], again["address"]) == ("555-0142", "12 Keel Street")
    assert owners.post(ADDRESS, again).status_code == 302
    shop = Shop.objects.get()
    assert (shop.phone, shop.address) == ("555-0142", "12 Keel Street")


def test_the_first_page_says_what_is_missing(owners: Client) -> None:
    said = text(owners.get(reverse("setup")))
    assert "pieces need a room" in said
    assert "nothing is ever workable" in said


def test_a_name_with_markup_is_only_text(owners: Client) -> None:
    save(owners, name="<script>x</script>")
    assert b"<script>x" not in owners.get(reverse("setup")).content
