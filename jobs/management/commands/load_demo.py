from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from jobs.demo.cast_list import SHOP_NAME, TOWN
from jobs.demo.load import NotADemo, load


class Command(BaseCommand):
    help = "Make the invented shop, unless there is a shop with people already."
    requires_system_checks: list[str] = []  # they would import every page

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            made = load(timezone.now())
        except NotADemo as refusal:
            raise CommandError(str(refusal)) from None
        self.stdout.write(
            f"{SHOP_NAME} in {TOWN} is set up." if made else "There is a shop already: kept as is."
        )
