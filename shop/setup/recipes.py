"""A mix's recipe: its versions, changing it, what it would say before it is saved."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from curing.mixture import GRAINS
from curing.moist_sand import stock_weights
from shop import cautions, defaults, measures
from shop.access import needs
from shop.http import ShopRequest
from shop.models import Mix, Recipe
from shop.services import recipes as service
from shop.services.errors import Conflict
from shop.services.recipe_changes import changes
from shop.services.recipe_faults import Fibre, Part, RecipeRefused, faults_of
from shop.services.unit_weights import take_unit_weight
from shop.setup import pages, recipe_words
from shop.setup.recipe_forms import RecipeEditor, ScaleForm


@needs("setup.see")
@require_safe
def recipes(request: ShopRequest, mix_id: int, version: int | None = None) -> HttpResponse:
    """The version in use, or an older one; its weights for a batch; all versions."""
    mix = get_object_or_404(Mix, pk=mix_id)
    versions = list(service.versions_of(mix))
    current = versions[0] if versions else None
    opened = current
    if version is not None:
        opened = next((one for one in versions if one.number == version), None)
        if opened is None:
            raise Http404
    context: dict[str, Any] = {
        "mix": mix,
        "current": current,
        "opened": opened,
        "versions": _with_changes(versions, request),
    }
    status = 200
    if opened is not None:
        context["recipe"] = recipe_words.shown(opened, request.shop)
        context |= _scaled(opened, request)
        status = 422 if context["scaling"].errors else 200
    return pages.show(request, "setup/recipe.html", context, status)


def _with_changes(versions: list[Recipe], request: ShopRequest) -> list[tuple[Recipe, list[str]]]:
    """Newest first, each with what it changed in the one before it."""
    before: list[Recipe | None] = [*versions[1:], None]
    return [
        (one, recipe_words.change_words(changes(old, one), request.shop) if old else [])
        for one, old in zip(versions, before, strict=False)
    ]


def _scaled(recipe: Recipe, request: ShopRequest) -> dict[str, Any]:
    """What to weigh for the weight that is asked for in the address."""
    sands = [part.name for part in service.parts_of(recipe) if part.role in GRAINS]
    data = request.GET if "weight" in request.GET else None
    form = ScaleForm(data, shop=request.shop, sands=sands)
    context: dict[str, Any] = {"scaling": form, "cautions": cautions.AT_MIXER}
    if data is None or not form.is_valid():
        return context
    kg = form.cleaned_data["weight"]
    try:
        mix = service.layer_mix(recipe, form.cleaned_data["layer"])
        weights = stock_weights(mix, kg, form.moisture)
    except ValueError:
        form.add_error(
            None,
            _("The sand would bring more water than the mix adds. Dry it, or take a drier one."),
        )
        return context
    return context | {
        "weigh": recipe_words.weigh_rows(mix, weights, request.shop),
        "weigh_total": recipe_words.on_scale(sum(weights.values()), request.shop.scale_unit),
    }


@needs("setup.change")
@require_http_methods(["GET", "HEAD", "POST"])
def recipe(request: ShopRequest, mix_id: int) -> HttpResponse:
    mix = get_object_or_404(Mix, pk=mix_id)
    current = service.current_recipe(mix)
    if request.method != "POST":
        return _editing(request, mix, current, _opened(request, current))
    if do := request.POST.get("do"):
        editor = RecipeEditor.rearranged(request.shop, request.POST, do)
        return _editing(request, mix, current, editor)
    return _save(request, mix, current, RecipeEditor.posted(request.shop, request.POST))


def _save(
    request: ShopRequest, mix: Mix, current: Recipe | None, editor: RecipeEditor
) -> HttpResponse:
    if not editor.is_valid():
        return _editing(request, mix, current, editor, 422)
    try:
        saved = service.save_recipe(
            mix_id=mix.pk,
            seen_number=editor.seen,
            parts=editor.parts,
            fibre=editor.fibre,
            note=editor.whole.cleaned_data["note"],
            by=request.user,
        )
    except Conflict as conflict:
        theirs = _theirs(mix, editor.seen, conflict.version, request)
        editor.meet(conflict.version)
        more = {"refusal": conflict.message, "theirs": theirs}
        return _editing(request, mix, current, editor, 409, **more)
    except RecipeRefused as refusal:
        editor.tell(refusal.faults)
        return _editing(request, mix, current, editor, 422)
    said = _("Version %(number)d of the recipe is in use.") % {"number": saved.number}
    return pages.saved(request, said, "recipes", mix.pk)


def _opened(request: ShopRequest, current: Recipe | None) -> RecipeEditor:
    parts, fibre, seen = _usual() if current is None else _of(current)
    return RecipeEditor.filled(request.shop, parts, fibre, seen)


def _usual() -> tuple[list[Part], Fibre, int]:
    return (
        [Part(**part) for part in defaults.usual_recipe()],
        Fibre(**defaults.RECIPE_FIBRE),
        0,
    )


def _of(recipe: Recipe) -> tuple[list[Part], Fibre, int]:
    return list(service.parts_of(recipe)), service.fibre_of(recipe), recipe.number


def _theirs(mix: Mix, seen: int, now: int, request: ShopRequest) -> list[str]:
    versions = {one.number: one for one in service.versions_of(mix).filter(number__in=[seen, now])}
    if seen not in versions:
        return []
    return recipe_words.change_words(changes(versions[seen], versions[now]), request.shop)


def _editing(
    request: ShopRequest,
    mix: Mix,
    current: Recipe | None,
    editor: RecipeEditor,
    status: int = 200,
    **more: Any,
) -> HttpResponse:
    context = {
        "mix": mix,
        "current": current,
        "editor": editor,
        "usual": defaults.BASIS if current is None else "",
        **more,
    }
    if request.method == "POST":
        context |= _look_as_typed(mix, request)
    else:
        parts, fibre, _seen = _usual() if current is None else _of(current)
        context |= _look(parts, fibre, mix, request)
    return pages.show(request, "setup/recipe_edit.html", context, status)


@needs("setup.change")
@require_POST
def recipe_look(request: ShopRequest, mix_id: int) -> HttpResponse:
    """The figures of what is typed, with nothing saved."""
    mix = get_object_or_404(Mix, pk=mix_id)
    context = {"mix": mix, **_look_as_typed(mix, request)}
    return pages.show(request, "setup/recipe_look.html", context)


def _look_as_typed(mix: Mix, request: ShopRequest) -> dict[str, Any]:
    editor = RecipeEditor.posted(request.shop, request.POST)
    if not editor.is_valid():
        return {"unfinished": True}
    return _look(editor.parts, editor.fibre, mix, request)


def _look(parts: list[Part], fibre: Fibre, mix: Mix, request: ShopRequest) -> dict[str, Any]:
    if faults := faults_of(parts, fibre):
        return {"look_faults": recipe_words.fault_words(faults, parts)}
    return {"look": recipe_words.shown_parts(parts, fibre, mix.density, request.shop)}


@needs("setup.change")
@require_POST
def recipe_again(request: ShopRequest, mix_id: int, version: int) -> HttpResponse:
    mix = get_object_or_404(Mix, pk=mix_id)
    get_object_or_404(Recipe, mix=mix, number=version)

    def act() -> str:
        saved = service.take_up_again(
            mix_id=mix.pk, number=version, seen_number=_number(request, "seen"), by=request.user
        )
        return _("Version %(new)d is in use, with the parts of version %(old)d.") % {
            "new": saved.number,
            "old": version,
        }

    return pages.try_it(request, act, "recipes", mix.pk)


@needs("setup.change")
@require_POST
def unit_weight(request: ShopRequest, mix_id: int) -> HttpResponse:
    """The owner takes the mean of what was measured."""
    get_object_or_404(Mix, pk=mix_id)

    def act() -> str:
        mix = take_unit_weight(
            mix_id=mix_id,
            version=_number(request, "version"),
            basis=request.POST.get("basis", ""),
        )
        return _("The unit weight is %(weight)s now. Weights and dates that rest on it follow.") % {
            "weight": measures.words(mix.density, "unit_weight", request.shop)
        }

    return pages.try_it(request, act, "mix", mix_id)


def _number(request: ShopRequest, name: str) -> int:
    text = request.POST.get(name, "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else -1
