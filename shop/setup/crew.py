"""Who the plan puts to work: what each can do, on which days, and when they are away."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from shop.access import needs
from shop.forms import ShopModelForm
from shop.http import ShopRequest, posted
from shop.models import Absence, Worker, works
from shop.services import crew as service
from shop.services.errors import Refused
from shop.setup import pages
from shop.setup.crew_forms import AbsenceForm, StationsForm, WorkerForm
from shop.setup.crew_words import weekdays_words, works_words


@dataclass(frozen=True)
class Line:
    worker: Worker
    can: str
    days: str
    away: list[Absence]
    resting: str  # why the plan leaves them out


@needs("setup.see")
@require_safe
def crew(request: ShopRequest) -> HttpResponse:
    today = timezone.localdate()
    listed = Worker.objects.select_related("account").order_by("-in_use", "name")
    lines = [_line(worker) for worker in service.with_absences(listed, today)]
    planned = service.planned_people(since=today)
    context = {
        "lines": lines,
        "planned": planned,
        "names": ", ".join(hand.name for hand in planned.hands),
        "nobody_can": _nobody_can(planned.hands),
        "not_entered": list(service.accounts_not_entered()),
    }
    return pages.show(request, "setup/crew.html", context)


def _line(worker: Worker) -> Line:
    resting = ""
    if not worker.in_use:
        resting = _("out of use")
    elif worker.account is not None and not worker.account.is_active:
        resting = _("not planned: the account was removed")
    return Line(
        worker, works_words(worker.works), weekdays_words(worker.weekdays),
        list(worker.absences.all()), resting,
    )  # fmt: skip


def _nobody_can(hands: Iterable[service.Hand]) -> str:
    can = {work for hand in hands for work in hand.works}
    return ", ".join(str(said) for key, said in works() if can and key not in can)


@needs("setup.change")
@require_http_methods(["GET", "HEAD", "POST"])
def worker(request: ShopRequest, worker_id: int | None = None) -> HttpResponse:
    instance = get_object_or_404(Worker, pk=worker_id) if worker_id else Worker()
    away = AbsenceForm(shop=request.shop)
    context = _worker_context(instance, away)

    def save(form: ShopModelForm) -> Worker:
        return service.save_worker(
            worker_id=worker_id, version=form.own_version, values=form.values
        )

    return pages.edit(
        request,
        form=WorkerForm(posted(request), shop=request.shop, instance=instance),
        save=save,
        template="setup/worker.html",
        context=context,
        done=lambda worker: pages.saved(
            request, _("%(name)s saved.") % {"name": worker.name}, "crew"
        ),
    )


def _worker_context(worker: Worker, away: AbsenceForm) -> dict[str, Any]:
    today = timezone.localdate()
    ahead = worker.absences.filter(last_day__gte=today) if worker.pk else ()
    return {"worker_id": worker.pk, "name": worker.name, "absences": ahead, "away": away}


@needs("setup.change")
@require_POST
def add_absence(request: ShopRequest, worker_id: int) -> HttpResponse:
    worker = get_object_or_404(Worker, pk=worker_id)
    away = AbsenceForm(request.POST, shop=request.shop)
    if away.is_valid():
        try:
            service.add_absence(worker_id=worker_id, **away.absence)
        except Refused as refusal:
            away.refuse(refusal)
        else:
            said = _("The plan leaves %(name)s out on these days.") % {"name": worker.name}
            return pages.saved(request, said, "worker", worker_id)
    form = WorkerForm(shop=request.shop, instance=worker)
    context = {"form": form, **_worker_context(worker, away)}
    return pages.show(request, "setup/worker.html", context, 422)


@needs("setup.change")
@require_POST
def remove_absence(request: ShopRequest, absence_id: int) -> HttpResponse:
    absence = get_object_or_404(Absence.objects.select_related("worker"), pk=absence_id)
    service.remove_absence(absence_id=absence_id)
    said = _("%(name)s is there on these days.") % {"name": absence.worker.name}
    return pages.saved(request, said, "worker", absence.worker_id)


@needs("setup.change")
@require_POST
def delete_worker(request: ShopRequest, worker_id: int) -> HttpResponse:
    get_object_or_404(Worker, pk=worker_id)

    def act() -> str:
        return _("%(name)s is deleted.") % {"name": service.delete_worker(worker_id=worker_id)}

    return pages.try_it(request, act, "crew")


@needs("setup.change")
@require_POST
def enter_accounts(request: ShopRequest) -> HttpResponse:
    def act() -> str:
        count = service.enter_accounts()
        return ngettext("%(n)d person is entered.", "%(n)d people are entered.", count) % {
            "n": count
        }

    return pages.try_it(request, act, "crew")


@needs("setup.change")
@require_http_methods(["GET", "HEAD", "POST"])
def stations(request: ShopRequest) -> HttpResponse:
    def save(form: ShopModelForm) -> Any:
        return service.save_stations(version=form.own_version, values=form.values)

    return pages.edit(
        request,
        form=StationsForm(posted(request), shop=request.shop, instance=service.stations()),
        save=save,
        template="setup/stations.html",
        done=lambda _row: pages.saved(request, _("Stations saved."), "stations"),
    )
