"""What runs that were opened give to a cast's pieces, held against what these need now. Pure."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from curing.mix_checks import LAYERS, Layer
from curing.runs import Mixer, Part, Plan, Pour, Run, plan_runs

# Of a layer: less than a scale or a form is true to. Our own limit, no source.
CLOSE = 1e-3
Key = tuple[str, Layer]
Given = Mapping[Key, float]


@dataclass(frozen=True)
class Gap:
    """A layer of which the opened runs make less (m3, kg above 0) or more than is needed now.

    pieces : whose
    """

    layer: Layer
    m3: float
    kg: float
    pieces: tuple[str, ...]

    @property
    def short(self) -> bool:
        return self.m3 > 0


@dataclass(frozen=True)
class Cover:
    """plan : of all that the pieces need, or of the rest where the opened runs are others than it
        has
    to_open : its runs that are not opened yet, each with its place in the plan, or None
    gaps : empty while every opened run is one of the plan's
    """

    plan: Plan
    to_open: tuple[tuple[int | None, Run], ...]
    gaps: tuple[Gap, ...]


def cover(
    pours: Sequence[Pour],
    mixer: Mixer,
    opened: Sequence[Sequence[Part]],
    known: Given | None = None,
) -> Cover:
    """What is left to mix. opened : the parts of each run that stands; known : what all pieces
    needed when the last of them was opened, without it what the runs give

    Runs that were opened as the plan has them are taken out of it, and the rest stays as it was
    shown. Where one is not in the plan (pieces, measures or settings changed since), the rest is
    planned anew from what no opened run gives, and the gaps say what changed.
    """
    plan = plan_runs(pours, mixer)
    left: list[tuple[int | None, Run]] = list(enumerate(plan.runs))
    wholly = True
    for parts in opened:
        found = next((one for one in left if _same(given((parts,)), given((one[1].parts,)))), None)
        if found is None:
            wholly = False
        else:
            left.remove(found)
    if wholly:
        return Cover(plan, tuple(left), ())
    made = given(opened)
    rest = plan_runs(_rest(pours, made), mixer)
    return Cover(
        rest, tuple((None, run) for run in rest.runs), tuple(_gaps(pours, made, known or made))
    )


def given(runs: Sequence[Sequence[Part]]) -> Given:
    """Volume by piece and layer, waste included [m³]."""
    found: dict[Key, float] = defaultdict(float)
    for parts in runs:
        for part in parts:
            found[part.piece, part.layer] += part.m3
    return found


def _same(one: Given, other: Given) -> bool:
    return one.keys() == other.keys() and all(
        abs(one[key] - other[key]) <= CLOSE * other[key] for key in other
    )


def _wanted(pour: Pour) -> float:
    return pour.volume_m3 * (1 + pour.waste)


def _rest(pours: Sequence[Pour], made: Given) -> list[Pour]:
    found = []
    for pour in pours:
        missing = _wanted(pour) - made.get((pour.piece, pour.layer), 0.0)
        if missing > CLOSE * _wanted(pour):
            found.append(replace(pour, volume_m3=missing / (1 + pour.waste)))
    return found


def needed(pours: Sequence[Pour]) -> Given:
    """Volume by piece and layer, waste included [m³]."""
    return {(pour.piece, pour.layer): _wanted(pour) for pour in pours}


def _gaps(pours: Sequence[Pour], made: Given, known: Given) -> list[Gap]:
    """What changed since, of the layers that opened runs serve: a run that is still to be opened as
    it was planned is no gap."""
    wanted = needed(pours)
    gaps = []
    for layer in LAYERS:
        density = next((p.density for p in pours if p.layer == layer), 0.0)
        if not any(key[1] == layer for key in made):
            continue
        short: dict[str, float] = {}
        over: dict[str, float] = {}
        for key in dict.fromkeys((*wanted, *made)):
            if key[1] != layer:
                continue
            now, opened = wanted.get(key, 0.0), made.get(key, 0.0)
            grown = min(now - opened, now - known.get(key, 0.0))
            if grown > CLOSE * now:
                short[key[0]] = grown
            elif opened - now > CLOSE * opened:
                over[key[0]] = opened - now
        for sign, found in ((1, short), (-1, over)):
            if found:
                m3 = sign * sum(found.values())
                gaps.append(Gap(layer, m3, m3 * density, tuple(found)))
    return gaps
