from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http import HttpRequest

from shop.access import PERMISSIONS, may


class Allowed:
    """`{% if allowed.board_see %}` in templates; an undefined permission raises."""

    def __init__(self, request: HttpRequest) -> None:
        self.person = getattr(request, "user", None)

    def __getitem__(self, name: str) -> bool:
        permission = name.replace("_", ".", 1)
        if permission not in PERMISSIONS:
            raise LookupError(f"There is no permission {permission!r}.")
        return self.person is not None and may(self.person, permission)


def shop(request: HttpRequest) -> dict[str, Any]:
    return {
        "shop": getattr(request, "shop", None),
        "allowed": Allowed(request),
        "demo": settings.DEMO,
    }
