"""From pieces to the mixer's runs.

What a piece needs of each layer, with waste, is put into as few runs as the mixer allows. Pieces
that must match come out of one run where they fit. Where they do not, they are split by layer (the
face of all of them from one run, the backer of all of them from another), since a face from two
runs may show two shades; only a layer that is itself over the mixer is split by area.

References
----------
Waste and the order of splitting: common practice, no source. Least number of runs: bin packing,
exact by dynamic programming over subsets (Held and Karp's scheme) up to `EXACT` sets.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from curing.limits import Note
from curing.mix_checks import LAYERS, Layer
from curing.packing import EXACT, balanced, pack
from curing.sections import above_zero

__all__ = [
    "WASTE",
    "Mixer",
    "Part",
    "Plan",
    "Pour",
    "Run",
    "layer_volumes",
    "plan_runs",
    "waste_of",
]

Kind = Literal["slab", "sprayed", "sink"]
# Of the net volume. Sprayed face coats and sinks lose 15 to 20 %; the greater, since running
# short costs the piece. Common practice, no source.
WASTE: Mapping[Kind, float] = {"slab": 0.10, "sprayed": 0.20, "sink": 0.20}
PRACTICE = "common practice, no source: one run for what must match, else by layer"
# A load this far over the mixer is the arithmetic's last digit.
CLOSE = 1e-9


@dataclass(frozen=True)
class Pour:
    """What one layer of one piece needs.

    volume_m3 : in the form, without waste, 0 or above; waste : of it, 0 to 1
    density : of that layer's mix, the shop's unit weight [kg/m³]
    match : pieces with the same word here must match; '' for a piece that matches nothing
    mix : which matrix; pours of different ones never share a run

    Raises
    ------
    ValueError
        No piece, a layer that is not known, numbers out of range.
    """

    piece: str
    layer: Layer
    volume_m3: float
    density: float
    waste: float = WASTE["slab"]
    match: str = ""
    mix: str = ""

    def __post_init__(self) -> None:
        if not self.piece.strip():
            raise ValueError("a pour needs the piece it is for")
        if self.layer not in LAYERS:
            raise ValueError(f"{self.piece}: {self.layer!r} is no layer; use one of {LAYERS}")
        if not 0 <= self.volume_m3 < math.inf:
            raise ValueError(f"{self.piece}: a volume is 0 m³ or above, got {self.volume_m3}")
        if not 0 <= self.waste <= 1:
            raise ValueError(f"{self.piece}: waste is a fraction from 0 to 1, got {self.waste}")
        above_zero(density=self.density)


@dataclass(frozen=True)
class Mixer:
    """What the mixer takes at once: a weight [kg] or a volume [m³], one of them.

    Raises
    ------
    ValueError
        Neither or both, or one that is not above 0.
    """

    kg: float | None = None
    m3: float | None = None

    def __post_init__(self) -> None:
        if (self.kg is None) == (self.m3 is None):
            raise ValueError("give the mixer's capacity by weight or by volume, one of them")
        above_zero(capacity=self.capacity)

    @property
    def capacity(self) -> float:
        """In its own unit [kg or m³]."""
        return self.m3 if self.kg is None else self.kg  # type: ignore[return-value]

    def load(self, part: Part) -> float:
        """What a part takes of it, in its own unit [kg or m³]."""
        return part.m3 if self.kg is None else part.kg


@dataclass(frozen=True)
class Part:
    """What one run gives to one layer of one piece, waste included: m3 [m³], kg [kg]."""

    piece: str
    layer: Layer
    m3: float
    kg: float


@dataclass(frozen=True)
class Run:
    """One filling of the mixer: its matrix, and what it is for, layers in the order of casting."""

    mix: str
    parts: tuple[Part, ...]

    @property
    def m3(self) -> float:
        """[m³]"""
        return sum(p.m3 for p in self.parts)

    @property
    def kg(self) -> float:
        """[kg]"""
        return sum(p.kg for p in self.parts)

    def by_layer(self) -> dict[Layer, float]:
        """Weight for each layer that it serves [kg], in the order of casting."""
        found: dict[Layer, float] = {}
        for layer in LAYERS:
            weight = sum(p.kg for p in self.parts if p.layer == layer)
            if weight:
                found[layer] = weight
        return found


@dataclass(frozen=True)
class Plan:
    """Runs in the order in which they are mixed.

    notes : keys 'split-by-layer', 'split-by-area', 'piece-over-mixer'; figures runs [-], load and
        capacity [kg or m³, as the mixer's]; 'not-proven-least' with sets [-]
    fewest : runs that no way of dividing could go below: weight over capacity, rounded up, for each
        matrix
    """

    runs: tuple[Run, ...]
    notes: tuple[Note, ...]
    fewest: int


def waste_of(kind: Kind) -> float:
    """Usual waste of 'slab', 'sprayed' (face coat) or 'sink', of the net volume [-].

    Raises
    ------
    ValueError
        Another kind.

    Reference: common practice, no source: 10 % slabs, 15 to 20 % sprayed face coats and sinks.
    """
    if kind not in WASTE:
        raise ValueError(f"{kind!r} has no usual waste; use one of {', '.join(WASTE)}")
    return WASTE[kind]


def layer_volumes(
    area_m2: float, thickness_m: float, face_m: float, ribs_m3: float = 0.0
) -> dict[Layer, float]:
    """Net volumes of a flat piece by layer [m³]: face coat, backer behind it, ribs and edges.

    area_m2 : of the show face, cutouts taken off; thickness_m : of face coat and backer together
    face_m : of the face coat, 0 or above; ribs_m3 : of ribs and edges beyond the thickness

    Raises
    ------
    ValueError
        Numbers out of range, or a face coat thicker than the whole.
    """
    above_zero(area_m2=area_m2, thickness_m=thickness_m)
    if not 0 <= face_m <= thickness_m:
        raise ValueError(f"the face coat is 0 to {thickness_m} m thick, got {face_m}")
    if not 0 <= ribs_m3 < math.inf:
        raise ValueError(f"ribs and edges have 0 m³ or above, got {ribs_m3}")
    return {
        "face": area_m2 * face_m,
        "backer": area_m2 * (thickness_m - face_m),
        "rib": ribs_m3,
    }


def plan_runs(pours: Sequence[Pour], mixer: Mixer) -> Plan:
    """Runs that cover every pour with its waste and never exceed the mixer.

    Sets that fit the mixer whole (pieces that must match, or a piece alone) are never divided. A
    set that does not fit has its layers in runs that follow one another, as few as keep each layer
    in one run, as equal as can be; a layer that does not fit is divided by its pieces; a piece's
    layer that does not fit, into equal parts. Whole sets are then put beside them and into as few
    further runs as hold them, and evened out.

    Raises
    ------
    ValueError
        The same layer of the same piece twice, or a piece that is in two sets.
    """
    _check(pours)
    runs: list[Run] = []
    notes: list[Note] = []
    fewest = 0
    used = sorted((p for p in pours if p.volume_m3 > 0), key=lambda p: LAYERS.index(p.layer))
    for mix in dict.fromkeys(p.mix for p in used):
        own = [p for p in pours if p.mix == mix and p.volume_m3 > 0]
        found, said = _of_one_mix(mix, own, mixer)
        runs += found
        notes += said
        whole = sum(mixer.load(_part(p)) for p in own)
        fewest += math.ceil(whole / mixer.capacity * (1 - CLOSE))
    return Plan(tuple(runs), tuple(notes), fewest)


def _check(pours: Sequence[Pour]) -> None:
    seen: set[tuple[str, Layer]] = set()
    sets: dict[str, str] = {}
    for p in pours:
        if (p.piece, p.layer) in seen:
            raise ValueError(f"{p.piece}: its {p.layer} is given twice; add the volumes up")
        seen.add((p.piece, p.layer))
        if sets.setdefault(p.piece, p.match) != p.match:
            raise ValueError(f"{p.piece} is to match {sets[p.piece]!r} and {p.match!r}: choose one")


def _part(p: Pour, share: float = 1.0) -> Part:
    volume = p.volume_m3 * (1 + p.waste) * share
    return Part(p.piece, p.layer, volume, volume * p.density)


def _of_one_mix(mix: str, pours: list[Pour], mixer: Mixer) -> tuple[list[Run], list[Note]]:
    sets: dict[tuple[str, str], list[Pour]] = {}
    for p in pours:
        sets.setdefault(("match", p.match) if p.match else ("piece", p.piece), []).append(p)
    room = mixer.capacity * (1 + CLOSE)
    split: list[list[Part]] = []
    notes: list[Note] = []
    whole: list[list[Part]] = []
    for (_, name), members in sets.items():
        parts = [_part(p) for p in members]
        if _load(parts, mixer) <= room:
            whole.append(parts)
        else:
            found, said = _split(name, members, mixer)
            split += found
            notes += said
    loads = [_load(parts, mixer) for parts in whole]
    places = pack(loads, room, [_load(parts, mixer) for parts in split])
    filled: dict[int, list[Part]] = dict(enumerate(split))
    for parts, place in zip(whole, places, strict=True):
        filled.setdefault(place, []).extend(parts)
    notes += _untried(len(whole))
    return [Run(mix, _ordered(filled[place])) for place in sorted(filled)], notes


def _split(name: str, members: list[Pour], mixer: Mixer) -> tuple[list[list[Part]], list[Note]]:
    """Runs of a set that is over the mixer, in the order of casting, and what to say of it."""
    layers = [[p for p in members if p.layer == layer] for layer in LAYERS]
    layers = [pours for pours in layers if pours]
    loads = [_load(map(_part, pours), mixer) for pours in layers]
    room = mixer.capacity * (1 + CLOSE)
    if max(loads) <= room:
        groups = balanced(loads, room)
        runs = [[_part(p) for i in group for p in layers[i]] for group in groups]
        return runs, [_said("split-by-layer", name, sum(loads), len(runs), mixer)]
    runs = []
    said: list[Note] = []
    for pours, load in zip(layers, loads, strict=True):
        parts = [_part(p) for p in pours]
        if runs and _load(runs[-1], mixer) + load <= room:
            runs[-1] += parts
        elif load <= room:
            runs.append(parts)
        else:
            before = len(runs)
            said += _by_area(name, pours, runs, mixer)
            # The emptiest goes last, where the next layer may join it.
            runs[before:] = sorted(runs[before:], key=lambda r: -_load(r, mixer))
    if len(layers) > 1:
        said.insert(0, _said("split-by-layer", name, sum(loads), len(runs), mixer))
    return runs, said


def _by_area(name: str, pours: list[Pour], runs: list[list[Part]], mixer: Mixer) -> list[Note]:
    """Divide a layer over the mixer by its pieces, into the last run and new ones."""
    room = mixer.capacity * (1 + CLOSE)
    atoms: list[Part] = []
    notes: list[Note] = []
    for p in pours:
        load = mixer.load(_part(p))
        times = max(1, math.ceil(load / mixer.capacity * (1 - CLOSE)))
        atoms += [_part(p, 1 / times)] * times
        if times > 1:
            text = f"{p.piece}, {p.layer}"
            notes.append(_said("piece-over-mixer", text, load, times, mixer))
    notes += _untried(len(atoms))
    last = [runs.pop()] if runs else []
    places = pack([mixer.load(a) for a in atoms], room, [_load(r, mixer) for r in last])
    filled: dict[int, list[Part]] = dict(enumerate(last))
    for atom, place in zip(atoms, places, strict=True):
        filled.setdefault(place, []).append(atom)
    runs += [filled[place] for place in sorted(filled)]
    served = len(set(places))
    whole = _load(map(_part, pours), mixer)
    if len(pours) > 1:
        notes.insert(0, _said("split-by-area", f"{name}, {pours[0].layer}", whole, served, mixer))
    return notes


def _untried(sets: int) -> list[Note]:
    if sets <= EXACT:
        return []
    return [
        Note(
            "not-proven-least",
            f"With {sets} pieces or sets not every way of sharing the mixer was tried: fewer runs "
            "may be possible.",
            "first fit of the greatest first, then evened out",
            {"sets": float(sets)},
        )
    ]


def _said(key: str, name: str, load: float, runs: int, mixer: Mixer) -> Note:
    unit = "kg" if mixer.kg is not None else "m³"
    over = f"{name}: {load:.4g} {unit} do not fit the mixer's {mixer.capacity:.4g} {unit}"
    text = {
        "split-by-layer": "so its layers come from different runs, each layer of all its pieces "
        "from as few as hold it. Weigh every run from the same lots.",
        "split-by-area": f"so its pieces get this layer from {runs} runs, and may differ in shade. "
        "Weigh them alike, from the same lots, or use a larger mixer.",
        "piece-over-mixer": f"so one piece gets this layer from {runs} runs: the join may show. "
        "Place each run before the last one stiffens, or use a larger mixer.",
    }[key]
    figures = {"runs": float(runs), "load": load, "capacity": mixer.capacity}
    return Note(key, f"{over}, {text}", PRACTICE, figures)


def _load(parts: Iterable[Part], mixer: Mixer) -> float:
    return sum(mixer.load(p) for p in parts)


def _ordered(parts: list[Part]) -> tuple[Part, ...]:
    return tuple(sorted(parts, key=lambda p: LAYERS.index(p.layer)))
