"""Set up a new shop with the usual figures of the trade, and let its first owner in."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.core.validators import validate_email
from django.db import transaction
from django.urls import reverse

from shop.models import Person, Role
from shop.models.settings import known_zone
from shop.services.changed import note_change
from shop.services.fresh import give_usual_figures
from shop.services.people import new_password_link
from shop.services.settings import the_shop


class Command(BaseCommand):
    help = __doc__

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--name", required=True, help="what the shop is called")
        parser.add_argument("--email", required=True, help="the first owner's address")
        parser.add_argument("--owner", default="Owner", help="the first owner's name")
        parser.add_argument("--time-zone", default="America/Chicago")

    @transaction.atomic
    def handle(self, *args: Any, **options: Any) -> None:
        self.refuse_bad(options)
        shop = the_shop()
        shop.name, shop.time_zone = options["name"], options["time_zone"]
        shop.save(update_fields=["name", "time_zone"])
        give_usual_figures()
        owner = Person.objects.create_user(
            options["email"], name=options["owner"], role=Role.OWNER, warned=True
        )
        _invitation, token = new_password_link(person_id=owner.pk, by=owner)
        note_change("a new shop")
        link = settings.SITE_URL + reverse("join", args=[token])
        self.stdout.write(f"{owner.email} chooses a password here, within seven days:\n{link}")

    def refuse_bad(self, options: dict[str, Any]) -> None:
        if Person.objects.exists():
            raise CommandError("This shop has people already; the owner invites more.")
        try:
            validate_email(options["email"])
            known_zone(options["time_zone"])
        except ValidationError as error:
            raise CommandError("; ".join(error.messages)) from None
