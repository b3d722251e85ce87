"""A cast's runs at the desk: seen, opened, ticked off, struck."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from jobs.mixing.forms import MoistureForm, StrikeForm
from jobs.mixing.run_cards import Looker, RunCard, cards_of
from jobs.models import Batch, MixerRun, Weighed
from jobs.services import mixing
from jobs.services.casts_ahead import is_cast, to_prepare
from jobs.services.errors import Conflict, Refused
from jobs.services.mixing import CastRuns, casts_runs, moisture_of_day, with_runs
from jobs.services.ticks import strike_tick, tick
from jobs.services.weigh_sheets import shown_lines, usual_lots
from shop.access import may, needs
from shop.cautions import AT_MIXER
from shop.http import ShopRequest


@needs("mixing.see")
@never_cache
@require_safe
def cast_runs(request: ShopRequest, batch_id: int) -> HttpResponse:
    return _page(request, _batch(batch_id), None)


@needs("mixing.weigh")
@require_POST
def open_run(request: ShopRequest, batch_id: int) -> HttpResponse:
    batch = _batch(batch_id)
    form = _moisture_form(request, batch, request.POST)
    number = _number(request.POST.get("number", ""))
    if not form.is_valid():
        return _page(request, batch, form, status=422)
    if "show" in request.POST:
        return _page(request, batch, form)
    try:
        run = mixing.open_run(
            batch_id=batch.pk,
            number=number,
            moisture=form.moisture,
            by=request.user,
            client_key=form.key_for(number),
            seal=request.POST.get(f"seal-{number}", "")[:40],
        )
    except Conflict as conflict:
        form.refuse(conflict)
        return _page(request, _batch(batch_id), form, status=409)
    except Refused as refusal:
        form.refuse(refusal)
        return _page(request, _batch(batch_id), form, status=422)
    messages.success(request, f"Run {run.number} is opened. Its sheet is kept as it is now.")
    return _to_run(run)


@needs("mixing.weigh")
@require_POST
def tick_line(request: ShopRequest, run_id: int) -> HttpResponse:
    run = _run(run_id)
    looker = _looker(request, [run])
    card = RunCard(run, looker)
    key = request.POST.get("line", "")
    found = [(place, row) for place, row in enumerate(card.lines) if row.key == key]
    if not found:
        messages.error(request, "That line is not on the sheet of this run. Look at it again.")
        return _page(request, _batch(run.batch_id), None, card, status=422)
    place, line = found[0]
    form = card.tick_form(place, line, data=request.POST)
    if form.is_valid():
        try:
            made = tick(
                run_id=run.pk,
                line=key,
                kg=form.cleaned_data["weight"],
                lot=form.cleaned_data["lot"],
                by=request.user,
                client_key=form.cleaned_data["client_key"],
                sure=form.cleaned_data["sure"],
            )
        except Refused as refusal:
            form.refuse(refusal)
        else:
            said = f"Kept: {line.name}, {line.scale.words(made.kg)}."
            return _ticked(request, run, said)
    refused = RunCard(run, looker, forms={key: form})
    if request.htmx:
        return render(request, "mixing/run.html", {"card": refused}, status=422)
    return _page(request, _batch(run.batch_id), None, refused, status=422)


@needs("mixing.weigh")
@require_POST
def take_back_tick(request: ShopRequest, weighed_id: int) -> HttpResponse:
    row = get_object_or_404(Weighed.objects.select_related("run"), pk=weighed_id)
    try:
        strike_tick(weighed_id=row.pk, by=request.user)
        said = f"Taken back: {row.line}."
    except Refused as refusal:
        said = refusal.message
    return _ticked(request, row.run, said)


@needs("mixing.weigh")
@require_POST
def strike_run(request: ShopRequest, run_id: int) -> HttpResponse:
    run = _run(run_id)
    form = StrikeForm(request.POST, shop=request.shop, auto_id=f"strike-{run.pk}-%s")
    if form.is_valid():
        try:
            mixing.strike_run(run_id=run.pk, because=form.cleaned_data["because"], by=request.user)
        except Refused as refusal:
            form.refuse(refusal)
        else:
            messages.success(
                request, f"Run {run.number} is struck. What it was to give is planned again below."
            )
            return HttpResponseRedirect(reverse("cast-runs", args=[run.batch_id]))
    card = RunCard(run, _looker(request, [run]), strike_form=form)
    return _page(request, _batch(run.batch_id), None, card, status=422)


def _ticked(request: ShopRequest, run: MixerRun, said: str) -> HttpResponse:
    if request.htmx:
        fresh = _run(run.pk)
        card = RunCard(fresh, _looker(request, [fresh]), said=said)
        return render(request, "mixing/run.html", {"card": card})
    messages.success(request, said)
    return _to_run(run)


def _to_run(run: MixerRun) -> HttpResponseRedirect:
    return HttpResponseRedirect(f"{reverse('cast-runs', args=[run.batch_id])}#run-{run.pk}")


def _page(
    request: ShopRequest,
    batch: Batch,
    form: MoistureForm | None,
    changed: RunCard | None = None,
    *,
    status: int = 200,
) -> HttpResponse:
    form = form or _moisture_form(request, batch, None)
    typed = form.moisture if form.is_bound and form.is_valid() else None
    runs = casts_runs([batch], typed)[0]
    if form.is_bound and form.errors and status == 200:
        status = 422
    context: dict[str, Any] = {
        "door": "mixing",
        "runs": runs,
        "cards": cards_of(runs, _looker(request, runs.opened, runs), changed),
        "form": form,
        "is_cast": is_cast(batch) and bool(runs.pieces),
        "to_prepare": to_prepare([runs]),
        "cautions": AT_MIXER,
        "may_weigh": may(request.user, "mixing.weigh"),
    }
    return render(request, "mixing/cast.html", context, status=status)


def _moisture_form(request: ShopRequest, batch: Batch, data: Any) -> MoistureForm:
    runs = casts_runs([batch], {})[0]
    today = moisture_of_day(timezone.now(), request.shop)
    return MoistureForm(data, shop=request.shop, grains=runs.grains, today=today)


def _looker(request: ShopRequest, opened: Any, runs: CastRuns | None = None) -> Looker:
    keys = {line.key for run in opened for line in shown_lines(run, request.shop)}
    return Looker(
        person=request.user,
        shop=request.shop,
        now=timezone.now(),
        may_weigh=may(request.user, "mixing.weigh"),
        lots=usual_lots(keys) if keys else {},
    )


def _batch(batch_id: int) -> Batch:
    batch = with_runs(Batch.objects.filter(pk=batch_id)).first()
    if batch is None:
        raise Http404
    return batch


def _run(run_id: int) -> MixerRun:
    related = MixerRun.objects.select_related("recipe__mix", "opened_by", "struck_by", "batch")
    return get_object_or_404(related.prefetch_related("weighed__by"), pk=run_id)


def _number(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 5 else 0
