"""Customers: found, new, changed."""

from __future__ import annotations

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from jobs.models import Customer
from jobs.office.forms import CustomerForm
from jobs.office.pages import FORM_METHODS, edit, press, said, show
from jobs.services import orders
from jobs.services.finding import find_customers
from shop.access import needs
from shop.forms import ShopModelForm
from shop.http import ShopRequest

A_PAGE = 60


@needs("customers.see")
@require_safe
def customers(request: ShopRequest) -> HttpResponse:
    text = request.GET.get("q", "").replace("\x00", "").strip()[:80]
    page = Paginator(find_customers(text), A_PAGE).get_page(request.GET.get("page"))
    template = "office/_customers.html" if request.htmx else "office/customers.html"
    return show(request, template, {"page": page, "q": text})


@needs("customers.change")
@require_http_methods(FORM_METHODS)
def new_customer(request: ShopRequest) -> HttpResponse:
    form = CustomerForm(request.POST or None, shop=request.shop)
    if request.method == "POST" and form.is_valid():
        customer = orders.save_customer(values=form.values)
        message = _("%(name)s is written down.") % {"name": customer.name}
        return said(request, message, "customer", customer.pk)
    status = 422 if request.method == "POST" else 200
    return show(request, "office/customer.html", {"form": form}, status)


@needs("customers.change")
@require_http_methods(FORM_METHODS)
def customer(request: ShopRequest, customer_id: int) -> HttpResponse:
    known = get_object_or_404(Customer, pk=customer_id)

    def save(form: ShopModelForm) -> Customer:
        return orders.save_customer(
            values=form.values, customer_id=known.pk, version=form.own_version
        )

    return edit(
        request,
        form=CustomerForm(
            request.POST or None,
            shop=request.shop,
            instance=get_object_or_404(Customer, pk=customer_id),
        ),
        save=save,
        template="office/customer.html",
        done=lambda saved: said(
            request, _("%(name)s is saved.") % {"name": saved.name}, "customer", saved.pk
        ),
        context={"customer": known, "jobs": known.jobs.order_by("-taken_on", "-pk")[:100]},
    )


@needs("customers.change")
@require_POST
def delete(request: ShopRequest, customer_id: int) -> HttpResponse:
    known = get_object_or_404(Customer, pk=customer_id)

    def act() -> str:
        name = orders.delete_customer(customer_id=known.pk)
        return _("%(name)s is deleted.") % {"name": name}

    return press(request, act, to=("customers",), refused=("customer", known.pk))
