from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from shop.models import Change, Mix, Sealer
from shop.services import materials
from tests.factories import make_customer, make_job, make_mix, make_piece, make_sealer
from tests.shop.setup.helpers import text, typed


def test_empty_shelves_say_what_to_do(owners: Client) -> None:
    assert "No mixes yet" in text(owners.get(reverse("mixes")))
    assert "No sealers yet" in text(owners.get(reverse("sealers")))


def test_the_usual_curve_gives_the_placeholder_figures_of_the_trade() -> None:
    # 9,000 psi in the long run, k 0.0322 1/h, t0 6 h: 550, 1,450, 2,200, 3,300, 5,200, 7,500 psi.
    psi = [s.mpa / 0.00689476 for s in materials.strengths(Mix(su_mpa=62.053))]
    assert psi == pytest.approx([550, 1450, 2200, 3300, 5200, 7500], rel=0.015)


def test_a_placeholder_carries_its_band_and_a_typed_curve_a_narrower_one() -> None:
    guess, typed = (materials.strengths(Mix(placeholder=p))[2] for p in (True, False))
    assert (guess.low, guess.high) == pytest.approx((guess.mpa * 0.7, guess.mpa * 1.3))
    assert (typed.low, typed.high) == pytest.approx((typed.mpa * 0.85, typed.mpa * 1.15))


def test_warmth_hurries_sixteen_hours_by_the_activation_energy() -> None:
    by_warmth = {
        w.celsius: w.hours for w in materials.hours_like_16_at_20(Mix(activation_energy=41572.0))
    }
    # Arrhenius with Q = 5000 K: 50 °F (10 °C) 29 h.
    assert by_warmth[10.0] == pytest.approx(29.3, abs=0.3)
    assert by_warmth[20.0] == pytest.approx(16.0)
    assert list(by_warmth.values()) == sorted(by_warmth.values(), reverse=True)


def test_an_exponential_curve_is_reckoned_by_its_own_form() -> None:
    mix = Mix(curve="exponential", su_mpa=60.0, tau_hours=20.0, alpha=1.0)
    assert materials.strengths(mix)[-1].mpa == pytest.approx(
        60.0 * 2.718281828 ** -(20 / 168), rel=1e-6
    )


def test_a_mix_is_typed_in_psi_and_kept_in_megapascals(owners: Client) -> None:
    address = reverse("new-mix")
    answer = owners.post(address, typed(owners.get(address), name="Gray premix", su_mpa="8000"))
    assert answer.status_code == 302
    assert Mix.objects.get().su_mpa == pytest.approx(55.158, abs=0.001)
    assert Change.objects.exists()


def test_a_placeholder_says_that_it_is_not_your_concrete(owners: Client) -> None:
    mix = make_mix()
    sentence = "placeholder, not your concrete: ±30 % at 12–24 h"
    assert sentence in text(owners.get(reverse("mixes")))
    address = reverse("mix", args=[mix.pk])
    owners.post(address, typed(owners.get(address), placeholder=None))
    assert sentence not in text(owners.get(address))


def test_each_curve_has_its_own_band_and_says_what_it_rests_on(owners: Client) -> None:
    mix = make_mix(su_mpa=60.0)
    address = reverse("mix", args=[mix.pk])
    assert "±30 %" in text(owners.get(address))

    Mix.objects.update(placeholder=False)
    for page in (address, reverse("mixes")):
        said = text(owners.get(page))
        assert "±15 %" in said
        assert "our judgement; no source has it" in said
        assert "±30 %" not in said

    Mix.objects.update(curve_draws=[[60.0 + n, 0.05, 5.0] for n in range(-9, 10)])
    said = text(owners.get(address))
    assert "90 % band" in said
    assert "that of the tests the curve was taken from" in said
    assert "±15 %" not in said


def test_a_look_at_another_curve_leaves_the_band_of_the_tests_aside(owners: Client) -> None:
    mix = make_mix(placeholder=False)
    Mix.objects.update(curve_draws=[[60.0 + n, 0.05, 5.0] for n in range(-9, 10)])
    address = reverse("mix", args=[mix.pk])

    answer = owners.post(address, typed(owners.get(address), su_mpa="4500", look="yes"))
    assert "±15 %" in text(answer)
    assert len(Mix.objects.get().curve_draws) == 19


def test_looking_at_the_tables_saves_nothing(owners: Client) -> None:
    mix = make_mix()
    address = reverse("mix", args=[mix.pk])
    answer = owners.post(address, typed(owners.get(address), su_mpa="4500", look="yes"))
    assert answer.status_code == 200
    assert "nothing is saved yet" in text(answer)
    assert "1,096 psi" in text(answer)
    assert typed(answer)["su_mpa"] == "4500"
    mix.refresh_from_db()
    assert mix.version == 1


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"su_mpa": "-5"}, "At least 145 psi"),
        ({"su_mpa": "5000 °F"}, "not a unit"),
        ({"rate_per_hour": "0"}, "At least"),
        ({"activation_energy": "5"}, "At least 20000"),
        ({"curve": "parabolic"}, "Choose another"),
        ({"setting_hours": "inf"}, "Write a number"),
    ],
)
def test_a_curve_that_cannot_be_is_refused(
    owners: Client, change: dict[str, str], word: str
) -> None:
    mix = make_mix()
    address = reverse("mix", args=[mix.pk])
    for button in ({}, {"look": "yes"}):
        answer = owners.post(address, typed(owners.get(address), **change) | button)
        assert answer.status_code == 422
        assert word in text(answer)
    mix.refresh_from_db()
    assert mix.version == 1


def test_a_mix_changed_meanwhile_tells_what_stands_in_the_shops_units(owners: Client) -> None:
    mix = make_mix(su_mpa=62.0)
    address = reverse("mix", args=[mix.pk])
    mine = typed(owners.get(address), su_mpa="9500")
    owners.post(address, typed(owners.get(address), su_mpa="8000", placeholder=None))
    answer = owners.post(address, mine)
    assert answer.status_code == 409
    assert "now 8000 psi, yours is 9500 psi" in text(answer)
    assert "placeholder" not in typed(answer)


def test_a_used_mix_stays_and_an_unused_one_goes(owners: Client) -> None:
    used, unused = make_mix(name="Used"), make_mix(name="Unused")
    make_piece(make_job(customer=make_customer()), mix=used)
    owners.post(reverse("delete-mix", args=[unused.pk]))
    answer = owners.post(reverse("delete-mix", args=[used.pk]), follow=True)
    assert "Take it out of use instead" in text(answer)
    assert list(Mix.objects.values_list("name", flat=True)) == ["Used"]


def test_a_sealer_is_typed_in_fahrenheit_and_kept_in_celsius(owners: Client) -> None:
    address = reverse("new-sealer")
    changes = {
        "name": "Lacquer",
        "celsius_least": "50",
        "celsius_greatest": "86",
        "dew_margin": "5.4",
    }
    assert owners.post(address, typed(owners.get(address), **changes)).status_code == 302
    sealer = Sealer.objects.get()
    assert (sealer.celsius_least, sealer.celsius_greatest) == pytest.approx((10.0, 30.0))
    assert sealer.dew_margin == pytest.approx(3.0)
    assert "data sheet governs" in text(owners.get(address))


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"celsius_greatest": "40"}, "nothing could be sprayed"),
        ({"recoat_greatest_hours": "4"}, "no window is open"),
        ({"light_use_hours": "1"}, "no sooner than the use before it"),
        ({"coats": "0"}, "At least 1"),
        ({"humidity_greatest": "140"}, "Between 0 and 100"),
        ({"dew_margin": "-3"}, "At least 0 °F"),
    ],
)
def test_a_sealer_that_cannot_be_is_refused(
    owners: Client, change: dict[str, str], word: str
) -> None:
    sealer = make_sealer()
    address = reverse("sealer", args=[sealer.pk])
    answer = owners.post(address, typed(owners.get(address), **change))
    assert answer.status_code == 422
    assert word in text(answer)
    sealer.refresh_from_db()
    assert sealer.version == 1


def test_a_recoat_window_may_have_no_end(owners: Client) -> None:
    sealer = make_sealer()
    address = reverse("sealer", args=[sealer.pk])
    assert (
        owners.post(address, typed(owners.get(address), recoat_greatest_hours="")).status_code
        == 302
    )
    sealer.refresh_from_db()
    assert sealer.recoat_greatest_hours is None
    assert "no end" in text(owners.get(reverse("sealers")))


def test_a_dry_unit_weight_is_typed_or_left_unweighed(owners: Client, mix: Mix) -> None:
    address = reverse("mix", args=[mix.pk])
    assert owners.post(address, typed(owners.get(address), dry_density="122")).status_code == 302
    # 122 lb/ft³ of 16.0185 kg/m³ each.
    assert Mix.objects.get().dry_density == pytest.approx(1954.3, abs=0.1)
    owners.post(address, typed(owners.get(address), dry_density=""))
    assert Mix.objects.get().dry_density is None


def test_a_piece_does_not_get_heavier_by_drying(owners: Client, mix: Mix) -> None:
    address = reverse("mix", args=[mix.pk])
    answer = owners.post(address, typed(owners.get(address), dry_density="140"))
    assert answer.status_code == 422
    assert "Heavier than fresh" in text(answer)
    assert 'value="140"' in answer.content.decode()
