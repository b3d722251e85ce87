"""Slots as stretches, and bits as numbers."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np

from jobs.planning.tables import Ints

Span = tuple[int, int]


def bits_of(bits: int) -> list[int]:
    return [index for index in range(bits.bit_length()) if bits >> index & 1]


def runs_of(slots: Ints) -> list[list[int]]:
    """Ascending slots as closed stretches."""
    if not len(slots):
        return []
    cuts = np.flatnonzero(np.diff(slots) > 1)
    firsts = slots[np.concatenate(([0], cuts + 1))]
    lasts = slots[np.concatenate((cuts, [len(slots) - 1]))]
    return [[int(first), int(last)] for first, last in zip(firsts, lasts, strict=True)]


def stretches(taken: Any) -> list[Span]:
    return [(first, last + 1) for first, last in runs_of(np.flatnonzero(taken))]


def steps_of(amounts: Ints) -> list[tuple[int, int, int]]:
    """Stretches of one amount, those of nothing left out."""
    edges = [0, *(int(each) + 1 for each in np.flatnonzero(np.diff(amounts))), len(amounts)]
    return [
        (begin, end, int(amounts[begin]))
        for begin, end in pairwise(edges)
        if end > begin and amounts[begin] > 0
    ]


def owners(begins: Ints, ends: Ints) -> Ints:
    """Of ragged rows that are kept flat, one after the other: for each value the row it is in."""
    return np.repeat(np.arange(len(begins)), ends - begins)


def summed(begins: Ints, ends: Ints, amount: Ints | int, size: int) -> Ints:
    """(size,) how much there is in each slot of what is there from a slot to before another."""
    change = np.zeros(size + 1, dtype=np.int64)
    begins = np.clip(begins, 0, size)
    np.add.at(change, begins, amount)
    np.add.at(change, np.maximum(begins, np.clip(ends, 0, size)), -np.asarray(amount))
    return np.cumsum(change)[:size]
