from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from jobs.demo.cast_list import PASSWORD, PEOPLE
from jobs.demo.load import CASTING, sensor_token
from shop.models import Person, Role


class Command(BaseCommand):
    help = "Print who may sign in to the demo, and how a sensor posts to it."
    requires_system_checks: list[str] = []  # they would import every page

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.DEMO:
            raise CommandError("Only where CUREWRIGHT_DEMO is on.")
        present = set(Person.objects.filter(is_active=True).values_list("email", flat=True))
        shown = [person for person in PEOPLE if person.email in present]
        if not shown:
            raise CommandError("Nobody of the demo works here: run load_demo on an empty shop.")
        self.stdout.write(f"Password of everybody: {PASSWORD}")
        for person in shown:
            spanish = ", in Spanish" if person.language == "es" else ""
            self.stdout.write(
                f"  {Role(person.role).label:<7} {person.email:<24}{spanish}".rstrip()
            )
        self.stdout.write(f"Sensor token of the {CASTING.lower()}: {sensor_token(CASTING)}")
