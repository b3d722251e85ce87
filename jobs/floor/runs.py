"""At the mixer: a cast's runs, a run's weigh sheet, ticks, and water that was added."""

from __future__ import annotations

from functools import partial
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from jobs.floor.answers import attempt, is_kept, kept_refused
from jobs.floor.forms import KeyedForm
from jobs.floor.run_forms import AddedForm, SpoiledForm
from jobs.floor.run_sheets import (
    CastPage,
    Mixing,
    RunSheet,
    cast_page,
    cautions,
    load_run,
    run_sheet,
)
from jobs.models import Batch, MixerRun, Weighed
from jobs.services import ticks
from jobs.services.added_water import added_seen, write_added_water
from jobs.services.errors import Refused
from jobs.services.mixing import AlreadyOpen, open_run, strike_run
from shop.access import needs
from shop.http import ShopRequest
from shop.services.errors import Conflict


@needs("mixing.see")
@require_safe
def cast(request: ShopRequest, batch_id: int) -> HttpResponseBase:
    return _cast_page(request, _cast_or_404(request, batch_id))


@needs("mixing.weigh")
@require_POST
def open_one(request: ShopRequest, batch_id: int, run_number: int) -> HttpResponseBase:
    page = _cast_or_404(request, batch_id)
    card = next((card for card in page.cards if card.number == run_number), None)
    if card is None:
        page = cast_page(_mixing(request), page.batch, notice=_("There is no such run any more."))
        return _cast_page(request, page, 422)
    if card.opened is not None:
        return redirect("floor-run", run_id=card.opened.pk)
    assert card.planned is not None
    form = page.open_form(card.planned, request.POST)
    notice = ""
    if form.is_valid():
        made, error = attempt(
            partial(
                open_run,
                batch_id=batch_id,
                number=run_number,
                moisture=form.moisture,
                by=request.user,
                client_key=form.cleaned_data["client_key"],
                seal=form.cleaned_data["seal"],
            )
        )
        if isinstance(error, AlreadyOpen):
            messages.info(request, error.message)
            return redirect("floor-run", run_id=error.run.pk)
        if error is None:
            return redirect("floor-run", run_id=made.pk)
        if isinstance(error, Conflict):
            notice = error.message
            form.data = form.data.copy()
            form.data["seal"] = card.planned.seal
        else:
            form.refuse(error)
    page = CastPage(page.mixing, page.runs, notice=notice, forms={run_number: form})
    return _cast_page(request, page, 422)


@needs("mixing.see")
@require_safe
def sheet(request: ShopRequest, run_id: int) -> HttpResponseBase:
    page = _sheet_or_404(request, run_id)
    if request.htmx and request.GET.get("have") == page.token:
        return HttpResponse(status=204)
    return _sheet_page(request, page)


@needs("mixing.weigh")
@require_POST
def tick(request: ShopRequest, run_id: int) -> HttpResponseBase:
    page = _sheet_or_404(request, run_id)
    line = page.line(request.POST.get("line", ""))
    if line is None:
        notice = _("This line is not on the sheet of this run. Look at the sheet again.")
        return _refused(request, page, notice, notice=notice)
    form = line.make_form(request.POST)
    if not form.is_valid():
        words = " ".join(str(error) for errors in form.errors.values() for error in errors)
        return _refused(request, page, words, form=form, line_key=line.shown.key, notice=words)
    typed = form.cleaned_data
    made, error = attempt(
        partial(
            ticks.tick,
            run_id=run_id,
            line=line.shown.key,
            kg=line.shown.line.weigh_kg if form.as_wanted else typed["weight"],
            lot=typed["lot"],
            by=request.user,
            at=form.tapped_at,
            client_key=typed["client_key"],
            sure=typed["sure"],
        )
    )
    if error:
        form.refuse(error)
        more: dict[str, Any] = {"form": form, "line_key": line.shown.key, "notice": error.message}
        return _refused(request, page, error.message, error, **more)
    return _done(request, page.run.pk, _ticked(line.name, line.shown.scale.words(made.kg), made))


def _ticked(name: str, amount: str, made: Weighed) -> str:
    facts = {"name": name, "amount": amount}
    if made.struck_at:
        return _("%(name)s, %(amount)s was taken back already.") % facts
    return _("Recorded: %(name)s, %(amount)s.") % facts


@needs("mixing.weigh")
@require_POST
def strike(request: ShopRequest, weighed_id: int) -> HttpResponseBase:
    row = get_object_or_404(Weighed, pk=weighed_id)
    form = KeyedForm(request.POST, shop=request.shop)
    page = _sheet_or_404(request, row.run_id)
    if not form.is_valid():
        return _refused(request, page, _("Press it again."), notice=_("Press it again."))
    _made, error = attempt(partial(ticks.strike_tick, weighed_id=weighed_id, by=request.user))
    if error:
        more: dict[str, Any] = {"line_key": row.line, "notice": error.message}
        return _refused(request, page, error.message, **more)
    name = page.name_of(row.line)
    return _done(request, row.run_id, _("Taken back: %(line)s.") % {"line": name})


@needs("mixing.weigh")
@require_POST
def added(request: ShopRequest, run_id: int) -> HttpResponseBase:
    form = AddedForm(request.POST, shop=request.shop, auto_id="added-%s")
    error: Refused | None = None
    if not MixerRun.objects.filter(pk=run_id).exists():
        raise Http404
    if form.is_valid():
        _made, error = attempt(
            partial(
                write_added_water,
                run_id=run_id,
                version=form.cleaned_data["version"],
                seen=form.cleaned_data["seen"],
                kg=form.cleaned_data["added"],
                why=form.cleaned_data["why"],
                by=request.user,
            )
        )
        if error is None:
            return _done(request, run_id, _("Recorded: what was added."))
        if not isinstance(error, Conflict):
            form.refuse(error)
    return _added_refused(request, run_id, form, error)


def _added_refused(
    request: ShopRequest, run_id: int, form: AddedForm, error: Refused | None
) -> HttpResponseBase:
    page = _sheet_or_404(request, run_id)
    words = error.message if error else _("Not recorded yet: look at what is marked.")
    confirm: dict[str, str] | None = None
    if error is None and is_kept(request):
        words = " ".join(str(one) for errors in form.errors.values() for one in errors)
    if isinstance(error, Conflict):
        stands = page.added_words or _("nothing")
        words += " " + _("What stands now: %(stands)s.") % {"stands": stands}
        confirm = {"version": str(page.run.version), "seen": added_seen(page.run)}
        form.data = form.data.copy()
        form.data.update(confirm)
    return _refused(request, page, words, error, confirm, added=form, added_notice=words)


@needs("mixing.weigh")
@require_POST
def strike_whole(request: ShopRequest, run_id: int) -> HttpResponseBase:
    page = _sheet_or_404(request, run_id)
    form = SpoiledForm(request.POST, shop=request.shop, auto_id="spoiled-%s")
    if not form.is_valid():
        words = " ".join(str(one) for errors in form.errors.values() for one in errors)
        return _refused(request, page, words, strike=form)
    struck, error = attempt(
        partial(strike_run, run_id=run_id, because=form.cleaned_data["because"], by=request.user)
    )
    if error:
        return _refused(request, page, error.message, error, notice=error.message, strike=form)
    return _done(request, run_id, _("Run %(number)d is struck.") % {"number": struck.number})


def _record_of(batch_id: int) -> str:
    return reverse("batch-record", args=[batch_id])


def _mixing(request: ShopRequest) -> Mixing:
    return Mixing(request.user, request.shop, timezone.now())


def _cast_or_404(request: ShopRequest, batch_id: int) -> CastPage:
    batch = Batch.objects.filter(pk=batch_id).first()
    if batch is None:
        raise Http404
    return cast_page(_mixing(request), batch)


def _sheet_or_404(request: ShopRequest, run_id: int, **more: Any) -> RunSheet:
    run: MixerRun | None = load_run(run_id)
    if run is None:
        raise Http404
    return run_sheet(_mixing(request), run, **more)


def _cast_page(request: ShopRequest, page: CastPage, status: int = 200) -> HttpResponse:
    context = {
        "page": page,
        "cautions": cautions(),
        "record": _record_of(page.batch.pk),
        "door": "floor",
    }
    return render(request, "floor/runs.html", context, status=status)


def _sheet_page(
    request: ShopRequest, page: RunSheet, status: int = 200, said: str = ""
) -> HttpResponse:
    template = "floor/_run.html" if request.htmx else "floor/run.html"
    context = {
        "sheet": page,
        "cautions": cautions(),
        "record": _record_of(page.run.batch_id),
        "door": "floor",
        "said": said,
    }
    return render(request, template, context, status=status)


def _done(request: ShopRequest, run_id: int, said: str) -> HttpResponseBase:
    if is_kept(request):
        return JsonResponse({"state": "recorded", "message": said})
    if request.htmx:
        return _sheet_page(request, _sheet_or_404(request, run_id), said=said)
    messages.success(request, said)
    return redirect("floor-run", run_id=run_id)


def _refused(
    request: ShopRequest,
    page: RunSheet,
    words: str,
    error: Refused | None = None,
    confirm: dict[str, str] | None = None,
    **more: Any,
) -> HttpResponseBase:
    if is_kept(request):
        return kept_refused(words, error, confirm)
    return _sheet_page(request, _sheet_or_404(request, page.run.pk, **more), status=422)
