"""What a piece's figure says of steps and gates, in few words."""

from __future__ import annotations

import datetime as dt

from django.utils import timezone

from jobs.services.drying_course import HOURS, WEIGHING, DryingCourse
from jobs.services.outlook import PieceOutlook, StepOutlook


def when(moment: dt.datetime | None) -> str:
    """'Wed 25 06:40' in shop time: the month is on the page, the figure has no room for it."""
    if moment is None:
        return "not within sight"
    local = timezone.localtime(moment)
    return f"{local:%a} {local.day} {local:%H:%M}"


def drying_words(drying: DryingCourse, *, narrow: bool = False) -> tuple[str, str]:
    """Title of the drying's panel, and what it rests on."""
    if drying.rule == HOURS:
        title = "Drying hours" if narrow else "Drying hours since the last wetting"
        return title, "cold or humid ones count half"
    if drying.rule == WEIGHING:
        weighed = "as weighed" if len(drying.values) else "not weighed a day apart yet"
        return ("Loss a day, %" if narrow else "Weight lost a day, %"), weighed
    title = "Humidity inside, %"
    if not narrow:
        title += f" at {drying.share * 100:.0f} % of the thickness"
    if drying.calibrated:
        return title, "calibrated model" if narrow else "by the model, calibrated by weighing"
    return title, "estimate" if narrow else "by the model: an estimate, not calibrated"


def early_of(step: StepOutlook) -> dt.datetime | None:
    """At the likely time or before it, as the early time of ready is."""
    if step.early is None or step.workable is None:
        return step.early
    return min(step.early, step.workable)


def late_of(step: StepOutlook) -> dt.datetime | None:
    if step.late is None or step.workable is None:
        return step.late
    return max(step.late, step.workable)


def ready_within(piece: PieceOutlook, *, narrow: bool = False) -> str:
    """'ready early Thu 2 14:10, likely Fri 3 08:30, late Tue 7 09:00'; on a phone the two ends."""
    early, late = piece.ready_early, piece.ready_late
    if narrow:
        if early is None or late is None:
            return "ready late: not within sight"
        first, last = timezone.localtime(early), timezone.localtime(late)
        if first.date() == last.date():
            return f"ready {first:%a} {first.day} {first:%H:%M} to {last:%H:%M}"
        return f"ready {first:%a} {first.day} to {last:%a} {last.day}"
    return f"ready early {when(early)}, likely {when(piece.ready_at)}, late {when(late)}"


def governed(step: StepOutlook) -> str:
    """What the step waited for, then what held it past that."""
    if step.governs == "cast":
        return "water in" if step.done else "planned"
    held = f", then {step.held_by_words}" if step.held_by and not step.done else ""
    return step.governs_words + held


def governed_shortly(step: StepOutlook) -> str:
    """The criterion's own name, where a phone has no room for its words."""
    if step.governs == "cast":
        return governed(step)
    return step.governs + (f", then {step.held_by}" if step.held_by and not step.done else "")


def listed(names: tuple[str, ...]) -> str:
    """Two by name, more by number: a gate's words stand inside the drawing."""
    if len(names) <= 2:
        return ", ".join(names)
    return f"{names[0]} and {len(names) - 1} more"
