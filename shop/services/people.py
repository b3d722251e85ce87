"""Who works at the shop: inviting, roles, passwords, leaving and coming back."""

from __future__ import annotations

import datetime as dt
import hashlib
import secrets

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from shop.models import Invitation, Person, Role
from shop.services.changed import note_change
from shop.services.errors import Conflict, Refused

LINK_LASTS = dt.timedelta(days=7)


def invite(
    *, name: str, email: str, role: str, by: Person, now: dt.datetime | None = None
) -> tuple[Invitation, str]:
    """A one-time link for somebody new. The token is shown once; only its hash is kept."""
    email = email.strip().lower()
    if Person.objects.filter(email__iexact=email).exists():
        raise Refused(
            _("Somebody with this address is already on the list. Bring them back, or issue a "
              "new-password link from their row."),
            field="email",
        )  # fmt: skip
    return _issue(name=name, email=email, role=role, by=by, now=now)


def new_password_link(
    *, person_id: int, by: Person, now: dt.datetime | None = None
) -> tuple[Invitation, str]:
    person = Person.objects.get(pk=person_id)
    if not person.is_active:
        raise Refused(_("Bring this person back first."))
    return _issue(name=person.name, email=person.email, role=person.role, by=by, now=now)


@transaction.atomic
def _issue(
    *, name: str, email: str, role: str, by: Person, now: dt.datetime | None
) -> tuple[Invitation, str]:
    now = now or timezone.now()
    # A newer link takes the place of an older one, so that only one is ever about.
    open_invitations(now).filter(email=email).update(withdrawn_at=now)
    token = secrets.token_urlsafe(32)
    invitation = Invitation.objects.create(
        name=name, email=email, role=role, invited_by=by,
        token_hash=_hash(token), expires_at=now + LINK_LASTS,
    )  # fmt: skip
    return invitation, token


def open_invitations(now: dt.datetime | None = None):  # type: ignore[no-untyped-def]
    return Invitation.objects.filter(
        used_at=None, withdrawn_at=None, expires_at__gt=now or timezone.now()
    )


def withdraw(*, invitation_id: int, now: dt.datetime | None = None) -> Invitation:
    now = now or timezone.now()
    with transaction.atomic():
        invitation = Invitation.objects.select_for_update().get(pk=invitation_id)
        if invitation.used_at:
            raise Refused(_("The link has been used already. Remove the person instead."))
        invitation.withdrawn_at = invitation.withdrawn_at or now
        invitation.save(update_fields=["withdrawn_at"])
    return invitation


def find_invitation(token: str, now: dt.datetime | None = None) -> Invitation:
    """The invitation a link stands for; Refused says why it no longer opens anything."""
    invitation = Invitation.objects.filter(token_hash=_hash(token)).first()
    if invitation is None:
        raise Refused(_("This link is not one of ours. It may have been cut short when copied."))
    _still_open(invitation, now or timezone.now())
    return invitation


def _still_open(invitation: Invitation, now: dt.datetime) -> None:
    if invitation.used_at:
        raise Refused(_("This link has been used. Sign in with the password chosen then."))
    if invitation.withdrawn_at:
        raise Refused(_("This link was withdrawn. Ask the owner for a new one."))
    if invitation.expires_at <= now:
        raise Refused(_("This link is more than seven days old. Ask the owner for a new one."))


@transaction.atomic
def accept(*, token: str, password: str, language: str, now: dt.datetime | None = None) -> Person:
    now = now or timezone.now()
    found = find_invitation(token, now)
    invitation = Invitation.objects.select_for_update().get(pk=found.pk)
    _still_open(invitation, now)
    invitation.used_at = now
    invitation.save(update_fields=["used_at"])
    person = Person.objects.filter(email__iexact=invitation.email).first()
    if person is None:
        note_change("somebody joined")  # the plan may count on them
        return Person.objects.create_user(
            invitation.email, password,
            name=invitation.name, role=invitation.role, language=language,
        )  # fmt: skip
    if not person.is_active:
        raise Refused(_("This account was removed. Ask the owner to bring it back."))
    person.language = language
    _set_password(person, password)
    return person


def change_password(*, person: Person, password: str) -> None:
    _set_password(person, password)


def _set_password(person: Person, password: str) -> None:
    # Every session carries a hash of the password: the others end with it.
    person.set_password(password)
    person.save(update_fields=["password", "language"])


def change_self(*, person_id: int, version: int, name: str, language: str) -> Person:
    with transaction.atomic():
        person = _locked(person_id, version)
        person.name, person.language = name, language
        return _saved(person, "name", "language")


def change_person(*, person_id: int, version: int, name: str, role: str, warned: bool) -> Person:
    with transaction.atomic():
        owners = _locked_owners()
        person = _locked(person_id, version)
        if role != Role.OWNER:
            _refuse_last_owner(person, owners)
        if role != person.role:
            note_change("a role changed")
        person.name, person.role, person.warned = name, role, warned
        return _saved(person, "name", "role", "warned")


@transaction.atomic
def remove(*, person_id: int, by: Person) -> Person:
    """They can't sign in and their sessions end; what they marked stays with their name."""
    if person_id == by.pk:
        raise Refused(_("You can't remove yourself. Another owner can."))
    owners = _locked_owners()
    person = _locked(person_id, None)
    _refuse_last_owner(person, owners)
    person.is_active = False
    open_invitations().filter(email=person.email).update(withdrawn_at=timezone.now())
    note_change("somebody left")
    return _saved(person, "is_active")


@transaction.atomic
def bring_back(*, person_id: int) -> Person:
    person = _locked(person_id, None)
    person.is_active = True
    note_change("somebody came back")
    return _saved(person, "is_active")


def _locked_owners() -> set[int]:
    # All of them, before the person and in one order: two owners may demote each other at once.
    owners = Person.objects.select_for_update().filter(role=Role.OWNER, is_active=True)
    return set(owners.order_by("pk").values_list("pk", flat=True))


def _refuse_last_owner(person: Person, owners: set[int]) -> None:
    if owners == {person.pk}:
        raise Refused(
            _("%(name)s is the last owner. Make somebody else an owner first.")
            % {"name": person.name},
            field="role",
        )


def _locked(person_id: int, version: int | None) -> Person:
    person = Person.objects.select_for_update().get(pk=person_id)
    if version is not None and version != person.version:
        raise Conflict(
            _("Somebody else changed this person meanwhile."), version=person.version, theirs={}
        )
    return person


def _saved(person: Person, *fields: str) -> Person:
    person.version += 1
    person.save(update_fields=[*fields, "version"])
    return person


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
