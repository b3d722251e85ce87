"""What somebody can do, and when, said shortly."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import pairwise

from django.utils.translation import gettext as _

from shop.models import works

# Said by what is left out once no more than this is.
FEW = 2
SHORT_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def works_words(can: Collection[str]) -> str:
    known = works()
    left_out = [str(said) for key, said in known if key not in can]
    if not left_out:
        return _("everything")
    if len(left_out) <= FEW:
        return _("all but %(works)s") % {"works": ", ".join(left_out)}
    return ", ".join(str(said) for key, said in known if key in can)


def weekdays_words(days: Collection[int]) -> str:
    """'Mon–Fri', 'Mon, Wed–Fri'; two days in a row stand side by side."""
    if len(set(days)) == len(SHORT_DAYS):
        return _("any day")
    return ", ".join(word for run in _runs(sorted(set(days))) for word in _run_words(run))


def _runs(days: Sequence[int]) -> list[list[int]]:
    runs = [[day] for day in days[:1]]
    for before, day in pairwise(days):
        if day == before + 1:
            runs[-1].append(day)
        else:
            runs.append([day])
    return runs


def _run_words(run: Sequence[int]) -> list[str]:
    names = [_(SHORT_DAYS[day]) for day in run]
    return [f"{names[0]}–{names[-1]}"] if len(names) > FEW else names
