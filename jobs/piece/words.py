"""What a piece's figure says of steps and gates, in few words."""

from __future__ import annotations

import datetime as dt

from django.utils import timezone

from jobs.services.outlook import StepOutlook


def when(moment: dt.datetime | None) -> str:
    """'Wed 25 06:40' in shop time: the month is on the page, the figure has no room for it."""
    if moment is None:
        return "not within sight"
    local = timezone.localtime(moment)
    return f"{local:%a} {local.day} {local:%H:%M}"


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
