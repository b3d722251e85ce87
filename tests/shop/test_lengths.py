"""Lengths as people write them. 1 in is 25.4 mm exactly, 12 in are a foot."""

from __future__ import annotations

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shop.forms import MeasureField
from shop.lengths import INCH, inches, read_length, typed_inches
from shop.measures import limit_words, read, words
from shop.models import Shop

US, SI = Shop(name="In inches", units="us"), Shop(name="In millimetres", units="si")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("25 1/2", 25.5),
        ('25-1/2"', 25.5),
        ("25 - 1/2", 25.5),
        ("25.5", 25.5),
        ("25,5", 25.5),
        ("25½", 25.5),
        ("⅞", 0.875),
        ("3/4", 0.75),
        (".5", 0.5),
        ("25.", 25),
        ("  96  ", 96),
        ("2' 1 1/2\"", 25.5),
        ("2'-1 1/2\"", 25.5),
        ("2′ 1½″", 25.5),
        ("2’ 6”", 30),
        ("2' 6", 30),
        ("2 ft", 24),
        ("2 ft. 1 1/2 in.", 25.5),
        ("1/2 foot", 6),
        ("8 FEET", 96),
        ("12 inches", 12),
        ("2''", 2),
        ("38 mm", 38 / 25.4),
        ("1200mm", 1200 / 25.4),
        ("2.54 cm", 1),
        ("1 m", 1000 / 25.4),
        ("-1/2", -0.5),
        ("−2", -2),
    ],
)
def test_a_length_is_read_as_it_is_written(text: str, expected: float) -> None:
    assert read(text, "length", US) / INCH == pytest.approx(expected)


def test_what_has_no_unit_is_in_the_shops() -> None:
    assert read("25", "length", SI) == pytest.approx(0.025)
    assert read("25", "length", US) == pytest.approx(0.635)
    assert read("1 in", "length", SI) == pytest.approx(0.0254)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "not a length. Write it like"),
        ("wide", "not a length"),
        ("25 1", "not a length"),
        ("5 mm 3", "not a length"),
        ("2 in 3 ft", "not a length"),
        ("2' 3 mm", "not a length"),
        ("1 2 3", "not a length"),
        ("--3", "not a length"),
        ("3-", "not a length"),
        ("9" * 41, "not a length"),
        ("25 furlongs", "'furlongs' is not a unit of length"),
        ("1e5", "not a unit"),
        ("58 psi", "not a unit"),
        ("1/0", "nought below the line"),
        ("25 3/2", "write less, like 1/2"),
        ("2' 13\"", "a foot or more of inches"),
        ("1,200 mm", "two ways. Write 1200 or 1.200."),
    ],
)
def test_what_is_no_length_says_what_is_wrong(text: str, said: str) -> None:
    with pytest.raises(ValueError, match=said.replace(".", r"\.")):
        read_length(text, "in")


@pytest.mark.parametrize(
    ("metres", "text"),
    [
        (0.6477, "25 1/2"),
        (0.01905, "3/4"),
        (0.019, "3/4"),
        (0.0381, "1 1/2"),
        (0.0, "0"),
        (0.0254 * 3 / 16, "3/16"),
        (0.0254 * 11.999, "12"),
        (-0.0127, "-1/2"),
    ],
)
def test_inches_are_shown_to_a_sixteenth(metres: float, text: str) -> None:
    assert inches(metres) == text


@given(st.integers(-20_000, 20_000))
def test_every_sixteenth_comes_back_as_it_was(sixteenths: int) -> None:
    metres = sixteenths / 16 * INCH
    assert read_length(inches(metres), "in") == pytest.approx(metres, abs=1e-12)
    assert typed_inches(metres) == inches(metres)


@given(st.floats(-30, 30))
def test_what_is_typed_back_is_the_length_to_a_thousandth_of_an_inch(metres: float) -> None:
    text = typed_inches(metres)
    again = read_length(text, "in")
    assert abs(again - metres) <= 0.0012 * INCH
    assert typed_inches(again) == text


@given(st.text(max_size=30))
def test_nothing_typed_breaks_it(text: str) -> None:
    with contextlib.suppress(ValueError):
        assert isinstance(read_length(text, "in"), float)


@pytest.mark.parametrize("shop", [US, SI])
@pytest.mark.parametrize("limit", [0.005, 0.5, 0.019])
def test_a_limit_as_it_is_printed_is_taken(shop: Shop, limit: float) -> None:
    field = MeasureField("length", least=limit, greatest=limit * 2)
    field.meet(shop)
    for least, value in ((True, limit), (False, limit * 2)):
        printed = limit_words(value, shop, "length", least=least)
        assert field.clean(printed) == pytest.approx(value, abs=0.0016)


def test_words_have_their_unit() -> None:
    assert words(0.6477, "length", US) == "25 1/2 in"
    assert words(-0.0127, "length", US) == "−1/2 in"
    assert words(0.6477, "length", SI) == "648 mm"
