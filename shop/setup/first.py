"""The shop's first page and its settings."""

from __future__ import annotations

import zoneinfo

from django.http import Http404, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from shop.access import needs
from shop.forms import ShopModelForm
from shop.http import ShopRequest, posted
from shop.models import (
    CastingTable,
    ClosedDay,
    ExtraHours,
    Mix,
    Person,
    Room,
    Route,
    Sealer,
    Shop,
    WorkingHours,
)
from shop.services import crew
from shop.services.setup import save_shop
from shop.setup import pages
from shop.setup.forms import SettingsForm
from shop.setup.shop_forms import GroupedForm, MixingForm, WaysForm, WordsForm

PARTS: dict[str, tuple[type[GroupedForm], str]] = {
    "ways": (WaysForm, "setup/settings_ways.html"),
    "mixing": (MixingForm, "setup/settings_mixing.html"),
    "words": (WordsForm, "setup/settings_words.html"),
}


@needs("setup.see")
@require_safe
def setup(request: ShopRequest) -> HttpResponse:
    context = {
        "counts": {
            "rooms": Room.objects.filter(in_use=True).count(),
            "tables": CastingTable.objects.filter(in_use=True).count(),
            "mixes": Mix.objects.filter(in_use=True).count(),
            "placeholders": Mix.objects.filter(in_use=True, placeholder=True).count(),
            "sealers": Sealer.objects.filter(in_use=True).count(),
            "routes": Route.objects.filter(in_use=True).count(),
            "people": Person.objects.filter(is_active=True).count(),
            "hours": WorkingHours.objects.count(),
            "extra": ExtraHours.objects.filter(day__gte=timezone.localdate())
            .values("day")
            .distinct()
            .count(),
            "crew": len(crew.planned_workers(timezone.localdate())),
            "closed": ClosedDay.objects.filter(
                day__gte=timezone.localdate(), open_anyway=False
            ).count(),
        },
        "stations": crew.stations(),
    }
    return pages.show(request, "setup/first.html", context)


@needs("setup.change")
@require_http_methods(["GET", "HEAD", "POST"])
def settings(request: ShopRequest) -> HttpResponse:
    shop = Shop.objects.get(pk=1)

    def save(form: ShopModelForm) -> Shop:
        return save_shop(version=form.own_version, values=form.values)

    return pages.edit(
        request,
        form=SettingsForm(posted(request), shop=request.shop, instance=shop),
        save=save,
        template="setup/settings.html",
        context={"zones": sorted(zone for zone in zoneinfo.available_timezones() if "/" in zone)},
        done=lambda shop: pages.saved(request, _("Settings saved."), "settings"),
    )


@needs("setup.change")
@require_http_methods(["GET", "HEAD", "POST"])
def settings_part(request: ShopRequest, part: str) -> HttpResponse:
    """What the settings' first page has no room for, a page each."""
    if part not in PARTS:
        raise Http404(part)
    form_class, template = PARTS[part]

    def save(form: ShopModelForm) -> Shop:
        return save_shop(version=form.own_version, values=form.values)

    instance = Shop.objects.get(pk=1)
    return pages.edit(
        request,
        form=form_class(posted(request), shop=request.shop, instance=instance),
        save=save,
        template=template,
        done=lambda shop: pages.saved(request, _("Settings saved."), "settings-part", part),
    )
