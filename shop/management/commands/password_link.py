"""Make a new-password link for a person, when no owner can sign in to make it."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.urls import reverse

from shop.models import Person
from shop.services.errors import Refused
from shop.services.people import new_password_link


class Command(BaseCommand):
    help = __doc__

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("email", help="the address the person signs in with")

    def handle(self, *_: Any, email: str, **__: Any) -> None:
        person = Person.objects.filter(email__iexact=email).first()
        if person is None:
            raise CommandError(f"Nobody signs in as {email}.")
        try:
            _invitation, token = new_password_link(person_id=person.pk, by=person)
        except Refused as refusal:
            raise CommandError(refusal.message) from None
        link = settings.SITE_URL.rstrip("/") + reverse("join", args=[token])
        self.stdout.write(f"{person.email} chooses a password here, within seven days:\n{link}")
