"""Signing in and out, one's own account, and the link that lets somebody choose a password."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import authenticate, login, logout, update_session_auth_hash
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from shop.access import needs, open_to_all
from shop.account.forms import ChangePasswordForm, JoinForm, OwnForm, SignInForm
from shop.http import ShopRequest, posted
from shop.models import Invitation, Person
from shop.services import people
from shop.services.errors import Conflict, Refused

BACKEND = "django.contrib.auth.backends.ModelBackend"


@open_to_all
@never_cache
@sensitive_post_parameters("password")
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in(request: ShopRequest) -> HttpResponse:
    onward = _local(request)
    if request.user.is_authenticated:
        return redirect(onward)
    form = SignInForm(posted(request), shop=request.shop)
    if request.method == "POST" and form.is_valid():
        # By `email`: under Django's own `username` axes would count nobody's failures.
        person = authenticate(
            request, email=form.cleaned_data["email"], password=form.cleaned_data["password"]
        )
        if person is not None:
            login(request, person)
            return redirect(onward)
        form.add_error(
            None, _("That address and password don't go together. Check both and try once more.")
        )
    context = {"form": form, "next": request.POST.get("next") or request.GET.get("next", "")}
    return render(request, "account/sign_in.html", context, status=422 if form.errors else 200)


def _local(request: HttpRequest) -> str:
    """Where to go after signing in: only ever a page of this app."""
    onward = request.POST.get("next") or request.GET.get("next") or ""
    hosts = {request.get_host()}
    ours = url_has_allowed_host_and_scheme(onward, hosts, require_https=request.is_secure())
    if ours and onward.startswith("/"):  # else it would pass for the name of a view
        return onward
    return "home"


@open_to_all
@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    logout(request)
    return redirect("sign-in")


@open_to_all
@require_http_methods(["GET", "HEAD"])
def forgot(request: HttpRequest) -> HttpResponse:
    return render(request, "account/forgot.html")


@needs("own.account")
@require_http_methods(["GET", "HEAD", "POST"])
def own_account(request: ShopRequest) -> HttpResponse:
    me = Person.objects.get(pk=request.user.pk)
    form = OwnForm(posted(request), shop=request.shop, instance=me)
    if request.method == "POST" and form.is_valid():
        try:
            people.change_self(person_id=me.pk, version=form.own_version, **form.values)
        except Conflict as conflict:
            fresh = Person.objects.get(pk=me.pk)
            form.meet(conflict, {"name": fresh.name, "language": fresh.language})
            return _own_page(request, form, 409)
        messages.success(request, _("Saved."))
        return redirect("own-account")
    return _own_page(request, form, 422 if form.errors else 200)


def _own_page(request: ShopRequest, form: OwnForm, status: int) -> HttpResponse:
    password = ChangePasswordForm(shop=request.shop, person=request.user)
    context = {"form": form, "password_form": password, "door": "account"}
    return render(request, "account/own.html", context, status=status)


@needs("own.account")
@sensitive_post_parameters("old", "new", "again")
@require_POST
def change_password(request: ShopRequest) -> HttpResponse:
    me = Person.objects.get(pk=request.user.pk)
    form = ChangePasswordForm(request.POST, shop=request.shop, person=me)
    if form.is_valid():
        people.change_password(person=me, password=form.cleaned_data["new"])
        update_session_auth_hash(request, me)
        messages.success(request, _("Your password is changed. Other devices are signed out."))
        return redirect("own-account")
    own = OwnForm(shop=request.shop, instance=me)
    context = {"form": own, "password_form": form, "door": "account"}
    return render(request, "account/own.html", context, status=422)


@open_to_all
@never_cache
@sensitive_post_parameters("new", "again")
@require_http_methods(["GET", "HEAD", "POST"])
def join(request: ShopRequest, token: str) -> HttpResponse:
    try:
        invitation = people.find_invitation(token)
        form = JoinForm(posted(request), shop=request.shop, person=_as_person(invitation))
        if request.method == "POST" and form.is_valid():
            return _joined(request, token, form)
    except Refused as refusal:
        return render(request, "account/join_closed.html", {"reason": refusal.message}, status=410)
    context = {"form": form, "invitation": invitation}
    return render(request, "account/join.html", context, status=422 if form.errors else 200)


def _as_person(invitation: Invitation) -> Person:
    return Person(name=invitation.name, email=invitation.email)


def _joined(request: ShopRequest, token: str, form: JoinForm) -> HttpResponse:
    person = people.accept(
        token=token, password=form.cleaned_data["new"], language=form.cleaned_data["language"]
    )
    login(request, person, backend=BACKEND)
    messages.success(request, _("Welcome, %(name)s.") % {"name": person.name})
    return redirect("home")
