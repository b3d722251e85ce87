"""Routes and their steps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from curing.moisture import ESTIMATE
from shop import cautions
from shop.access import needs
from shop.forms import ShopModelForm
from shop.http import ShopRequest, posted
from shop.models import Mix, Route, RouteStep
from shop.services import routes as service
from shop.services import rows
from shop.services.errors import Refused
from shop.setup import pages
from shop.setup.work_forms import NewRouteForm, RouteForm, StepForm


@dataclass(frozen=True)
class StepRow:
    step: RouteStep
    first: bool
    last: bool
    marked: bool
    cautions: list[cautions.Caution]


@needs("setup.see")
@require_safe
def routes(request: ShopRequest) -> HttpResponse:
    listed = Route.objects.prefetch_related("steps").order_by("-in_use", "name")
    return pages.show(request, "setup/routes.html", {"routes": listed})


@needs("setup.change")
@require_http_methods(["GET", "HEAD", "POST"])
def new_route(request: ShopRequest) -> HttpResponse:
    form = NewRouteForm(posted(request), shop=request.shop)
    if request.method == "POST" and form.is_valid():
        try:
            route = service.add_route(
                values={"name": form.cleaned_data["name"]}, like=form.cleaned_data["like"]
            )
            return pages.saved(request, _("The route is there; now its steps."), "route", route.pk)
        except Refused as refusal:
            form.refuse(refusal)
    status = 422 if form.errors else 200
    return pages.show(request, "setup/new_route.html", {"form": form}, status)


@needs("setup.change")
@require_http_methods(["GET", "HEAD", "POST"])
def route(request: ShopRequest, route_id: int) -> HttpResponse:
    instance = get_object_or_404(Route, pk=route_id)
    name = instance.name

    def save(form: ShopModelForm) -> Route:
        return service.save_route(route_id=route_id, version=form.own_version, values=form.values)

    return pages.edit(
        request,
        form=RouteForm(posted(request), shop=request.shop, instance=instance),
        save=save,
        template="setup/route.html",
        context={"route_id": route_id, "name": name} | _steps_shown(instance) | _drying_shown(),
        done=lambda route: pages.saved(request, _("The route is saved."), "route", route_id),
    )


def _steps_shown(route: Route) -> dict[str, Any]:
    rows = _step_rows(route)
    marked = [row.step.name for row in rows if row.marked]
    return {"rows": rows, "marked": marked, "all_marked": len(marked) == len(rows)}


def _drying_shown() -> dict[str, Any]:
    """The model's dates are an estimate for every mix whose pieces were not weighed dry."""
    mixes = Mix.objects.filter(in_use=True, drying_calibrated=False)
    return {"estimate": ESTIMATE, "uncalibrated": list(mixes.values_list("name", flat=True))}


def _step_rows(route: Route) -> list[StepRow]:
    steps = list(route.steps.all())
    keys = service.marked_keys(route)
    return [
        StepRow(
            step=step,
            first=number <= 1,  # the cast stays first, so the second can't move up
            last=number in (0, len(steps) - 1),
            marked=any(service.stands_for(step, key) for key in keys),
            cautions=cautions.for_step(step.kind),
        )
        for number, step in enumerate(steps)
    ]


@needs("setup.change")
@require_POST
def delete_route(request: ShopRequest, route_id: int) -> HttpResponse:
    get_object_or_404(Route, pk=route_id)

    def act() -> str:
        return _("%(name)s is deleted.") % {"name": rows.delete(Route, route_id)}

    return pages.try_it(request, act, "routes")


@needs("setup.change")
@require_http_methods(["GET", "HEAD", "POST"])
def step(request: ShopRequest, route_id: int, step_id: int | None = None) -> HttpResponse:
    route = get_object_or_404(Route, pk=route_id)
    if step_id:
        instance = get_object_or_404(
            RouteStep.objects.select_related("route"), pk=step_id, route=route
        )
    else:
        instance = RouteStep(route=route, kind="other")
    name = instance.name

    def save(form: ShopModelForm) -> RouteStep:
        if step_id is None:
            return service.add_step(route_id=route_id, values=form.values)
        return service.save_step(step_id=step_id, version=form.own_version, values=form.values)

    form = StepForm(posted(request), shop=request.shop, instance=instance)
    return pages.edit(
        request,
        form=form,
        save=save,
        template="setup/step.html",
        context={
            "route": route,
            "step_id": step_id,
            "name": name,
            "waits": [form[field] for field in form.waits],
            "work": [form[field] for field in form.work],
            "cautions": cautions.for_step(instance.kind, isocyanates=True) if step_id else [],
        },
        done=lambda step: pages.saved(
            request, _("%(name)s saved.") % {"name": step.name}, "route", route_id
        ),
    )


@needs("setup.change")
@require_POST
def move_step(request: ShopRequest, route_id: int, step_id: int) -> HttpResponse:
    moved = get_object_or_404(RouteStep, pk=step_id, route=route_id)
    up = request.POST.get("to") == "up"

    def act() -> str:
        service.move_step(step_id=step_id, up=up)
        return _("%(name)s moved.") % {"name": moved.name}

    return pages.try_it(request, act, "route", route_id)


@needs("setup.change")
@require_POST
def delete_step(request: ShopRequest, route_id: int, step_id: int) -> HttpResponse:
    get_object_or_404(RouteStep, pk=step_id, route=route_id)

    def act() -> str:
        return _("%(name)s is deleted.") % {"name": service.delete_step(step_id=step_id)}

    return pages.try_it(request, act, "route", route_id)
