"""Strength tests are facts: added once, struck when wrong. A fit counts once the owner takes it."""

from __future__ import annotations

import datetime as dt
import uuid
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from curing.fitting import Fit, Form
from curing.strength import Exponential
from shop.models import FitTaken, Mix, Person, Room, Shop, StrengthTest
from shop.models.strength_tests import TakenFigure
from shop.services import rows
from shop.services.calibration import MixCalibration, calibration_of
from shop.services.changed import note_change
from shop.services.curves import draws_of
from shop.services.errors import Conflict, Refused

OLDEST = dt.timedelta(days=3 * 365)
AHEAD = dt.timedelta(minutes=5)  # clocks differ
COLDEST, HOTTEST = 0.0, 95.0  # °C: from freezing to a steam bath


@dataclass(frozen=True)
class Entry:
    """A test as it was typed. It cured at `celsius`, or with the pieces in `room`."""

    kind: str
    age_hours: float
    tested_at: dt.datetime
    strength_mpa: float
    celsius: float | None = None
    room: Room | None = None
    note: str = ""


@transaction.atomic
def add_test(
    *, mix_id: int, entry: Entry, by: Person, client_key: uuid.UUID, now: dt.datetime
) -> StrengthTest:
    """The same key again gives the first test: a button pressed twice adds one."""
    _refuse(entry, now)
    mix = Mix.objects.select_for_update().get(pk=mix_id)
    test, _made = StrengthTest.objects.get_or_create(
        client_key=client_key, defaults={"mix": mix, "by": by, **vars(entry)}
    )
    if test.mix_id != mix.pk:
        raise Refused(_("This test is entered already, for another mix."))
    return test


def _refuse(entry: Entry, now: dt.datetime) -> None:
    if entry.tested_at > now + AHEAD:
        raise Refused(_("That is still to come. When was it broken?"), field="tested_at")
    if not 0.1 <= entry.age_hours <= OLDEST / dt.timedelta(hours=1):
        raise Refused(_("An age from 6 minutes to 3 years, please."), field="age")
    if (entry.celsius is None) == (entry.room is None):
        raise Refused(
            _("Give the temperature it cured at, or the room it lay in."), field="celsius"
        )
    if entry.celsius is not None and not COLDEST <= entry.celsius <= HOTTEST:
        raise Refused(_("Concrete cures between freezing and a steam bath."), field="celsius")


@transaction.atomic
def strike_test(*, test_id: int, by: Person, reason: str = "") -> StrengthTest:
    test = StrengthTest.objects.select_for_update(of=("self",)).get(pk=test_id)
    if test.struck_at is None:
        test.struck_at, test.struck_by, test.struck_because = timezone.now(), by, reason[:200]
        test.save(update_fields=["struck_at", "struck_by", "struck_because"])
    return test


@transaction.atomic
def use_curve(
    *, mix_id: int, version: int, basis: str, form: Form, by: Person, now: dt.datetime, shop: Shop
) -> Mix:
    """The fitted curve becomes the mix's: every date that rests on it is reckoned anew."""
    seen = _seen(mix_id, version, basis, now, shop)
    fit = next((one for one in seen.fits if one.form == form), None)
    if fit is None:
        raise Refused(_("These tests give no curve: there are too few of them."))
    figures = {"curve": str(form), "placeholder": False, **_figures(fit)}
    seen.mix.curve_draws = draws_of(fit)
    seen.mix.save(update_fields=["curve_draws"])
    _take(seen, TakenFigure(form), figures, len(fit.ages), by)
    return seen.mix


@transaction.atomic
def use_energy(
    *, mix_id: int, version: int, basis: str, by: Person, now: dt.datetime, shop: Shop
) -> Mix:
    seen = _seen(mix_id, version, basis, now, shop)
    energy = seen.result.energy
    if energy.value is None:
        raise Refused(_("These tests give no activation energy."))
    tests = sum(len(one.fit.ages) for one in energy.rates)
    _take(seen, TakenFigure.ENERGY, {"activation_energy": round(energy.value, 1)}, tests, by)
    return seen.mix


def _seen(mix_id: int, version: int, basis: str, now: dt.datetime, shop: Shop) -> MixCalibration:
    """What the tests say now, if it is what the person looked at. The mix is held."""
    mix = rows.locked(Mix, mix_id, version, {})
    found = calibration_of(mix, now=now, shop=shop)
    if found.basis != basis:
        raise Conflict(
            _("A test was added or struck since you looked, so the curves are others now. "
              "Nothing is changed: look again."),
            version=mix.version,
            theirs={},
        )  # fmt: skip
    return found


def _take(
    seen: MixCalibration, what: TakenFigure, figures: dict[str, Any], tests: int, by: Person
) -> None:
    rows.put(seen.mix, figures)
    FitTaken.objects.create(mix=seen.mix, what=what, figures=figures, tests=tests, by=by)
    note_change(f"{what.label} of {seen.mix.name} from {tests} tests")


def _figures(fit: Fit) -> dict[str, float]:
    curve = fit.curve
    if isinstance(curve, Exponential):
        numbers = {"su_mpa": curve.su, "tau_hours": curve.tau, "alpha": curve.alpha}
    else:
        numbers = {"su_mpa": curve.su, "rate_per_hour": curve.k, "setting_hours": curve.t0}
    return {name: float(f"{value:.6g}") for name, value in numbers.items()}
