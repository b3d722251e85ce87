"""What a mix's tests show, beside the curve that its dates rest on now. Reads only."""

from __future__ import annotations

import datetime as dt
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from django.utils.translation import gettext as _

from curing.air import Climate
from curing.calibration import Calibration, Point, calibrate
from curing.calibration import StrengthTest as EngineTest
from curing.fitting import Fit, Form
from curing.specimens import Kind
from curing.strength import PSI, Exponential, Hyperbolic
from shop.localtime import to_hours
from shop.models import FitTaken, Mix, RouteStep, Shop, StepKind, StrengthTest
from shop.services.climate import climates
from shop.services.materials import curve_of

LEAST_MEASURED = 0.5  # of a specimen's hours with the pieces, or its age is a guess
USUAL_GATES_PSI = (1500.0, 2500.0, 3000.0, 5000.0)
MOST_GATES = 6


@dataclass(frozen=True)
class TestRow:
    """A test as it was entered, and as the fit sees it; a struck one is not seen."""

    test: StrengthTest
    point: Point | None


@dataclass(frozen=True)
class AgeBand:
    """Hours at 20 °C at which a strength is reached; inf where it never is."""

    hours: float
    low: float
    high: float


@dataclass(frozen=True)
class Gate:
    """A strength that a route asks for, and when each curve reaches it."""

    mpa: float
    step: str
    now: float
    by: dict[Form, AgeBand]


@dataclass(frozen=True)
class MixCalibration:
    mix: Mix
    rows: list[TestRow]
    result: Calibration
    taken: FitTaken | None  # the last curve taken from tests, if the mix still has it
    energy_taken: FitTaken | None
    gates_asked: list[tuple[float, str]]

    @property
    def basis(self) -> str:
        """Changes with every test that is added or struck: a person takes what they saw."""
        seen = ",".join(f"{row.test.pk}" for row in self.rows if row.point)
        return f"{zlib.crc32(f'{self.mix.pk}:{seen}'.encode()):08x}"

    @property
    def curve(self) -> Hyperbolic | Exponential:
        return curve_of(self.mix)

    @cached_property
    def gates(self) -> list[Gate]:
        """Each strength that routes ask for, and when the curve in use and both fits reach it."""
        fits = self.fits
        return [
            Gate(mpa, step, self.curve.age_at(mpa), {one.form: _age_band(one, mpa) for one in fits})
            for mpa, step in self.gates_asked
        ]

    @property
    def fits(self) -> list[Fit]:
        both = self.result.fits
        return [both.hyperbolic, both.exponential] if both else []


def calibration_of(mix: Mix, *, now: dt.datetime, shop: Shop) -> MixCalibration:
    """A fixed number of queries, however many tests there are."""
    tests = list(mix.tests.select_related("room", "by", "struck_by"))
    standing = [test for test in tests if test.struck_at is None]
    airs = _airs(standing, now, shop)
    result = calibrate(
        [_for_engine(test, airs, mix) for test in standing],
        activation_energy=mix.activation_energy,
    )
    points = {test.pk: point for test, point in zip(standing, result.points, strict=True)}
    taken = list(mix.fits_taken.select_related("by"))
    return MixCalibration(
        mix=mix,
        rows=[TestRow(test, points.get(test.pk)) for test in tests],
        result=result,
        taken=_standing([one for one in taken if one.what in set(Form)], mix),
        energy_taken=_standing([one for one in taken if one.what == "energy"], mix),
        gates_asked=gates_of_routes(),
    )


def _standing(taken: Sequence[FitTaken], mix: Mix) -> FitTaken | None:
    return taken[0] if taken and taken[0].stands_in(mix) else None


def _airs(tests: Sequence[StrengthTest], now: dt.datetime, shop: Shop) -> dict[int, Climate]:
    with_pieces = [test for test in tests if test.room]
    if not with_pieces:
        return {}
    return climates(
        {test.room.pk: test.room for test in with_pieces if test.room}.values(),
        since=min(test.cast_at for test in with_pieces),
        until=now,
        now=now,
        shop=shop,
    )


def _for_engine(test: StrengthTest, airs: dict[int, Climate], mix: Mix) -> EngineTest:
    kind = Kind(test.kind)
    if test.room is None:
        return EngineTest(test.age_hours, test.strength_mpa, kind, test.celsius)
    air = airs[test.room.pk]
    since, until = to_hours(test.cast_at), to_hours(test.tested_at)
    measured = float(air.measured_share(since, until))
    return EngineTest(
        test.age_hours,
        test.strength_mpa,
        kind,
        celsius=None,
        equivalent_hours=float(air.equivalent_age(since, until, mix.activation_energy)),
        why_not="" if measured >= LEAST_MEASURED else _too_little_air(test, measured),
    )


def _too_little_air(test: StrengthTest, measured: float) -> str:
    return _("shown and not fitted: %(room)s was measured for only %(share)s %% of its hours") % {
        "room": test.room,
        "share": round(100 * measured),
    }


def _age_band(fit: Fit, mpa: float) -> AgeBand:
    return AgeBand(fit.curve.age_at(mpa), *fit.age_band(mpa))


def gates_of_routes() -> list[tuple[float, str]]:
    """The strengths that routes in use ask for, least first, with the step that asks."""
    asked: dict[float, tuple[float, str]] = {}
    steps = RouteStep.objects.filter(route__in_use=True, strength_mpa__gt=0)
    for mpa, name, _kind in sorted(_distinct(steps), key=_demold_first):
        asked.setdefault(round(mpa, 1), (mpa, name))
    if not asked:
        return [(psi * PSI, "") for psi in USUAL_GATES_PSI]
    return sorted(asked.values())[:MOST_GATES]


def _distinct(steps: Any) -> list[tuple[float, str, str]]:
    return list(steps.values_list("strength_mpa", "name", "kind").distinct().order_by())


def _demold_first(step: tuple[float, str, str]) -> tuple[bool, float, str]:
    return step[2] != StepKind.DEMOLD, step[0], step[1]
