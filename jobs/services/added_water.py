"""Water and ice that went in beside the sheet, written down at the mixer."""

from __future__ import annotations

import hashlib
import math

from django.db import transaction
from django.utils.translation import gettext as _

from jobs.models import MixerRun
from jobs.services.errors import Refused
from shop.models import Person
from shop.services import rows

MOST_KG = 200.0


def added_seen(run: MixerRun) -> str:
    """Stands for what was added as somebody sees it, whatever else of the record changes."""
    return hashlib.sha256(f"{run.added_water_kg!r} {run.added_why}".encode()).hexdigest()[:16]


@transaction.atomic
def write_added_water(
    *, run_id: int, version: int, kg: float, why: str, by: Person, seen: str = ""
) -> MixerRun:
    """All that was added so far [kg], not what came last: sent twice it is still right.

    seen : what `added_seen` gave; while it still stands, the rest of the record may have changed
        since `version`. A person's own larger figure follows their smaller one without it, as two
        that one phone kept without signal do.

    Raises
    ------
    Conflict
        Somebody wrote in this run's record since `version`.
    Refused
        A struck run, a weight out of range, or no word of why.
    """
    why = " ".join(why.split())[:200]
    if not (math.isfinite(kg) and 0 <= kg <= MOST_KG):
        raise Refused(
            _("Write how much was added in all, as a weight of 0 or above."), field="added"
        )
    if kg and not why:
        raise Refused(_("Write what was added, and why: water changes the concrete."), field="why")
    values = {"added_water_kg": kg, "added_why": why}
    run = MixerRun.objects.select_for_update().get(pk=run_id)
    if all(getattr(run, name) == value for name, value in values.items()):
        return run
    more = run.recorded_by_id == by.pk and kg >= run.added_water_kg
    if seen != added_seen(run) and not more:
        run = rows.locked(MixerRun, run_id, version, values)
    if run.struck_at:
        raise Refused(_("This run is struck: its record is closed."))
    rows.put(run, {**values, "recorded_by": by})
    return run
