"""What is not known of a plan's waits, from the engine's own draws.

Each wait as it may be over the likely one, in as many draws as a piece's dates have: what pieces
share, the air of a room, a mix's curve and its way of drying, they share a draw of.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping

import numpy as np

from jobs.planning.filling.laws import Law
from jobs.planning.filling.slots import HOURS, Floats, Slots
from jobs.planning.filling.steps import Asked
from jobs.services.facts import Facts
from jobs.services.how_sure import DRAWS, Drawn, drawn_of

# A wait to come is drawn as of a start so many days ahead, where no reading steadies the air.
AHEAD_DAYS = 4
LEAST = 0.25  # h; shorter waits are as good as none
MOST = 20.0  # times the likely wait: what never comes in a draw, as far as a plan goes


def factors(
    facts: Facts, slots: Slots, asked: Mapping[tuple[str, int, int], Asked]
) -> dict[tuple[str, int, int], Floats]:
    """(DRAWS,) for each wait in which something is in doubt. Like waits share an array: how long
    the step before takes makes no difference to speak of."""
    known: dict[Hashable, Floats] = {}
    found = {}
    for key, each in asked.items():
        like = (
            each.piece.room_id,
            each.done,
            tuple((law, law.stream) for law in each.laws),
        )
        if like not in known:
            known[like] = factor(drawn_of(facts, each.piece), slots, each)
        found[key] = known[like]
    return found


def factor(drawn: Drawn, slots: Slots, asked: Asked) -> Floats:
    """The longest of its laws in each draw, over the longest of what is likely."""
    counted, end = moments(slots, asked)
    draws, likely = np.zeros(DRAWS), 0.0
    for law in asked.laws:
        until = float(law.until(np.array([counted]))[0])
        likely = max(likely, until - end)
        draws = np.maximum(draws, drawn_until(law, drawn, counted, until) - end)
    if likely < LEAST:
        return np.ones(DRAWS)
    ratio = np.where(np.isfinite(draws), draws / likely, MOST)
    return np.asarray(np.clip(ratio, 0.0, MOST))


def drawn_until(law: Law, drawn: Drawn, counted: float, likely: float) -> Floats:
    if law.drawn is None:
        return np.full(DRAWS, likely)
    return law.drawn(drawn, np.full(DRAWS, counted))


def moments(slots: Slots, asked: Asked) -> tuple[float, float]:
    """From when the laws count, and the end of the step before, of one start that stands for all.

    What is done counts in the plan from the slot it was done in.
    """
    if asked.done is not None:
        return asked.done, float(slots.hours(min(0, slots.down(asked.done))))
    starts = slots.starts(asked.length)
    day = min(AHEAD_DAYS, len(starts.cuts) - 1)
    end = float(slots.hours(int(starts.slots[starts.cuts[day]]) + asked.length))
    return end - HOURS * asked.counted, end
