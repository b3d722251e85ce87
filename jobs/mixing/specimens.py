"""Specimens: cast from a run, waiting, broken or lost."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from jobs.mixing.record import run_page
from jobs.mixing.record_forms import ResultForm, SpecimenForm
from jobs.models import Specimen
from jobs.services import specimens as service
from jobs.services.errors import Refused
from shop import measures
from shop.access import needs
from shop.http import ShopRequest, posted
from shop.models import Mix


@needs("mixing.see")
@never_cache
@require_safe
def waiting(request: ShopRequest) -> HttpResponse:
    text = request.GET.get("mix", "")
    mix_id = int(text) if text.isascii() and text.isdigit() and len(text) < 10 else None
    mix = get_object_or_404(Mix, pk=mix_id) if mix_id is not None else None
    now = timezone.now()
    context = {
        "door": "floor",
        "mix": mix,
        "rows": [(one, one.age_hours(now)) for one in service.waiting(mix_id)],
    }
    return render(request, "mixing/specimens.html", context)


@needs("mixing.weigh")
@require_POST
def make(request: ShopRequest, run_id: int) -> HttpResponse:
    form = SpecimenForm(request.POST, shop=request.shop)
    if form.is_valid():
        try:
            made = service.make_specimens(
                run_id=run_id,
                kind=form.cleaned_data["kind"],
                labels=form.typed,
                by=request.user,
            )
        except Refused as refusal:
            form.refuse(refusal)
        else:
            labels = ", ".join(row.label for row in made)
            messages.success(request, _("%(labels)s wait to be broken.") % {"labels": labels})
            return redirect("batch-record", made[0].run.batch_id)
    return run_page(request, run_id, specimen=form)


@needs("mixing.weigh")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def result(request: ShopRequest, specimen_id: int) -> HttpResponse:
    specimen = _found(specimen_id)
    now = timezone.now()
    room = specimen.run.batch.room
    form = ResultForm(
        posted(request), shop=request.shop, now=now, room=room if room.in_use else None
    )
    if form.is_bound and form.is_valid():
        typed: dict[str, Any] = form.cleaned_data
        try:
            test = service.break_specimen(
                specimen_id=specimen.pk,
                strength_mpa=typed["strength"],
                tested_at=typed["tested_at"],
                celsius=typed["celsius"],
                room=typed["room"],
                note=typed["note"],
                client_key=typed["client_key"],
                by=request.user,
                now=now,
            )
        except Refused as refusal:
            form.refuse(refusal)
        else:
            said = _("%(label)s: %(strength)s at %(age)s is entered among the mix's tests.") % {
                "label": specimen.label,
                "strength": measures.words(test.strength_mpa, "strength", request.shop),
                "age": measures.hours_words(test.age_hours),
            }
            messages.success(request, said)
            return redirect("specimens")
    context = {
        "door": "floor",
        "specimen": specimen,
        "form": form,
        "broken": service.is_broken(specimen),
        "water_in": service.water_in_of(specimen.run),
    }
    return render(request, "mixing/specimen.html", context, status=422 if form.is_bound else 200)


@needs("mixing.weigh")
@require_POST
def lose(request: ShopRequest, specimen_id: int) -> HttpResponse:
    """With a reason it is lost; without one it was found again."""
    specimen = _found(specimen_id)
    because = request.POST.get("because", "").strip()
    if not because and not specimen.lost_because:
        messages.error(request, _("Write what became of it."))
        return redirect("specimen", specimen.pk)
    try:
        service.lose_specimen(specimen_id=specimen.pk, because=because)
    except Refused as refusal:
        messages.error(request, refusal.message)
        return redirect("specimen", specimen.pk)
    said = _("%(label)s is written down as lost.") if because else _("%(label)s waits again.")
    messages.success(request, said % {"label": specimen.label})
    return redirect("specimens")


def _found(specimen_id: int) -> Specimen:
    specimen = service.specimen_with_causes(specimen_id)
    if specimen is None:
        raise Http404
    return specimen
