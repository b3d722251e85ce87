"""How a piece may be lifted at its next step, in one line for the crew."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from jobs.floor import wording
from jobs.services.lifting import CARRYING, needed_ways, way_words
from jobs.services.outlook import PieceOutlook, StepOutlook, WayOutlook

if TYPE_CHECKING:
    from jobs.floor.entries import Looker


def lifting_line(step: StepOutlook | None, piece: PieceOutlook, looker: Looker) -> str:
    """Empty where no section is known, the step lifts nothing or the piece is not cast."""
    if step is None or piece.cast_at is None:
        return ""
    needed = needed_ways(step.kind, piece.ways)
    if not needed:
        return ""
    others = [way for way in piece.ways if way.name in CARRYING and way not in needed]
    people = ngettext("%(people)s person", "%(people)s people", step.people)
    parts = [*(_said(way, looker) for way in needed), people % {"people": step.people}]
    parts += [_said(way, looker) for way in others]
    line = "; ".join(parts)
    if needed[0].bars:
        line = _("With its strongbacks on: %(ways)s") % {"ways": line}
    return f"{line[:1].upper()}{line[1:]}."


def _said(way: WayOutlook, looker: Looker) -> str:
    facts = {"way": way_words(way.name)}
    if way.at is None:
        return _("%(way)s never by this mix's curve") % facts
    if way.at <= looker.now:
        return facts["way"]
    facts["when"] = wording.when(way.at, looker.now)
    return _("%(way)s not before %(when)s") % facts
