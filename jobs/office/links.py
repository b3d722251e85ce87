"""The link to the customer's page: made, made anew, closed."""

from __future__ import annotations

from django.http import HttpResponse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from jobs.office.pages import job_or_404, press
from jobs.services import links
from shop.access import needs
from shop.http import ShopRequest


@needs("notices.send")
@require_POST
def make(request: ShopRequest, number: str) -> HttpResponse:
    job = job_or_404(number)

    def act() -> str:
        links.make_link(job_id=job.pk, by=request.user)
        return _("The customer's page is open. Copy its link below.")

    return press(request, act, to=("job", job.number))


@needs("notices.send")
@require_POST
def renew(request: ShopRequest, number: str) -> HttpResponse:
    job = job_or_404(number)

    def act() -> str:
        links.renew_link(job_id=job.pk, by=request.user)
        return _("There is a new link. What was sent before opens nothing any more.")

    return press(request, act, to=("job", job.number))


@needs("notices.send")
@require_POST
def close_link(request: ShopRequest, number: str) -> HttpResponse:
    job = job_or_404(number)

    def act() -> str:
        links.revoke_link(job_id=job.pk)
        return _("The customer's page is closed.")

    return press(request, act, to=("job", job.number))
