"""Who works here: inviting, roles, new-password links, leaving and coming back."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from shop.access import needs
from shop.forms import ShopModelForm
from shop.http import ShopRequest, posted
from shop.models import Invitation, Person
from shop.services import people as service
from shop.services.errors import Refused
from shop.setup import pages
from shop.setup.forms import InviteForm, PersonForm


@needs("people.change")
@require_safe
def people(request: ShopRequest) -> HttpResponse:
    return _list(request, InviteForm(shop=request.shop))


def _list(request: ShopRequest, form: InviteForm, status: int = 200) -> HttpResponse:
    context = {
        "form": form,
        "people": Person.objects.order_by("-is_active", "name"),
        "invitations": service.open_invitations(),
    }
    return pages.show(request, "setup/people.html", context, status)


@needs("people.change")
@never_cache
@require_POST
def invite(request: ShopRequest) -> HttpResponse:
    form = InviteForm(request.POST, shop=request.shop)
    if form.is_valid():
        try:
            issued = service.invite(by=request.user, **form.cleaned_data)
            return _link_page(request, *issued)
        except Refused as refusal:
            form.refuse(refusal)
    return _list(request, form, 422)


@needs("people.change")
@never_cache
@require_POST
def new_password(request: ShopRequest, person_id: int) -> HttpResponse:
    get_object_or_404(Person, pk=person_id)
    try:
        issued = service.new_password_link(person_id=person_id, by=request.user)
    except Refused as refusal:
        return _refused(request, refusal)
    return _link_page(request, *issued)


def _link_page(request: ShopRequest, invitation: Invitation, token: str) -> HttpResponse:
    """The only time the link is seen: answered directly, never kept in a session or a log."""
    link = settings.SITE_URL.rstrip("/") + reverse("join", args=[token])
    context = {"invitation": invitation, "link": link}
    return pages.show(request, "setup/link.html", context)


def _refused(request: ShopRequest, refusal: Refused) -> HttpResponse:
    def act() -> str:
        raise refusal

    return pages.try_it(request, act, "people")


@needs("people.change")
@require_POST
def withdraw(request: ShopRequest, invitation_id: int) -> HttpResponse:
    get_object_or_404(Invitation, pk=invitation_id)

    def act() -> str:
        invitation = service.withdraw(invitation_id=invitation_id)
        return _("The link for %(name)s no longer opens anything.") % {"name": invitation.name}

    return pages.try_it(request, act, "people")


@needs("people.change")
@require_http_methods(["GET", "HEAD", "POST"])
def person(request: ShopRequest, person_id: int) -> HttpResponse:
    instance = get_object_or_404(Person, pk=person_id)
    name = instance.name

    def save(form: ShopModelForm) -> Person:
        return service.change_person(person_id=person_id, version=form.own_version, **form.values)

    return pages.edit(
        request,
        form=PersonForm(posted(request), shop=request.shop, instance=instance),
        save=save,
        template="setup/person.html",
        context={"person": instance, "name": name},
        done=lambda person: pages.saved(
            request, _("%(name)s saved.") % {"name": person.name}, "people"
        ),
    )


@needs("people.change")
@require_POST
def remove(request: ShopRequest, person_id: int) -> HttpResponse:
    get_object_or_404(Person, pk=person_id)

    def act() -> str:
        gone = service.remove(person_id=person_id, by=request.user)
        return _("%(name)s can no longer sign in. Their marks stay.") % {"name": gone.name}

    return pages.try_it(request, act, "people")


@needs("people.change")
@require_POST
def bring_back(request: ShopRequest, person_id: int) -> HttpResponse:
    get_object_or_404(Person, pk=person_id)

    def act() -> str:
        back = service.bring_back(person_id=person_id)
        return _("%(name)s can sign in again.") % {"name": back.name}

    return pages.try_it(request, act, "people")
