"""What the tests of a mix show, in the shop's units and in words."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from curing.activation import Lacking
from curing.calibration import Missing
from curing.fitting import Fit, Form
from curing.maturity import age_factor
from curing.strength import PSI
from shop import measures
from shop.models import Mix, Shop
from shop.services.calibration import Gate, MixCalibration, TestRow
from shop.services.curves import band_of

HEADLINE = 2500 * PSI  # MPa: about what a big piece wants at its demold
COLD = 10.0  # °C


@dataclass(frozen=True)
class Choice:
    """A fitted curve with its button."""

    fit: Fit
    name: str
    figures: str
    misses_by: str
    effect: str
    better: bool
    in_use: bool


def form_name(form: Form) -> str:
    return _("hyperbolic") if form is Form.HYPERBOLIC else _("exponential")


def hours_words(hours: float) -> str:
    if not math.isfinite(hours):
        return _("never")
    return f"{hours:.0f} h" if hours >= 99.5 else f"{hours:.1f}".removesuffix(".0") + " h"


def choices(seen: MixCalibration, shop: Shop) -> list[Choice]:
    both = seen.result.fits
    taken = seen.taken.what if seen.taken else ""
    return [
        Choice(
            fit=one,
            name=form_name(one.form),
            figures=_figures(one, shop),
            misses_by=measures.words(one.misses_by, "strength", shop),
            effect=_effect(headline(seen), one.form, shop),
            better=both is not None and one is both.better,
            in_use=taken == one.form and _same(seen, one),
        )
        for one in seen.fits
    ]


def _same(seen: MixCalibration, fit: Fit) -> bool:
    """Whether the curve in use is this one, as far as anybody could tell."""
    return all(
        math.isclose(float(fit.curve.at(age)), float(seen.curve.at(age)), abs_tol=0.05)
        for age in (12.0, 24.0, 168.0)
    )


def _figures(fit: Fit, shop: Shop) -> str:
    curve: Any = fit.curve
    su = measures.words(curve.su, "strength", shop)
    if fit.form is Form.EXPONENTIAL:
        return f"su {su}, tau {curve.tau:.1f} h, alpha {curve.alpha:.2f}"
    return f"su {su}, k {curve.k:.4f} 1/h, t0 {curve.t0:.1f} h"


def headline(seen: MixCalibration) -> Gate:
    return min(seen.gates, key=lambda gate: abs(gate.mpa - HEADLINE))


def _effect(gate: Gate, form: Form, shop: Shop) -> str:
    """'18 h at 68 °F instead of 16.9 h for 2,500 psi'."""
    return _("%(new)s at %(warmth)s instead of %(now)s for %(strength)s") % {
        "new": hours_words(gate.by[form].hours),
        "now": hours_words(gate.now),
        "warmth": measures.warmth(shop),
        "strength": measures.words(gate.mpa, "strength", shop),
    }


def verdict(seen: MixCalibration) -> str:
    both = seen.result.fits
    if both is None:
        return ""
    name = form_name(both.better.form)
    if both.clear:
        return _("The %(name)s curve fits these tests clearly better.") % {"name": name}
    return _("The tests hardly tell the two forms apart; the %(name)s one is a little nearer.") % {
        "name": name
    }


def missing(seen: MixCalibration) -> str:
    count = len(seen.result.fitted)
    return {
        Missing.NOTHING: "",
        Missing.TESTS: _(
            "%(count)s tests count as compression so far. Three, at three different ages, give a "
            "curve of your own."
        )
        % {"count": count},
        Missing.AGES: _(
            "%(count)s tests, but at fewer than three different ages: a curve needs three. "
            "Break the next ones earlier or later."
        )
        % {"count": count},
        Missing.RISE: _("These tests do not gain strength with age. Look at their ages and units."),
    }[seen.result.missing]


def energy_words(seen: MixCalibration) -> str:
    energy = seen.result.energy
    return {
        Lacking.NOTHING: "",
        Lacking.ONE_TEMPERATURE: _(
            "How strongly warmth hurries this mix shows once there are tests at three ages or more "
            "at each of two steady temperatures; ASTM C1074 asks for three temperatures."
        ),
        Lacking.TOO_CLOSE: _(
            "The temperatures of the tests lie too close together to show how strongly warmth "
            "hurries this mix."
        ),
        Lacking.NOT_RISING: _("By these tests warmth does not hurry the cure: look at them again."),
        Lacking.UNBELIEVABLE: _(
            "By these tests warmth would hurry the cure as it does no portland cement: look at "
            "them again."
        ),
    }[energy.lacking]


def energy_effect(seen: MixCalibration, shop: Shop) -> str:
    """What 16 h at 20 °C become in the cold: '29 h at 50 °F instead of 28.2 h'."""
    value = seen.result.energy.value
    if value is None:
        return ""
    new, now = (
        16.0 / float(age_factor(COLD, energy)) for energy in (value, seen.mix.activation_energy)
    )
    return _("%(new)s at %(cold)s instead of %(now)s for what takes 16 h at %(warmth)s") % {
        "new": hours_words(new),
        "now": hours_words(now),
        "cold": measures.warmth(shop, COLD),
        "warmth": measures.warmth(shop),
    }


@dataclass(frozen=True)
class RowWords:
    row: TestRow
    cured: str
    age: str  # at 20 °C
    off: str  # the test less the nearer curve
    remark: str


def row_words(seen: MixCalibration, row: TestRow, shop: Shop) -> RowWords:
    test, point, both = row.test, row.point, seen.result.fits
    cured = (
        _("with the pieces, %(room)s") % {"room": test.room}
        if test.room
        else measures.words(test.celsius, "temperature", shop)
    )
    if point is None:
        return RowWords(row, cured, "–", "–", "")
    off = "–"
    if both and point.compressive is not None:
        missed = point.compressive - float(both.better.curve.at(point.age))
        off = measures.words(missed, "strength", shop)
        off = off if off.startswith(("−", "0")) else f"+{off}"
    remark = _("far from what the other tests say: was it a bad break?") if point.far_off else ""
    return RowWords(row, cured, hours_words(point.age), off, _why_not(point.why_not) or remark)


def _why_not(reason: str) -> str:
    if reason.startswith("coupon"):
        return _("bending: shown, not fitted as compression")
    return reason


def standing(seen: MixCalibration) -> str:
    """Where the curve in use comes from."""
    if seen.mix.placeholder:
        return _("placeholder, not your concrete: ±30 %")
    if seen.taken is None:
        return _(
            "The curve in use was typed in, not taken from these tests: %(band)s, by our judgement."
        ) % {"band": band_heading(seen.mix)}
    return _("The curve in use was taken from %(count)s tests by %(name)s.") % {
        "count": seen.taken.tests,
        "name": seen.taken.by,
    }


def band_heading(mix: Mix) -> str:
    """Over a column, or beside a drawn band."""
    if mix.curve_draws:
        return _("90 % band")
    return f"±{band_of(mix) * 100:.0f} %"


def band_note(mix: Mix) -> str:
    """What the band of a mix's curve rests on; a placeholder has a sentence of its own."""
    if mix.placeholder:
        return ""
    if mix.curve_draws:
        return _("The 90 % band is that of the tests the curve was taken from.")
    return _(
        "Typed, without tests behind it here: 9 in 10 such curves are taken to lie within "
        "%(band)s. That is our judgement; no source has it."
    ) % {"band": band_heading(mix)}
