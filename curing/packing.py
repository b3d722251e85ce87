"""Loads put into as few runs as hold them.

References
----------
Bin packing by dynamic programming over subsets, as Held and Karp (1962) for orders; first fit
decreasing (Johnson, 1973) beyond `EXACT` loads. From memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations, pairwise

__all__ = ["EXACT", "balanced", "pack"]

# Up to so many loads every subset is tried: 4,096 subsets, each with up to 12 loads to add.
EXACT = 12


def pack(loads: Sequence[float], room: float, started: Sequence[float] = ()) -> list[int]:
    """The run of each load: numbers from 0, those of `started` first.

    loads : (n,) each 0 to `room`; room : what a run holds; started : what is already in runs that
        may take more. As few runs as possible up to `EXACT` loads, then evened out; the runs of
        `started` keep what they have.

    Raises
    ------
    ValueError
        A load or a started run over the room.
    """
    if any(not 0 <= load <= room for load in (*loads, *started)):
        raise ValueError(f"a load must fit the room of {room}")
    find = _exactly if len(loads) <= EXACT else _greatest_first
    places = find(loads, room, started)
    # New runs are numbered without a gap, whichever way they were found.
    base = len(started)
    new = {run: base + i for i, run in enumerate(sorted({p for p in places if p >= base}))}
    return _evened(loads, room, list(started), [new.get(p, p) for p in places])


def balanced(loads: Sequence[float], room: float) -> list[list[int]]:
    """Loads in a fixed order, cut into as few stretches as fit, the greatest as small as can be.

    Gives the indices of each stretch. For a few loads: every place to cut is tried.

    Raises
    ------
    ValueError
        A load over the room.
    """
    n = len(loads)
    for pieces in range(1, n + 1):
        best: tuple[float, list[list[int]]] | None = None
        for cuts in combinations(range(1, n), pieces - 1):
            ends = [0, *cuts, n]
            found = [list(range(a, b)) for a, b in pairwise(ends)]
            greatest = max(sum(loads[i] for i in stretch) for stretch in found)
            if greatest <= room and (best is None or greatest < best[0]):
                best = greatest, found
        if best:
            return best[1]
    raise ValueError(f"a load must fit the room of {room}")


def _exactly(loads: Sequence[float], room: float, started: Sequence[float]) -> list[int]:
    """Runs are filled one after another; of a subset only the fullest use of the fewest is kept."""
    n = len(loads)
    best: list[tuple[int, float] | None] = [None] * (1 << n)
    came: list[int] = [-1] * (1 << n)
    best[0] = (0, started[0] if started else 0.0)
    for mask in range(1 << n):
        state = best[mask]
        if state is None:
            continue
        for i in range(n):
            if mask >> i & 1:
                continue
            run, inside = state
            while inside + loads[i] > room:
                run += 1
                inside = started[run] if run < len(started) else 0.0
            then = (run, inside + loads[i])
            grown = mask | 1 << i
            known = best[grown]
            if known is None or then < known:
                best[grown], came[grown] = then, i
    places = [0] * n
    mask = (1 << n) - 1
    while mask:
        state = best[mask]
        assert state is not None  # every load fits an empty run
        places[came[mask]] = state[0]
        mask ^= 1 << came[mask]
    return places


def _greatest_first(loads: Sequence[float], room: float, started: Sequence[float]) -> list[int]:
    filled = list(started)
    places = [0] * len(loads)
    for i in sorted(range(len(loads)), key=lambda i: -loads[i]):
        run = next((r for r, inside in enumerate(filled) if inside + loads[i] <= room), None)
        if run is None:
            run = len(filled)
            filled.append(0.0)
        filled[run] += loads[i]
        places[i] = run
    return places


def _evened(
    loads: Sequence[float], room: float, started: list[float], places: list[int]
) -> list[int]:
    """Move and swap loads between runs while that makes the sum of squares smaller."""
    count = max([*places, len(started) - 1], default=-1) + 1
    inside = started + [0.0] * (count - len(started))
    for load, place in zip(loads, places, strict=True):
        inside[place] += load
    least = 1e-9 * room * room

    def shift(a: int, b: int, amount: float) -> bool:
        """Whether to take `amount` from run a to run b."""
        if inside[b] + amount > room or inside[a] - amount > room:
            return False
        return amount * (inside[b] - inside[a] + amount) < -least

    moved = True
    while moved:
        moved = False
        for i, load in enumerate(loads):
            for run in range(count):
                if run != places[i] and shift(places[i], run, load):
                    inside[places[i]] -= load
                    inside[run] += load
                    places[i] = run
                    moved = True
        for i, j in combinations(range(len(loads)), 2):
            a, b, more = places[i], places[j], loads[i] - loads[j]
            if a != b and shift(a, b, more):
                inside[a] -= more
                inside[b] += more
                places[i], places[j] = b, a
                moved = True
    return places
