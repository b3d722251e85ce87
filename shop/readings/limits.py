from __future__ import annotations

from django.http import HttpRequest


def announced_length(request: HttpRequest) -> int:
    """How long the body says it is. Without a length the server reads none of it."""
    text = request.META.get("CONTENT_LENGTH") or "0"
    return int(text) if text.isascii() and text.isdigit() else 0
