"""The casting tables."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from shop.access import needs
from shop.forms import ShopModelForm
from shop.http import ShopRequest, posted
from shop.models import CastingTable, Room
from shop.services import tables as service
from shop.setup import pages
from shop.setup.shop_forms import TableForm


@needs("setup.see")
@require_safe
def tables(request: ShopRequest) -> HttpResponse:
    listed = CastingTable.objects.select_related("room").order_by("-in_use", "name")
    context = {"tables": listed, "has_rooms": Room.objects.exists()}
    return pages.show(request, "setup/tables.html", context)


@needs("setup.change")
@require_http_methods(["GET", "HEAD", "POST"])
def table(request: ShopRequest, table_id: int | None = None) -> HttpResponse:
    instance = get_object_or_404(CastingTable, pk=table_id) if table_id else CastingTable()
    name = instance.name

    def save(form: ShopModelForm) -> CastingTable:
        return service.save_table(table_id=table_id, version=form.own_version, values=form.values)

    return pages.edit(
        request,
        form=TableForm(posted(request), shop=request.shop, instance=instance),
        save=save,
        template="setup/table.html",
        context={"table_id": table_id, "name": name},
        done=lambda table: pages.saved(
            request, _("%(name)s saved.") % {"name": table.name}, "tables"
        ),
    )


@needs("setup.change")
@require_POST
def delete_table(request: ShopRequest, table_id: int) -> HttpResponse:
    get_object_or_404(CastingTable, pk=table_id)

    def act() -> str:
        return _("%(name)s is deleted.") % {"name": service.delete_table(table_id=table_id)}

    return pages.try_it(request, act, "tables")
