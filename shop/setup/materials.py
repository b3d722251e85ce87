"""Mixes and sealers."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from curing.yield_check import DENSITY_TOLERANCE
from shop.access import needs
from shop.forms import ShopModelForm
from shop.http import ShopRequest, posted
from shop.limit_words import in_words
from shop.models import Mix, Sealer
from shop.services import materials, recipes, rows
from shop.services.limits import notes_of_mix
from shop.services.unit_weights import unit_weights_of
from shop.setup import pages, recipe_words
from shop.setup.strength_words import band_heading, band_note
from shop.setup.work_forms import MixForm, SealerForm


@needs("setup.see")
@require_safe
def mixes(request: ShopRequest) -> HttpResponse:
    listed = [(mix, _tables(mix)) for mix in Mix.objects.order_by("-in_use", "name")]
    return pages.show(request, "setup/mixes.html", {"mixes": listed})


@needs("setup.change")
@require_http_methods(["GET", "HEAD", "POST"])
def mix(request: ShopRequest, mix_id: int | None = None) -> HttpResponse:
    instance = get_object_or_404(Mix, pk=mix_id) if mix_id else Mix()
    name = instance.name
    form = MixForm(posted(request), shop=request.shop, instance=instance)
    stored = _stored(mix_id)
    context = {"mix_id": mix_id, "name": name, **_tables(stored)}
    if stored:
        notes = notes_of_mix(stored, now=timezone.now(), shop=request.shop)
        context["limits"] = in_words(notes, request.shop)
        context |= _cast_of(stored, request)
    if "look" in request.POST:
        # Only look: the tables of the figures as typed, with nothing saved.
        good = form.is_valid()
        if good:
            context |= _tables(materials.as_typed(form.instance, stored)) | {"looking": True}
        return pages.show(
            request, "setup/mix.html", {"form": form, **context}, 200 if good else 422
        )

    def save(form: ShopModelForm) -> Mix:
        return materials.save_mix(mix_id=mix_id, version=form.own_version, values=form.values)

    return pages.edit(
        request,
        form=form,
        save=save,
        template="setup/mix.html",
        context=context,
        done=lambda mix: pages.saved(
            request, _("%(name)s saved.") % {"name": mix.name}, "mix", mix.pk
        ),
    )


def _stored(mix_id: int | None) -> Mix | None:
    # The form's own instance takes on what was typed.
    return Mix.objects.get(pk=mix_id) if mix_id else None


def _cast_of(mix: Mix, request: ShopRequest) -> dict[str, object]:
    """Its recipe and the unit weights that were measured of its runs."""
    current = recipes.current_recipe(mix)
    return {
        "stored": mix,
        "current": current,
        "recipe": recipe_words.shown(current, request.shop) if current else None,
        "unit_weights": unit_weights_of(mix),
        "tolerance": recipe_words.percent_words(DENSITY_TOLERANCE),
    }


def _tables(mix: Mix | None) -> dict[str, object]:
    mix = mix or Mix()
    return {
        "strengths": materials.strengths(mix),
        "warmth": materials.hours_like_16_at_20(mix),
        "is_placeholder": mix.placeholder,
        "band_heading": band_heading(mix),
        "band_note": band_note(mix),
    }


@needs("setup.change")
@require_POST
def delete_mix(request: ShopRequest, mix_id: int) -> HttpResponse:
    get_object_or_404(Mix, pk=mix_id)

    def act() -> str:
        return _("%(name)s is deleted.") % {"name": materials.delete_mix(mix_id)}

    return pages.try_it(request, act, "mixes")


@needs("setup.see")
@require_safe
def sealers(request: ShopRequest) -> HttpResponse:
    listed = Sealer.objects.order_by("-in_use", "name")
    return pages.show(request, "setup/sealers.html", {"sealers": listed})


@needs("setup.change")
@require_http_methods(["GET", "HEAD", "POST"])
def sealer(request: ShopRequest, sealer_id: int | None = None) -> HttpResponse:
    instance = get_object_or_404(Sealer, pk=sealer_id) if sealer_id else Sealer()
    name = instance.name

    def save(form: ShopModelForm) -> Sealer:
        return materials.save_sealer(
            sealer_id=sealer_id, version=form.own_version, values=form.values
        )

    return pages.edit(
        request,
        form=SealerForm(posted(request), shop=request.shop, instance=instance),
        save=save,
        template="setup/sealer.html",
        context={"sealer_id": sealer_id, "name": name},
        done=lambda sealer: pages.saved(
            request, _("%(name)s saved.") % {"name": sealer.name}, "sealers"
        ),
    )


@needs("setup.change")
@require_POST
def delete_sealer(request: ShopRequest, sealer_id: int) -> HttpResponse:
    get_object_or_404(Sealer, pk=sealer_id)

    def act() -> str:
        return _("%(name)s is deleted.") % {"name": rows.delete(Sealer, sealer_id)}

    return pages.try_it(request, act, "sealers")
