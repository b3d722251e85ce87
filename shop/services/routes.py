"""Routes and their steps. A step's key never changes: marks hold on to it."""

from __future__ import annotations

import re
from typing import Any

from django.db import transaction
from django.utils.text import slugify
from django.utils.translation import gettext as _

from shop.models import Route, RouteStep, StepKind
from shop.services import rows
from shop.services.changed import note_change
from shop.services.errors import Refused

KEY_LENGTH = 30
MOST_STEPS = 24
DRYING = ("drying_rule", "moisture_target", "weigh_percent")


@transaction.atomic
def add_route(*, values: dict[str, Any], like: Route | None = None) -> Route:
    """A new route begins with its cast, or as a copy of another's steps and drying."""
    drying = {name: getattr(like, name) for name in DRYING} if like else {}
    route = rows.add(Route, drying | values)
    steps = list(like.steps.all()) if like else [first_cast()]
    for place, step in enumerate(steps, start=1):
        step.pk, step.route, step.place = None, route, place
    RouteStep.objects.bulk_create(steps)
    return route


def first_cast() -> RouteStep:
    return RouteStep(key="cast", kind=StepKind.CAST, name=_("cast"), people=2)


def save_route(*, route_id: int, version: int, values: dict[str, Any]) -> Route:
    return rows.change(Route, route_id, version, values)


@transaction.atomic
def add_step(*, route_id: int, values: dict[str, Any]) -> RouteStep:
    route = Route.objects.select_for_update().get(pk=route_id)
    steps = list(route.steps.all())
    if len(steps) >= MOST_STEPS:
        raise Refused(_("A route has at most %(count)d steps.") % {"count": MOST_STEPS})
    step = RouteStep(route=route, place=len(steps) + 1, key=new_key(values["name"], steps))
    for name, value in values.items():
        setattr(step, name, value)
    _in_order([*steps, step])
    step.save()
    _changed(route)
    return step


@transaction.atomic
def save_step(*, step_id: int, version: int, values: dict[str, Any]) -> RouteStep:
    """`version` is the route's: its steps are one text."""
    step = RouteStep.objects.get(pk=step_id)
    route = rows.locked(Route, step.route_id, version, {})
    step.refresh_from_db()
    if values.get("kind", step.kind) != step.kind and marked(step):
        raise Refused(
            _("Pieces are marked at this step, so its kind stays. Add another step instead."),
            field="kind",
        )
    for name, value in values.items():
        setattr(step, name, value)
    _in_order([step if other.pk == step.pk else other for other in route.steps.all()])
    step.save()
    _changed(route)
    return step


@transaction.atomic
def move_step(*, step_id: int, up: bool) -> None:
    step, route = _step_and_route(step_id)
    steps = list(route.steps.all())
    here = next(n for n, other in enumerate(steps) if other.pk == step.pk)
    there = here - 1 if up else here + 1
    if not 0 <= there < len(steps):
        return
    steps[here], steps[there] = steps[there], steps[here]
    _in_order(steps)
    _number(steps)
    _changed(route)


@transaction.atomic
def delete_step(*, step_id: int) -> str:
    step, route = _step_and_route(step_id)
    if step.kind == StepKind.CAST:
        raise Refused(_("Every route has its cast."))
    if marked(step):
        raise Refused(
            _("Pieces are marked at %(name)s, so it stays. Copy the route and leave it out there.")
            % {"name": step.name}
        )
    name = step.name
    rest = [other for other in route.steps.all() if other.pk != step.pk]
    _in_order(rest)
    step.delete()
    _number(rest)
    _changed(route)
    return name


def _step_and_route(step_id: int) -> tuple[RouteStep, Route]:
    step = RouteStep.objects.get(pk=step_id)
    route = Route.objects.select_for_update().get(pk=step.route_id)
    step.refresh_from_db()  # another move may have come first
    return step, route


def marked(step: RouteStep) -> bool:
    """Whether any piece was ever marked here, struck marks included."""
    return any(stands_for(step, key) for key in marked_keys(step.route))


def marked_keys(route: Route) -> set[str]:
    # The pieces belong to the work, which this package does not import.
    keys = route.pieces.values_list("marks__step_key", flat=True).distinct()
    return {key for key in keys if key}


def stands_for(step: RouteStep, mark_key: str) -> bool:
    """A coat step is marked coat by coat: `seal-1`, `seal-2`."""
    if step.kind == StepKind.COAT:
        return re.fullmatch(rf"{re.escape(step.key)}-\d+", mark_key) is not None
    return mark_key == step.key


def new_key(name: str, steps: list[RouteStep]) -> str:
    """From the name, unlike every other key of the route and every coat's."""
    taken = {step.key for step in steps}
    stem = re.sub(r"-\d+$", "", slugify(name)[: KEY_LENGTH - 4]).strip("-") or "step"
    key, number = stem, 1
    while key in taken:
        # A letter, since `seal-2` would read as the second coat of `seal`.
        key, number = f"{stem}-{chr(ord('a') + number)}", number + 1
    return key


def _in_order(steps: list[RouteStep]) -> None:
    casts = [n for n, step in enumerate(steps) if step.kind == StepKind.CAST]
    if casts != [0]:
        raise Refused(_("A route has exactly one cast, and it comes first."), field="kind")
    coats = [n for n, step in enumerate(steps) if step.kind == StepKind.COAT]
    if len(coats) > 1:
        raise Refused(
            _("One coat step stands for all coats of the piece's sealer. There is one already."),
            field="kind",
        )
    early = [s.name for s in steps[: coats[0] if coats else None] if s.after_sealer_cure]
    if early:
        raise Refused(
            _("%(name)s waits for the sealer to cure, so it comes after the seal coats.")
            % {"name": early[0]},
            field="after_sealer_cure",
        )
    _drying_has_wetting(steps)


def _drying_has_wetting(steps: list[RouteStep]) -> None:
    """Drying counts from the last wetting; after the coats nothing dries any more."""
    coat = next((n for n, step in enumerate(steps) if step.kind == StepKind.COAT), len(steps))
    late = [s.name for n, s in enumerate(steps) if n > coat and s.drying_hours]
    if late:
        raise Refused(
            _("%(name)s waits for drying after the seal coats. Put the drying on the coat step.")
            % {"name": late[0]},
            field="drying_hours",
        )


def _number(steps: list[RouteStep]) -> None:
    for place, step in enumerate(steps, start=1):
        step.place = place
    RouteStep.objects.bulk_update(steps, ["place"])


def _changed(route: Route) -> None:
    route.version += 1
    route.save(update_fields=["version"])
    note_change("route changed")
