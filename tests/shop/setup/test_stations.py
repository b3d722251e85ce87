"""What the stations take: usual figures first, then the shop's own."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from shop.models import Change, Stations
from tests.shop.setup.helpers import text, typed

STATIONS = "/shop/stations/"


def test_the_usual_figures_stand_until_the_shop_has_its_own(owners: Client) -> None:
    sent = typed(owners.get(STATIONS))
    assert (sent["rack_places"], sent["settle_hours"], sent["labour_spread"]) == ("40", "3", "25")
    # 2 h/m² is 0.186 h/ft²: a foot is 0.3048 m.
    assert float(sent["form_hours_m2"]) == pytest.approx(2 * 0.3048**2, abs=5e-4)
    assert "usual figures, not yet yours" in text(owners.get(reverse("setup")))
    assert not Stations.objects.exists()


def test_they_are_typed_in_the_shops_units_and_kept_in_si(owners: Client) -> None:
    sent = typed(
        owners.get(STATIONS), rack_places="24", booth_places="2", form_hours_m2="0.3",
        form_wait_hours="12,5", labour_spread="30", shared_air=None,
    )  # fmt: skip
    assert owners.post(STATIONS, sent).status_code == 302
    row = Stations.objects.get()
    assert (row.rack_places, row.booth_places, row.shared_air) == (24, 2, False)
    assert row.form_hours_m2 == pytest.approx(0.3 / 0.3048**2, rel=1e-3)
    assert (row.form_wait_hours, row.labour_spread) == (12.5, 0.3)
    assert Change.objects.exists()
    said = text(owners.get(reverse("setup")))
    assert "24 rack places · 2 places in the booth · 1 wet bay" in said
    assert "not yet yours" not in said


def test_a_figure_nobody_touched_stays_as_it_was(owners: Client) -> None:
    owners.post(STATIONS, typed(owners.get(STATIONS), rack_places="24"))
    assert Stations.objects.get().form_hours_m2 == 2.0


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"rack_places": "0"}, "At least 1"),
        ({"rack_places": "12.5"}, "whole number"),
        ({"mixers": ""}, "Write a number"),
        ({"settle_hours": "30"}, "At most 24"),
        ({"form_hours_m2": "soon"}, "number"),
        ({"labour_spread": "120"}, "Between 0 and 100 %"),
        ({"form_wait_hours": "-1"}, "At least 0"),
        ({"booth_places": "99999999999"}, "At most 50"),
    ],
)
def test_what_cannot_be_is_refused_and_kept(
    owners: Client, change: dict[str, str], word: str
) -> None:
    answer = owners.post(STATIONS, {**typed(owners.get(STATIONS)), **change})
    assert answer.status_code == 422
    assert word in text(answer)
    ((name, value),) = change.items()
    assert typed(answer)[name] == value
    assert not Stations.objects.exists()


def test_two_owners_at_the_first_figures_are_told(owners: Client) -> None:
    mine = typed(owners.get(STATIONS), wet_bays="2")
    owners.post(STATIONS, typed(owners.get(STATIONS), rack_places="24"))
    answer = owners.post(STATIONS, mine)
    assert answer.status_code == 409
    assert "Places on the racks : now 24. You had not touched it" in text(answer)
    assert owners.post(STATIONS, typed(answer)).status_code == 302
    row = Stations.objects.get()
    assert (row.rack_places, row.wet_bays) == (24, 2)
