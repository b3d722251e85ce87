"""A batch on record: its page, its paper, and the record of each of its runs."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from jobs.mixing.record_forms import PhotoForm, RunRecordForm, SpecimenForm
from jobs.mixing.record_sheet import record_pdf
from jobs.mixing.record_words import RecordPage, dew_basis
from jobs.models import MixerRun
from jobs.services.batch_record import BatchRecord, batch_record
from jobs.services.errors import Conflict, Refused
from jobs.services.run_record import FIELDS, air_offered, save_record, water_into
from jobs.services.specimens import proposed_labels
from shop.access import needs
from shop.http import ShopRequest, posted
from shop.printed import printed

PROPOSED = 3  # specimens, where nobody says how many


@needs("mixing.see")
@never_cache
@require_safe
def record(request: ShopRequest, batch_id: int) -> HttpResponse:
    return record_page(request, batch_id)


def record_page(
    request: ShopRequest, batch_id: int, photo: PhotoForm | None = None, status: int = 200
) -> HttpResponse:
    found = _found(request, batch_id)
    context = {
        "door": "floor",
        "page": RecordPage(found, request.shop, request.user, timezone.now()),
        "record": found,
        "batch": found.batch,
        "photo_form": photo or PhotoForm(shop=request.shop),
        "photo_action": reverse("batch-photo", args=[batch_id]),
        "dew_basis": dew_basis(request.shop),
    }
    return render(request, "mixing/record.html", context, status=status)


def _found(request: ShopRequest, batch_id: int) -> BatchRecord:
    found = batch_record(batch_id, now=timezone.now(), shop=request.shop)
    if found is None:
        raise Http404
    return found


@needs("mixing.see")
@never_cache
@require_safe
def paper(request: ShopRequest, batch_id: int) -> HttpResponse:
    found = _found(request, batch_id)
    page = RecordPage(found, request.shop, request.user, timezone.now())
    return printed(request, f"cast-{batch_id}-record", lambda: record_pdf(page))


@needs("mixing.weigh")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def run(request: ShopRequest, run_id: int) -> HttpResponse:
    """What the crew writes down of a run, and the specimens it casts from it."""
    return run_page(request, run_id)


def run_page(
    request: ShopRequest, run_id: int, specimen: SpecimenForm | None = None
) -> HttpResponse:
    found = loaded_run(run_id)
    status = 200 if specimen is None else 422
    form = _run_form(request, found, None if specimen else posted(request))
    if form.is_bound:
        status = 422
        if form.is_valid():
            try:
                save_record(
                    run_id=found.pk, version=form.own_version, values=form.values, by=request.user
                )
            except Conflict as conflict:
                form.meet(conflict, _stands(found.pk))
                status = 409
            except Refused as refusal:
                form.refuse(refusal)
            else:
                said = _("The record of run %(number)d is saved.") % {"number": found.number}
                messages.success(request, said)
                return redirect(reverse("batch-record", args=[found.batch_id]) + f"#run-{run_id}")
    context = {
        "door": "floor",
        "run": found,
        "batch": found.batch,
        "form": form,
        "specimen_form": specimen or _specimen_form(request, found),
    }
    return render(request, "mixing/run_record.html", context, status=status)


def loaded_run(run_id: int) -> MixerRun:
    related = MixerRun.objects.select_related("batch__mix", "batch__room", "recorded_by")
    found = related.prefetch_related("weighed", "specimens").filter(pk=run_id).first()
    if found is None:
        raise Http404
    return found


def _run_form(request: ShopRequest, found: MixerRun, data: Any) -> RunRecordForm:
    water_in = water_into(found)
    air = air_offered(found.batch.room, water_in or found.opened_at)
    return RunRecordForm(data, instance=found, shop=request.shop, water_in=water_in, air=air)


def _stands(run_id: int) -> dict[str, Any]:
    row = MixerRun.objects.get(pk=run_id)
    return {name: getattr(row, name) for name in FIELDS}


def _specimen_form(request: ShopRequest, found: MixerRun) -> SpecimenForm:
    labels = proposed_labels(found, PROPOSED, (row.label for row in found.specimens.all()))
    return SpecimenForm(shop=request.shop, initial={"labels": ", ".join(labels)})
