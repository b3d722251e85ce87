"""Ticking off a run's weigh sheet: once for each client key, under the run's lock; struck."""

from __future__ import annotations

import datetime as dt
import math
import re
import uuid

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from jobs.models import MixerRun, Weighed
from jobs.services.corrections import TAKE_BACK
from jobs.services.errors import Refused
from jobs.services.mix_names import component
from jobs.services.weigh_sheets import ShownLine, record_with, shown_lines
from jobs.services.weighing_entry import CLOCK_SKEW, HALF, TWICE, Unlikely
from shop.models import Person, Role
from shop.services.settings import the_shop
from shop.templatetags.measures import clock, moment

__all__ = ["Unlikely", "lot_key", "may_strike_tick", "strike_tick", "tick"]

MOST_KG = 5000.0


def lot_key(lot: str) -> str:
    """A lot as it is searched: '24-b 117' and '24B117' are one."""
    return re.sub(r"[^A-Z0-9]", "", lot.upper())


@transaction.atomic
def tick(
    *,
    run_id: int,
    line: str,
    kg: float,
    lot: str = "",
    by: Person,
    at: dt.datetime | None = None,
    client_key: uuid.UUID,
    sure: bool = False,
    now: dt.datetime | None = None,
) -> Weighed:
    """What the scale showed for one line. line : its key on the sheet; at : None is now

    A second weight of the same line stands in place of the first.

    Raises
    ------
    Unlikely
        A weight far from the sheet's, or a line that another person weighed already, and `sure`
        is not said.
    Refused
        A struck run, a line that is not on its sheet, a time to come, a weight that is no weight
        or leaves the run without cement.
    """
    now = now or timezone.now()
    run = _locked(run_id)
    known = Weighed.objects.filter(client_key=client_key).select_related("run", "by").first()
    if known:
        return known
    if run.struck_at:
        raise Refused(_("This run was struck meanwhile. Look at the cast's runs again."))
    shown = _line(run, line)
    at = at or now
    _refuse(run, shown, kg, at, now)
    if not sure:
        _ask_again(shown, kg, by)
    lot = " ".join(lot.split())[:60]
    return Weighed.objects.create(
        run=run,
        line=shown.key,
        kg=kg,
        lot=lot,
        lot_key=lot_key(lot),
        at=at,
        by=by,
        client_key=client_key,
    )


@transaction.atomic
def strike_tick(*, weighed_id: int, by: Person, now: dt.datetime | None = None) -> Weighed:
    """One's own within ten minutes; after that the owner. What was ticked before it counts again.

    Raises Refused for what is another person's or older, and the person is not the owner.
    """
    now = now or timezone.now()
    run_id = Weighed.objects.filter(pk=weighed_id).values_list("run_id", flat=True).first()
    if run_id is None:
        raise Refused(_("There is no such weight."))
    _locked(run_id)
    row = Weighed.objects.select_related("run", "by").get(pk=weighed_id)
    if row.struck_at:
        return row
    if not may_strike_tick(row, by, now):
        raise Refused(
            _(
                "A weight can be taken back for ten minutes by who entered it. "
                "Ask the owner to strike it."
            )
        )
    row.struck_at, row.struck_by = now, by
    row.save(update_fields=["struck_at", "struck_by"])
    return row


def may_strike_tick(row: Weighed, person: Person, now: dt.datetime) -> bool:
    own = row.by_id == person.pk and now - row.recorded_at <= TAKE_BACK
    return row.struck_at is None and (own or person.role == Role.OWNER)


def _locked(run_id: int) -> MixerRun:
    if not MixerRun.objects.select_for_update().filter(pk=run_id).exists():
        raise Refused(_("There is no such run."))
    return MixerRun.objects.prefetch_related("weighed__by").get(pk=run_id)


def _line(run: MixerRun, key: str) -> ShownLine:
    for shown in shown_lines(run, the_shop()):
        if shown.key == key:
            return shown
    raise Refused(
        _("%(line)s is not on the sheet of this run. Look at the sheet again.") % {"line": key[:80]}
    )


def _refuse(run: MixerRun, shown: ShownLine, kg: float, at: dt.datetime, now: dt.datetime) -> None:
    if not (math.isfinite(kg) and 0 <= kg <= MOST_KG):
        raise Refused(
            _("Write what the scale shows: a number of 0 or above, at most %(most)s.")
            % {"most": shown.scale.words(MOST_KG)},
            field="weight",
        )
    if at > now + CLOCK_SKEW:
        raise Refused(
            _("%(when)s has not come yet. Enter a weight when it is read.") % {"when": moment(at)},
            field="happened_at",
        )
    weights = {row.key: row.weighed.kg for row in _others(run, shown.key) if row.weighed}
    try:
        record_with(run, {**weights, shown.key: kg})
    except ValueError as error:
        said = _("A run without cement cannot be recorded. Look at the scale again, or strike it.")
        raise Refused(said, field="weight") from error


def _others(run: MixerRun, key: str) -> list[ShownLine]:
    return [row for row in shown_lines(run, the_shop()) if row.key != key]


def _ask_again(shown: ShownLine, kg: float, by: Person) -> None:
    facts = {"name": component(shown.name), "now": shown.scale.words(kg), "wanted": shown.amount}
    standing = shown.weighed
    if standing and standing.by_id != by.pk:
        facts |= {"who": standing.by.name, "when": clock(standing.at)}
        facts["before"] = shown.weighed_amount
        said = _("%(who)s weighed %(name)s at %(when)s already: %(before)s.") % facts
        ask = _("Is it in the mixer twice? Yours would stand in its place.")
        raise Unlikely(f"{said} {ask}", field="sure")
    if not HALF * shown.line.exact_kg <= kg <= TWICE * shown.line.exact_kg:
        said = _("%(now)s of %(name)s, but the sheet asks for %(wanted)s.") % facts
        ask = _("Is it the right unit, and the right bucket? Look at the scale again.")
        raise Unlikely(f"{said} {ask}", field="sure")
