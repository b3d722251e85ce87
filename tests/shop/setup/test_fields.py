from __future__ import annotations

import datetime as dt

import pytest

from shop.forms import LocalMomentField, MeasureField, NumberField, PercentField, ShopForm
from shop.models import Shop

US = Shop(pk=1, name="Test shop", time_zone="America/Chicago", units="us")
SI = Shop(pk=1, name="Test shop", time_zone="America/Chicago", units="si")


class AirForm(ShopForm):
    warmth = MeasureField("temperature", least=-40, greatest=60)
    damp = PercentField(required=False)
    wait = NumberField(unit="h", required=False, min_value=0)


class MomentForm(ShopForm):
    at = LocalMomentField()


def moment(day: str, clock: str, fold: str | None = None) -> MomentForm:
    data = {"at_0": day, "at_1": clock}
    return MomentForm(data if fold is None else data | {"at_2": fold}, shop=US)


@pytest.mark.parametrize(
    ("shop", "words", "celsius"),
    [
        (US, "50", 10.0),
        (US, "10 °C", 10.0),
        (US, "50,0 F", 10.0),
        (SI, "10", 10.0),
        (SI, "50 °F", 10.0),
    ],
)
def test_a_quantity_is_read_in_the_shops_unit_or_its_own(
    shop: Shop, words: str, celsius: float
) -> None:
    form = AirForm({"warmth": words}, shop=shop)
    assert form.is_valid(), form.errors
    assert form.cleaned_data["warmth"] == pytest.approx(celsius)


@pytest.mark.parametrize("words", ["warm", "1e3", "50 psi", "50 °F 3", "nan", "--4", "٥x"])
def test_what_is_no_temperature_is_refused(words: str) -> None:
    form = AirForm({"warmth": words}, shop=US)
    assert not form.is_valid()
    assert "warmth" in form.errors


def test_the_limit_is_named_in_the_shops_unit() -> None:
    form = AirForm({"warmth": "200"}, shop=US)
    assert form.errors["warmth"] == ["At most 140 °F."]


def test_an_untouched_quantity_stays_as_stored() -> None:
    stored = 13.123456
    shown = AirForm(shop=US, initial={"warmth": stored})["warmth"].field.prepare_value
    form = AirForm(shop=US, initial={"warmth": stored})
    text = form.fields["warmth"].prepare_value(stored)
    again = AirForm({"warmth": text}, shop=US, initial={"warmth": stored})
    assert shown is not None
    assert again.is_valid()
    assert again.cleaned_data["warmth"] == stored


def test_percent_is_a_fraction_inside() -> None:
    form = AirForm({"warmth": "50", "damp": "55,5"}, shop=US)
    assert form.is_valid()
    assert form.cleaned_data["damp"] == pytest.approx(0.555)
    assert not AirForm({"warmth": "50", "damp": "101"}, shop=US).is_valid()


def test_a_number_takes_a_comma_and_no_infinity() -> None:
    form = AirForm({"warmth": "50", "wait": "1,5"}, shop=US)
    assert form.is_valid()
    assert form.cleaned_data["wait"] == 1.5
    assert not AirForm({"warmth": "50", "wait": "inf"}, shop=US).is_valid()


def test_an_ordinary_clock_time_is_a_moment_in_utc() -> None:
    form = moment("2026-03-18", "06:40")
    assert form.is_valid(), form.errors
    assert form.cleaned_data["at"] == dt.datetime(2026, 3, 18, 11, 40, tzinfo=dt.UTC)


def test_a_time_the_clocks_jump_over_is_refused() -> None:
    form = moment("2026-03-08", "02:30")
    assert not form.is_valid()
    assert "does not exist" in form.errors["at"][0]


def test_a_time_that_comes_twice_is_asked_for_and_can_be_answered() -> None:
    form = moment("2026-11-01", "01:30")
    assert not form.is_valid()
    page = form.as_p()
    assert "the first, CDT" in page
    assert "the second, CST" in page
    first, second = moment("2026-11-01", "01:30", "0"), moment("2026-11-01", "01:30", "1")
    assert first.is_valid()
    assert second.is_valid()
    assert second.cleaned_data["at"] - first.cleaned_data["at"] == dt.timedelta(hours=1)


def test_which_of_the_two_is_only_asked_on_that_night() -> None:
    assert "at_2" not in moment("2026-03-18", "06:40").as_p()


def test_a_stored_moment_is_shown_on_the_shops_clock() -> None:
    form = MomentForm(shop=US, initial={"at": dt.datetime(2026, 11, 1, 7, 30, tzinfo=dt.UTC)})
    page = form.as_p()
    assert 'value="01:30"' in page
    assert '<option value="1" selected' in page


@pytest.mark.parametrize(
    ("day", "clock"),
    [
        ("", ""),
        ("2026-03-18", ""),
        ("", "06:40"),
        ("2026-02-30", "06:00"),
        ("2026-03-18", "25:00"),
        ("x", "y"),
    ],
)
def test_what_is_no_moment_is_refused(day: str, clock: str) -> None:
    assert not moment(day, clock).is_valid()
