"""A chance in words: '9 in 10'. Rounded down, so that none is said to be better than it is."""

from __future__ import annotations

import math

from django.utils.translation import gettext

# Beyond one in twenty a few hundred draws, of what can be drawn, tell no more.
LITTLE, MUCH = 0.05, 0.95
WORDS = ("1 in 20", *(f"{tenths} in 10" for tenths in range(1, 10)))


def in_words(chance: float) -> str:
    """In English, whoever reads it: for what is stored or mailed.

    ValueError: not a chance, 0 to 1
    """
    if not 0.0 <= chance <= 1.0:  # false of nan, too
        raise ValueError(f"a chance lies between 0 and 1, got {chance}")
    if chance < LITTLE:
        return "less than 1 in 20"
    if chance > MUCH:
        return "more than 19 in 20"
    return WORDS[math.floor(10 * chance + 1e-9)]


def spoken(chance: float) -> str:
    """In the reader's language."""
    return gettext(in_words(chance))


def times_in_words(chance: float) -> str:
    """How often, in English: '9 times in 10', 'more than 19 times in 20'."""
    number, _, of = in_words(chance).rpartition(" in ")
    head, _, count = number.rpartition(" ")
    times = "once" if count == "1" else f"{count} times"
    return f"{head} {times} in {of}".strip()
