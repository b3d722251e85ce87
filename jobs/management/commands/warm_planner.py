from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand


class Command(BaseCommand):
    help = "Compile the planner's loops, so that the first plan does not wait for it."
    requires_system_checks: list[str] = []

    def handle(self, *args: Any, **options: Any) -> None:
        from jobs.planning.warm import warm_up

        warm_up()
