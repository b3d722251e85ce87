"""Quantities at the edge: what the shop reads and types, SI inside."""

from __future__ import annotations

import datetime as dt

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shop.measures import MEASURES, hours_words, read, shown, typed, warmth, words
from shop.models import Shop
from shop.templatetags.measures import clock, day, hours, moment

US, SI = Shop(name="In inches", units="us"), Shop(name="In millimetres", units="si")


@pytest.mark.parametrize(
    ("value", "kind", "us", "si"),
    [
        (20.0, "temperature", "68 °F", "20.0 °C"),
        (-40.0, "temperature", "−40 °F", "−40.0 °C"),
        (5.0, "temperature_step", "9 °F", "5.0 °C"),
        (10.342136, "strength", "1,500 psi", "10.3 MPa"),
        (0.01905, "length", "3/4 in", "19 mm"),
        (1.0, "area", "10.8 ft²", "1.00 m²"),
        (22.6796, "weight", "50 lb", "23 kg"),
        (2082.38, "density", "130 lb/ft³", "2,082 kg/m³"),
        (None, "weight", "–", "–"),
        (float("inf"), "strength", "–", "–"),
    ],
)
def test_words(value: float | None, kind: str, us: str, si: str) -> None:
    """Handbook conversions: 1 in = 25.4 mm, 1 lb = 0.45359237 kg, 1 psi = 6.894757 kPa."""
    assert words(value, kind, US) == us
    assert words(value, kind, SI) == si


def test_a_standards_degree_is_whole() -> None:
    """23 °C is 73.4 °F."""
    assert (warmth(US), warmth(SI)) == ("68 °F", "20 °C")
    assert (warmth(US, 23.0), warmth(SI, 23.0)) == ("73 °F", "23 °C")


def test_a_temperature_just_below_nought_has_no_minus_nought() -> None:
    assert words(-0.01, "temperature", SI) == "0.0 °C"


@pytest.mark.parametrize(
    ("text", "kind", "shop", "expected"),
    [
        ("58", "temperature", US, 14.444),
        ("58 °F", "temperature", SI, 14.444),
        ("14,5 C", "temperature", US, 14.5),
        ("−4 c", "temperature", US, -4.0),
        ("3/4", "length", US, 0.01905),
        ("0.75", "length", US, 0.01905),
        ("20.9", "pressure", US, 1000.69),
        ("1 kPa", "pressure", US, 1000.0),
        ("29000", "modulus", US, 199948.0),
        ("19 mm", "length", US, 0.019),
        ("2500", "strength", US, 17.2369),
        ("17 MPa", "strength", US, 17.0),
        ("9 F", "temperature_step", US, 5.0),
        ("20 sq ft", "area", SI, 1.85806),
        ("96 x 25 1/2", "area", US, 96 * 25.5 * 0.0254**2),
        ("8 ft × 25.5", "area", US, 96 * 25.5 * 0.0254**2),
        ("1200 X 600", "area", SI, 0.72),
    ],
)
def test_read(text: str, kind: str, shop: Shop, expected: float) -> None:
    assert read(text, kind, shop) == pytest.approx(expected, rel=1e-5, abs=1e-3)


@pytest.mark.parametrize("text", ["", "warm", "58 psi", "58 °X", "1e5000", "--3"])
def test_what_is_no_temperature_says_what_to_write(text: str) -> None:
    with pytest.raises(ValueError, match=r"Write"):
        read(text, "temperature", US)


@given(st.sampled_from(sorted(MEASURES)), st.floats(0.01, 500.0), st.sampled_from([US, SI]))
def test_what_is_shown_is_what_pint_says(kind: str, value: float, shop: Shop) -> None:
    measure = MEASURES[kind]
    quantity = pint.Quantity(value, measure.inside).to(measure.face(shop)[0])

    assert shown(value, kind, shop) == pytest.approx(quantity.magnitude)


@given(st.sampled_from(sorted(MEASURES)), st.floats(1.0, 500.0), st.sampled_from([US, SI]))
def test_what_is_typed_back_is_the_same_number(kind: str, value: float, shop: Shop) -> None:
    once = read(typed(value, kind, shop), kind, shop)

    assert typed(once, kind, shop) == typed(value, kind, shop)


@pytest.mark.parametrize(
    ("number", "text"),
    [
        (0.4, "24 min"),
        (-0.4, "24 min"),
        (6.0, "6 h"),
        (6.26, "6 h 15 min"),
        (9.99, "10 h"),
        (30.2, "30 h"),
        (54.0, "2 d 6 h"),
        (72.0, "3 d"),
    ],
)
def test_hours_in_words(number: float, text: str) -> None:
    assert hours_words(number) == text


@pytest.mark.parametrize("show", [moment, day, clock, hours])
@pytest.mark.parametrize("nothing", [None, ""])
def test_nothing_is_shown_as_a_dash(show, nothing) -> None:
    assert show(nothing) == "–"


def test_another_year_is_named() -> None:
    assert day(dt.date(1999, 5, 3)) == "Mon 3 May 1999"
