"""The unit weights that were measured of a mix's runs, and the owner taking their mean."""

from __future__ import annotations

import datetime as dt
import statistics
import zlib
from dataclasses import dataclass

from django.db import transaction
from django.utils.translation import gettext as _

from curing.yield_check import DENSITY_TOLERANCE
from shop.models import Mix, Recipe
from shop.services import rows
from shop.services.changed import note_change
from shop.services.errors import Conflict, Refused

LAST = 10
LEAST, GREATEST = 1000.0, 3000.0  # kg/m3, as the mix's own page takes it


@dataclass(frozen=True)
class MeasuredWeight:
    density: float  # kg/m3
    at: dt.datetime
    batch_id: int
    run: int
    version: int  # of the recipe


@dataclass(frozen=True)
class UnitWeights:
    """The last ones, newest first."""

    mix: Mix
    measured: tuple[MeasuredWeight, ...]

    @property
    def mean(self) -> float:
        """[kg/m³], to a tenth."""
        return round(statistics.fmean(one.density for one in self.measured), 1)

    @property
    def scatter(self) -> float | None:
        """Standard deviation [kg/m³]; None for a single one."""
        if len(self.measured) < 2:
            return None
        return statistics.stdev(one.density for one in self.measured)

    @property
    def difference(self) -> float:
        """Of the mean from what the mix states, of that."""
        return self.mean / self.mix.density - 1

    @property
    def beyond(self) -> bool:
        """More than two people's measurements of one concrete may differ (ASTM C138)."""
        return abs(self.difference) > DENSITY_TOLERANCE

    @property
    def taken(self) -> bool:
        return abs(self.mean - self.mix.density) < 0.05

    @property
    def versions(self) -> list[int]:
        return sorted({one.version for one in self.measured})

    @property
    def basis(self) -> str:
        """Changes with every measurement: a person takes what they saw."""
        seen = ",".join(f"{m.batch_id}.{m.run}:{m.density:.4f}" for m in self.measured)
        return f"{zlib.crc32(f'{self.mix.pk}:{seen}'.encode()):08x}"


def unit_weights_of(mix: Mix) -> UnitWeights:
    """One query. Runs belong to the work, which this package does not import."""
    found = (
        Recipe.objects.filter(
            mix=mix, runs__unit_weight__isnull=False, runs__struck_at__isnull=True
        )
        .order_by("-runs__opened_at", "-runs__pk")
        .values_list(
            "runs__unit_weight", "runs__opened_at", "runs__batch_id", "runs__number", "number"
        )[:LAST]
    )
    return UnitWeights(
        mix,
        tuple(
            MeasuredWeight(weight or 0.0, at, batch_id, run, version)
            for weight, at, batch_id, run, version in found
        ),
    )


@transaction.atomic
def take_unit_weight(*, mix_id: int, version: int, basis: str) -> Mix:
    """The mean of what was measured becomes the mix's unit weight; dates that rest on it follow."""
    mix = rows.locked(Mix, mix_id, version, {})
    seen = unit_weights_of(mix)
    if not seen.measured:
        raise Refused(_("No unit weight was measured of this mix yet."))
    if seen.basis != basis:
        raise Conflict(
            _("A unit weight was measured since you looked, so the mean is another one now. "
              "Nothing is changed: look again."),
            version=mix.version,
            theirs={},
        )  # fmt: skip
    if not LEAST <= seen.mean <= GREATEST:
        raise Refused(
            _("The mean is no unit weight of concrete: look at what was measured, and strike what "
              "is wrong.")
        )  # fmt: skip
    rows.put(mix, {"density": seen.mean})
    note_change(f"unit weight of {mix.name} from {len(seen.measured)} runs")
    return mix
