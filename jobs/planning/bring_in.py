"""Jobs that the list by due dates leaves no room for, listed earlier than others until they fit.

A pin leaves a job few times to go into, and a table is free only once those that stand on it have
been listed: so it must come after them, and before those that would take its people's hours. How
far to the front is tried.
"""

from __future__ import annotations

from collections.abc import Sequence

from jobs.planning.lists import by_due_date, listed
from jobs.planning.tables import ints
from jobs.planning.tasks import Schedule, Tasks

LISTS = 150  # made at the most
FREE = 2  # the rank of groups without a fact or a pin


def brought_in(tasks: Tasks, best: Schedule) -> Schedule:
    """The same where nothing is left out; else the best that is found with the least left out.

    What has neither begun nor a pin may go anywhere: it is left out where the plan is too short.
    """
    order = [int(group) for group in by_due_date(tasks)]
    standing = standing_on_tables(tasks)
    made = 0
    tried: set[int] = set()
    bound = {g for g in order if tasks.rank[g] < FREE}
    while left := [g for g in order if g in best.left_out and g in bound - tried]:
        tried.add(left[0])
        for asked in orders(order, standing, left):
            if made == LISTS:
                return best
            made += 1
            found = listed(tasks, ints(asked))
            if rank(found) < rank(best):
                best, order = found, asked
                tried.clear()
                break
    return best


def orders(order: Sequence[int], standing: set[int], left: Sequence[int]) -> list[list[int]]:
    """All that are left out behind those on tables; then the first of them by itself, further and
    further back, with those on tables in front and where they were."""
    front = [g for g in order if g in standing and g not in left]
    back = [g for g in order if g not in front and g not in left]
    found = []
    for head, tail in ((front, back), ([], [g for g in order if g not in left])):
        found.append([*head, *left, *tail])
        others = [*head, *left[1:], *tail]
        found += [[*others[:n], left[0], *others[n:]] for n in range(len(others) + 1)]
    return found


def standing_on_tables(tasks: Tasks) -> set[int]:
    """Groups with a piece that has a table already."""
    a, places = tasks.arrays, tasks.problem.shop.places
    return {
        g
        for g, row in enumerate(a.group)
        if any(
            places[int(a.fit[a.hold[hold].fit])].kind == "table"
            for hold in map(int, a.open[row.open : row.open_end])
        )
    }


def rank(found: Schedule) -> tuple[int, int]:
    return len(found.left_out), found.cost
