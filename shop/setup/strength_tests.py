"""A mix's strength tests and what they show: its page, and the buttons on it."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from curing.fitting import Form
from shop import measures
from shop.access import needs
from shop.http import ShopRequest
from shop.models import Mix, StrengthTest
from shop.services import strength_tests
from shop.services.calibration import MixCalibration, calibration_of
from shop.services.errors import Refused
from shop.setup import pages, strength_words
from shop.setup.strength_chart import Chart, table_of
from shop.setup.strength_test_form import StrengthTestForm


@needs("setup.see")
@require_safe
def mix_tests(request: ShopRequest, mix_id: int) -> HttpResponse:
    mix = get_object_or_404(Mix, pk=mix_id)
    return _page(request, mix, StrengthTestForm(shop=request.shop, now=timezone.now()))


def _page(
    request: ShopRequest, mix: Mix, form: StrengthTestForm, status: int = 200
) -> HttpResponse:
    seen = calibration_of(mix, now=timezone.now(), shop=request.shop)
    context = {"mix": mix, "form": form, **figure(seen, request)}
    return pages.show(request, "setup/mix_tests.html", context, status)


def figure(seen: MixCalibration, request: ShopRequest) -> dict[str, Any]:
    shop = request.shop
    return {
        "seen": seen,
        "charts": [Chart(seen, shop, 760, 380, "wide"), Chart(seen, shop, 380, 330, "narrow")],
        "table": table_of(seen),
        "tests": [strength_words.row_words(seen, row, shop) for row in seen.rows],
        "choices": strength_words.choices(seen, shop),
        "verdict": strength_words.verdict(seen),
        "missing": strength_words.missing(seen),
        "standing": strength_words.standing(seen),
        "band_heading": strength_words.band_heading(seen.mix),
        "energy": seen.result.energy,
        "energy_words": strength_words.energy_words(seen),
        "energy_effect": strength_words.energy_effect(seen, shop),
        "gates": [
            (gate, strength_words.hours_words(gate.now), _reached(gate.by)) for gate in seen.gates
        ],
    }


def _reached(by: dict[Form, Any]) -> list[tuple[str, str]]:
    words = strength_words.hours_words
    return [
        (words(one.hours), f"{words(one.low).removesuffix(' h')}–{words(one.high)}")
        for one in by.values()
    ]


@needs("setup.change")
@require_POST
def add_test(request: ShopRequest, mix_id: int) -> HttpResponse:
    mix = get_object_or_404(Mix, pk=mix_id)
    now = timezone.now()
    form = StrengthTestForm(request.POST, shop=request.shop, now=now)
    if form.is_valid():
        try:
            test = strength_tests.add_test(
                mix_id=mix.pk,
                entry=form.entry,
                by=request.user,
                client_key=form.cleaned_data["client_key"],
                now=now,
            )
        except Refused as refusal:
            form.refuse(refusal)
        else:
            return pages.saved(request, _added(test, request), "mix-tests", mix.pk)
    return _page(request, mix, form, 422)


def _added(test: StrengthTest, request: ShopRequest) -> str:
    return _("%(strength)s at %(age)s is entered.") % {
        "strength": measures.words(test.strength_mpa, "strength", request.shop),
        "age": strength_words.hours_words(test.age_hours),
    }


@needs("setup.change")
@require_POST
def strike_test(request: ShopRequest, test_id: int) -> HttpResponse:
    test = get_object_or_404(StrengthTest, pk=test_id)

    def act() -> str:
        reason = request.POST.get("reason", "").strip()
        strength_tests.strike_test(test_id=test.pk, by=request.user, reason=reason)
        return _("The test is struck: it stays in the table and counts no more.")

    return pages.try_it(request, act, "mix-tests", test.mix_id)


@needs("setup.change")
@require_POST
def use_fit(request: ShopRequest, mix_id: int) -> HttpResponse:
    mix = get_object_or_404(Mix, pk=mix_id)
    what, seen = request.POST.get("what", ""), _what_was_seen(request)

    def act() -> str:
        if what == "energy":
            strength_tests.use_energy(mix_id=mix.pk, **seen)
            return _("The activation energy is taken. Dates that rest on it are reckoned anew.")
        if what not in set(Form):
            raise Refused(_("Choose one of the curves."))
        strength_tests.use_curve(mix_id=mix.pk, form=Form(what), **seen)
        return _("The %(name)s curve is in use. Dates that rest on it are reckoned anew.") % {
            "name": strength_words.form_name(Form(what))
        }

    return pages.try_it(request, act, "mix-tests", mix.pk)


def _what_was_seen(request: ShopRequest) -> dict[str, Any]:
    version = request.POST.get("version", "")
    return {
        "version": int(version) if version.isdecimal() and len(version) < 10 else 0,
        "basis": request.POST.get("basis", ""),
        "by": request.user,
        "now": timezone.now(),
        "shop": request.shop,
    }
