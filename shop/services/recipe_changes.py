"""What changed between two versions of a recipe, part by part. Reads only."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

from shop.models import Recipe
from shop.services.recipe_faults import FIELDS, Fibre, Part
from shop.services.recipes import fibre_of, parts_of

# Typed in another unit and back, a figure differs by less than this.
ROUNDING = 1e-5


@dataclass(frozen=True)
class PartChange:
    """was, now : the part before and after; None where it is new, or gone
    fields : of `Part` that differ; 'place' where it is added earlier or later than others were
    """

    was: Part | None
    now: Part | None
    fields: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        part = self.now or self.was
        return part.name if part else ""


@dataclass(frozen=True)
class FibreChange:
    layer: str  # 'face', 'backer', 'rib'
    was: float
    now: float


@dataclass(frozen=True)
class Changes:
    parts: tuple[PartChange, ...]
    fibre: tuple[FibreChange, ...]

    def __bool__(self) -> bool:
        return bool(self.parts or self.fibre)


def changes(before: Recipe, after: Recipe) -> Changes:
    return between(parts_of(before), fibre_of(before), parts_of(after), fibre_of(after))


def between(
    was: Sequence[Part], fibre_was: Fibre, now: Sequence[Part], fibre_now: Fibre
) -> Changes:
    """A part that was renamed counts as gone and new: its name is what the crew reads."""
    old, new = {part.name: part for part in was}, {part.name: part for part in now}
    moved = _moved([n for n in old if n in new], [n for n in new if n in old])
    found = []
    for name, part in new.items():
        if name not in old:
            found.append(PartChange(None, part))
            continue
        differ = tuple(
            field
            for field in FIELDS
            if field != "name" and not _same(getattr(old[name], field), getattr(part, field))
        )
        differ += ("place",) if name in moved else ()
        if differ:
            found.append(PartChange(old[name], part, differ))
    found += [PartChange(part, None) for name, part in old.items() if name not in new]
    layers = [
        FibreChange(one.name, getattr(fibre_was, one.name), getattr(fibre_now, one.name))
        for one in fields(Fibre)
    ]
    return Changes(tuple(found), tuple(one for one in layers if not _same(one.was, one.now)))


def _same(one: Any, other: Any) -> bool:
    if isinstance(one, float) and isinstance(other, float):
        return math.isclose(one, other, rel_tol=ROUNDING, abs_tol=1e-12)
    return bool(one == other)


def _moved(was: list[str], now: list[str]) -> set[str]:
    """The fewest parts that, put elsewhere, make the one order of the other."""
    if was == now:
        return set()
    place = {name: at for at, name in enumerate(was)}
    # The longest run that kept its order stayed where it was.
    runs: list[list[str]] = []
    for name in now:
        kept: list[str] = []
        for run in runs:
            if place[run[-1]] < place[name] and len(run) > len(kept):
                kept = run
        runs.append([*kept, name])
    return set(now) - set(sorted(runs, key=len)[-1])
