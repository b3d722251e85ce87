"""Tables of rows with named columns, and ragged rows kept flat, as compiled code reads them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

Ints = np.ndarray[Any, np.dtype[np.int64]]
Shorts = np.ndarray[Any, np.dtype[np.int32]]
Numbers = np.ndarray[Any, np.dtype[np.uint32]]  # of rows
Rows = Any  # a record array: its columns are its attributes

# Numbers of other rows: without a sign, so that nobody need look whether they count from the end.
ROWS = (
    *("kind", "group", "use", "before", "closing", "source", "lag", "first", "last", "fit"),
    *("seq", "open", "next", "slide", "keep", "jobs", "target", "out", "gone", "behind"),
)
BITS = ("able", "by", "who")  # of people, of whom there may be more than 31


def ints(values: Iterable[int]) -> Ints:
    return np.array(list(values), dtype=np.int64)


def ragged(rows: Sequence[Sequence[int]]) -> tuple[Numbers, tuple[Sequence[int], Sequence[int]]]:
    """The rows one after the other, and where each begins and ends."""
    edges = [0]
    for row in rows:
        edges.append(edges[-1] + len(row))
    flat = np.array([value for row in rows for value in row], dtype=np.uint32)
    return flat, (edges[:-1], edges[1:])


def table(names: Sequence[str], *columns: Any) -> Rows:
    rows = blank(len(columns[0]), names)
    for name, column in zip(names, columns, strict=True):
        rows[name] = column
    return rows


def blank(rows: int, names: Sequence[str]) -> Rows:
    wide = [(name, width_of(name)) for name in names]
    return np.zeros(rows, dtype=np.dtype(wide, align=True)).view(np.recarray)


def width_of(name: str) -> type[np.generic]:
    if name in BITS:
        return np.int64
    return np.uint32 if name.removesuffix("_end") in ROWS else np.int32
