"""Entering a piece's weight on the floor, and taking a wrong one back."""

from __future__ import annotations

from functools import partial

from django.http import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from jobs.floor.answers import attempt, piece_done, piece_refused
from jobs.floor.forms import KeyedForm, WeighForm
from jobs.floor.pages import piece_or_404
from jobs.models import Weighing
from jobs.services.weighing_entry import add_weighing, strike_weighing
from shop import measures
from shop.access import needs
from shop.http import ShopRequest
from shop.templatetags.measures import moment


@needs("floor.mark")
@require_POST
def weigh(request: ShopRequest, code: str) -> HttpResponseBase:
    piece = piece_or_404(code)
    form = WeighForm(request.POST, shop=request.shop, auto_id=f"{piece.code}-weigh-%s")
    if not form.is_valid():
        return piece_refused(request, piece, form, None, weigh=form)
    made, error = attempt(
        partial(
            add_weighing,
            piece_id=piece.pk,
            kg=form.cleaned_data["weight"],
            by=request.user,
            client_key=form.cleaned_data["client_key"],
            at=form.moment,
            sure=form.cleaned_data["sure"],
        )
    )
    if error:
        form.refuse(error)
        return piece_refused(request, piece, form, error, weigh=form)
    return piece_done(request, piece, _recorded(request, piece.code, made))


def _recorded(request: ShopRequest, code: str, made: Weighing) -> str:
    facts = {
        "code": code,
        "weight": measures.words(made.kg, "scale", request.shop),
        "when": moment(made.at),
    }
    if made.struck_at:
        return _("%(code)s, %(weight)s (%(when)s) was taken back already.") % facts
    return _("Recorded: %(code)s weighs %(weight)s, %(when)s.") % facts


@needs("floor.mark")
@require_POST
def strike(request: ShopRequest, weighing_id: int) -> HttpResponseBase:
    weighing = get_object_or_404(Weighing.objects.select_related("piece"), pk=weighing_id)
    piece = piece_or_404(weighing.piece.code)
    form = KeyedForm(request.POST, shop=request.shop)
    if not form.is_valid():
        return piece_refused(request, piece, form, None)
    struck, error = attempt(partial(strike_weighing, weighing_id=weighing_id, by=request.user))
    if error:
        return piece_refused(request, piece, form, error)
    said = _("Taken back: %(code)s, %(weight)s.")
    weight = measures.words(struck.kg, "scale", request.shop)
    return piece_done(request, piece, said % {"code": piece.code, "weight": weight})
