from __future__ import annotations

import math

import pytest
from django.utils import translation

from jobs.services.chances import in_words, spoken, times_in_words


@pytest.mark.parametrize(
    ("chance", "words", "times"),
    [
        (0.0, "less than 1 in 20", "less than once in 20"),
        (0.049, "less than 1 in 20", "less than once in 20"),
        (0.05, "1 in 20", "once in 20"),
        (0.099, "1 in 20", "once in 20"),
        (0.1, "1 in 10", "once in 10"),
        (0.3, "3 in 10", "3 times in 10"),
        (0.6, "6 in 10", "6 times in 10"),
        (0.7, "7 in 10", "7 times in 10"),
        (0.895, "8 in 10", "8 times in 10"),
        (0.9, "9 in 10", "9 times in 10"),
        (0.95, "9 in 10", "9 times in 10"),
        (0.955, "more than 19 in 20", "more than 19 times in 20"),
        (1.0, "more than 19 in 20", "more than 19 times in 20"),
    ],
)
def test_a_chance_in_words_at_its_edges(chance: float, words: str, times: str) -> None:
    assert in_words(chance) == words
    assert times_in_words(chance) == times


def test_words_never_say_more_than_the_chance() -> None:
    """Of every share that 200 draws can have; and none of them is 'always' or 'never'."""
    for number in range(201):
        words = in_words(number / 200)
        *_, some, _, of = words.split()
        said = int(some) / int(of)
        if words.startswith("less"):
            assert number / 200 < said
        else:
            assert said <= number / 200 < said + 0.1 + 1e-9
    assert len({in_words(number / 200) for number in range(201)}) == 12


@pytest.mark.parametrize("chance", [-0.01, 1.01, math.nan, math.inf])
def test_what_is_no_chance_is_refused(chance: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        in_words(chance)


def test_every_chance_is_said_in_spanish() -> None:
    english = {in_words(number / 200) for number in range(201)}
    with translation.override("es"):
        assert spoken(0.93) == "9 de cada 10"
        assert {spoken(number / 200) for number in range(201)}.isdisjoint(english)
