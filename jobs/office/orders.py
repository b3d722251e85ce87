"""Jobs: new, changed, closed, called off."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from jobs.models import Job
from jobs.office.carried import Carried, carried_pieces
from jobs.office.forms import JobForm, NewCustomerForm, NewJobForm
from jobs.office.letters import day_of
from jobs.office.pages import FORM_METHODS, edit, job_or_404, press, said, show
from jobs.services import orders
from jobs.services.asked import take_on
from shop.access import may, needs
from shop.forms import ShopModelForm
from shop.http import ShopRequest
from shop.services.errors import Refused


@needs("jobs.change")
@require_http_methods(FORM_METHODS)
def new_job(request: ShopRequest) -> HttpResponse:
    data = request.POST or None
    form = NewJobForm(
        data, shop=request.shop, prices=may(request.user, "prices.see"), initial=suggested(request)
    )
    customer = NewCustomerForm(data, shop=request.shop)
    carried = carried_pieces(request)
    context = {"form": form, "customer": customer, "carried": carried}
    if request.method != "POST":
        return show(request, "office/new_job.html", context)
    if job := saved_with_customer(form, customer, carried):
        words = (
            _("Job %(number)s is taken on with its pieces.")
            if carried
            else _("Job %(number)s is taken on. Add its pieces.")
        )
        return said(request, words % {"number": job.number}, "job", job.number)
    return show(request, "office/new_job.html", context, 422)


def suggested(request: ShopRequest) -> dict[str, Any]:
    asked = request.GET.get("customer", "")
    return {
        "number": orders.suggested_number(),
        "taken_on": timezone.localdate(),
        "customer": int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 12 else None,
        "promised_on": day_of(request.GET.get("promised_on", "")),
        "notes": request.GET.get("on", "").replace("\x00", "")[:500],
    }


def saved_with_customer(
    form: NewJobForm, customer: NewCustomerForm, carried: Carried | None = None
) -> Job | None:
    if not all([form.is_valid(), customer.is_valid()]):
        return None
    written = customer.values if customer.has_changed() else None
    chosen = form.cleaned_data["customer"]
    if bool(chosen) == bool(written):
        form.add_error("customer", _one_customer(both=bool(chosen)))
        return None
    if carried and carried.asked is None:
        form.add_error(None, carried.trouble)
        return None
    try:
        if carried and carried.asked:
            return take_on(values=form.values, asked=carried.asked, new_customer=written)
        return orders.save_job(values=form.values, new_customer=written)
    except Refused as refusal:
        form.refuse(refusal)
        return None


def _one_customer(*, both: bool) -> str:
    if both:
        return _("A customer is chosen and a new one is written, too. Leave one of them.")
    return _("Choose a customer, or write the new one's name beside.")


@needs("jobs.change")
@require_http_methods(FORM_METHODS)
def edit_job(request: ShopRequest, number: str) -> HttpResponse:
    job = job_or_404(number)

    def save(form: ShopModelForm) -> Job:
        return orders.save_job(values=form.values, job_id=job.pk, version=form.own_version)

    return edit(
        request,
        form=JobForm(
            request.POST or None,
            shop=request.shop,
            instance=job_or_404(number),
            prices=may(request.user, "prices.see"),
            initial=another_day(request),
        ),
        save=save,
        template="office/edit_job.html",
        done=lambda saved: said(
            request, _("Job %(number)s is saved.") % {"number": saved.number}, "job", saved.number
        ),
        context={"job": job},
    )


def another_day(request: ShopRequest) -> dict[str, Any]:
    """A day that was agreed, filled in for whoever saves it."""
    day = day_of(request.GET.get("promised_on", ""))
    return {"promised_on": day} if day else {}


def _button(
    request: ShopRequest, number: str, act: Callable[..., Job], message: str
) -> HttpResponse:
    job = job_or_404(number)

    def action() -> str:
        act(job_id=job.pk)
        return message % {"number": job.number}

    return press(request, action, to=("job", job.number))


@needs("jobs.change")
@require_POST
def close(request: ShopRequest, number: str) -> HttpResponse:
    return _button(request, number, orders.close_job, _("Job %(number)s is closed."))


@needs("jobs.change")
@require_POST
def reopen(request: ShopRequest, number: str) -> HttpResponse:
    return _button(request, number, orders.reopen_job, _("Job %(number)s is open again."))


@needs("jobs.change")
@require_POST
def call_off(request: ShopRequest, number: str) -> HttpResponse:
    return _button(request, number, orders.call_off_job, _("Job %(number)s is called off."))


@needs("jobs.change")
@require_POST
def restore(request: ShopRequest, number: str) -> HttpResponse:
    return _button(request, number, orders.restore_job, _("Job %(number)s is taken up again."))


@needs("jobs.change")
@require_POST
def delete(request: ShopRequest, number: str) -> HttpResponse:
    job = job_or_404(number)

    def action() -> str:
        return _("Job %(number)s is deleted.") % {"number": orders.delete_job(job_id=job.pk)}

    return press(request, action, to=("office",), refused=("job", job.number))
