"""The record of a mixer's run: what was added, how warm, how stiff, how heavy, when covered.

Facts are saved under the run's version. What they mean is reckoned when it is shown: the mix that
was really made, how much of it, and whether that fills the forms.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from curing.weigh_record import Record
from curing.yield_check import DENSITY_TOLERANCE, DensityCheck, density_check, unit_weight
from jobs.models import Mark, MixerRun, Piece
from jobs.services.errors import Refused
from shop.localtime import to_hours
from shop.measures import words
from shop.models import Person, Reading, Room, Shop
from shop.services import rows
from shop.templatetags.measures import moment

__all__ = [
    "FIELDS",
    "LIMITS",
    "Made",
    "Offered",
    "air_offered",
    "air_then",
    "cup_density",
    "made_of",
    "save_record",
    "water_into",
]

CLOCK_SKEW = dt.timedelta(minutes=5)
# A reading this near tells the air of a moment.
NEAR = dt.timedelta(hours=1)
# Longer than this after water-in nobody still covers fresh concrete: it is another day's time.
LONGEST_OPEN = dt.timedelta(hours=12)
# A run may be opened when all is done, to write it down; longer after its water the year is wrong.
LONG_BEFORE = dt.timedelta(days=31)

FIELDS = (
    "water_in_at", "added_water_kg", "added_why", "mix_celsius", "air_celsius", "form_celsius",
    "humidity", "spread_m", "unit_weight", "covered_at", "note",
)  # fmt: skip


def _field(name: str) -> Any:
    return MixerRun._meta.get_field(name)


# As the database has them: SI, least and greatest, and what they are called.
LIMITS: dict[str, tuple[float, float, str]] = {
    name: (*(rule.limit_value for rule in _field(name).validators), what)
    for name, what in (
        ("added_water_kg", "water, ice and later additions"),
        ("mix_celsius", "the mix's temperature"),
        ("air_celsius", "the air's temperature"),
        ("form_celsius", "the form's temperature"),
        ("humidity", "the humidity"),
        ("spread_m", "the spread"),
        ("unit_weight", "the unit weight"),
    )
}


def save_record(
    *,
    run_id: int,
    version: int,
    values: dict[str, Any],
    by: Person,
    now: dt.datetime | None = None,
) -> MixerRun:
    """The whole record as it was typed: a field that is left out of `values` is emptied.

    Raises
    ------
    Conflict
        Somebody saved it since `version`.
    Refused
        The run is struck, or a value cannot be.
    """
    now = now or timezone.now()
    empty = {name: _field(name).get_default() for name in FIELDS}
    filled = {name: value for name, value in values.items() if value is not None}
    record = {**empty, **filled}
    _refuse(record, now)
    with transaction.atomic():
        run = rows.locked(MixerRun, run_id, version, record)
        if run.struck_at:
            raise Refused(_("This run is struck: its record is closed."))
        _refuse_long_before(run, record)
        rows.put(run, {**record, "recorded_by": by})
    return run


def _refuse(record: dict[str, Any], now: dt.datetime) -> None:
    for name, (least, greatest, what) in LIMITS.items():
        value = record[name]
        if value is not None and not least <= value <= greatest:
            raise Refused(
                _("%(what)s cannot be %(value)s.") % {"what": what.capitalize(), "value": value},
                field=name,
            )
    water_in, covered = record["water_in_at"], record["covered_at"]
    for name, at in (("water_in_at", water_in), ("covered_at", covered)):
        if at and at > now + CLOCK_SKEW:
            raise Refused(_("%(when)s has not come yet.") % {"when": moment(at)}, field=name)
    if record["added_water_kg"] and not record["added_why"].strip():
        raise Refused(
            _("Write what was added, and why: water changes the concrete."), field="added_why"
        )
    if water_in and covered and not water_in <= covered <= water_in + LONGEST_OPEN:
        raise Refused(
            _("It was covered before its water went in (%(when)s), or more than half a day "
              "after. Look at both times.") % {"when": moment(water_in)},
            field="covered_at",
        )  # fmt: skip


def _refuse_long_before(run: MixerRun, record: dict[str, Any]) -> None:
    for name in ("water_in_at", "covered_at"):
        at = record[name]
        if at and at < run.opened_at - LONG_BEFORE:
            raise Refused(
                _("%(when)s is more than a month before this run was opened. Look at the day.")
                % {"when": moment(at)},
                field=name,
            )


def water_into(run: MixerRun) -> dt.datetime | None:
    """When water went in: as it is written, else when the water was ticked off its sheet; of a
    batch's first run, else when its cast is marked. Needs `weighed` loaded."""
    if run.water_in_at:
        return run.water_in_at
    waters = {
        line["component"]["name"]
        for line in run.sheet.get("lines", ())
        if line["component"]["role"] == "water"
    }
    ticked = [r.at for r in run.weighed.all() if r.line in waters and r.struck_at is None]
    if ticked:
        return max(ticked)
    if run.number > 1:
        return None
    casts = run.batch.marks.filter(kind=Mark.Kind.DONE, struck_by__isnull=True)
    return casts.order_by("happened_at").values_list("happened_at", flat=True).first()


@dataclass(frozen=True)
class Offered:
    """The room's reading nearest to a moment; humidity is a fraction."""

    at: dt.datetime
    celsius: float
    humidity: float | None


def air_offered(room: Room, at: dt.datetime) -> Offered | None:
    """One query; None where no reading lies within an hour."""
    near = Reading.objects.filter(room=room, at__range=(at - NEAR, at + NEAR))
    return air_then(list(near.values_list("at", "celsius", "humidity")), at)


def air_then(
    readings: Sequence[tuple[dt.datetime, float, float | None]], at: dt.datetime
) -> Offered | None:
    near = [row for row in readings if abs(row[0] - at) <= NEAR]
    nearest = min(near, key=lambda row: abs(to_hours(row[0]) - to_hours(at)), default=None)
    return None if nearest is None else Offered(*nearest)


@dataclass(frozen=True)
class Made:
    """What a run really made.

    density : the unit weight against what its components' densities give, as weighed for the layer
        that took the most of it; None without a unit weight
    yield_m3 : None without a unit weight; needed_m3 : wanted with waste; net_m3 : what the forms
        hold of it, without waste
    """

    density: DensityCheck | None
    yield_m3: float | None
    needed_m3: float | None
    net_m3: float | None

    @property
    def fills(self) -> bool | None:
        """Whether what was made is as much as the forms hold; None while nobody weighed it."""
        if self.yield_m3 is None or self.net_m3 is None:
            return None
        return self.yield_m3 >= self.net_m3

    @property
    def with_waste(self) -> bool | None:
        """The same with waste, as near as a unit weight can tell (ASTM C138's precision)."""
        if self.yield_m3 is None or self.needed_m3 is None:
            return None
        return self.fills and self.yield_m3 >= self.needed_m3 * (1 - DENSITY_TOLERANCE)


def made_of(run: MixerRun, record: Record, pieces: Mapping[str, Piece], shop: Shop) -> Made:
    """pieces : by code; one that is gone is taken to have the shop's own waste."""
    needed = sum(part["m3"] for part in run.parts)
    net = sum(part["m3"] / (1 + _waste(part, pieces, shop)) for part in run.parts)
    layer = max(record.matrix_kg, key=lambda name: record.matrix_kg[name])
    return Made(
        density=density_check(record.mix_of(layer), run.unit_weight) if run.unit_weight else None,
        yield_m3=record.yield_m3,
        needed_m3=needed or None,
        net_m3=net or None,
    )


def _waste(part: dict[str, Any], pieces: Mapping[str, Piece], shop: Shop) -> float:
    piece = pieces.get(part["piece"])
    if piece is not None and piece.waste is not None:
        return piece.waste
    return shop.waste_face if part["layer"] == "face" else shop.waste_backer


def cup_density(full: float | None, empty: float | None, volume: float | None, shop: Shop) -> float:
    """Unit weight from a weighed cup: kg, kg, m³. Raises Refused for one that cannot be."""
    names = {"cup_full": full, "cup_empty": empty, "cup_volume": volume}
    for name, value in names.items():
        if value is None:
            raise Refused(
                _("The cup's full and empty weight and what it holds: all three, or none."),
                field=name,
            )
    assert full is not None
    assert empty is not None
    assert volume is not None
    try:
        found = unit_weight(full, empty, volume)
    except ValueError as error:
        raise Refused(
            _("The empty cup must be lighter than the full one."), field="cup_full"
        ) from error
    least, greatest, _words = LIMITS["unit_weight"]
    if not least <= found <= greatest:
        raise Refused(
            _("That would be %(found)s, which no concrete is: look at the weights, at what the cup "
              "holds, and at their units.") % {"found": words(found, "density", shop)},
            field="cup_volume",
        )  # fmt: skip
    return found
