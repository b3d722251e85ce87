"""Small readers for the environment. A wrong or missing value stops the start, by name."""

from __future__ import annotations

import os
from pathlib import Path
from urllib.parse import SplitResult, urlsplit

from django.core.exceptions import ImproperlyConfigured

YES = {"1", "true", "yes", "on"}
NO = {"0", "false", "no", "off"}


def text(name: str, default: str | None = None) -> str:
    value = os.environ.get(name, default)
    if value is None or (value == "" and default is None):
        raise ImproperlyConfigured(f"Set {name} in the environment.")
    return value


def flag(name: str, default: bool) -> bool:
    value = os.environ.get(name, "").strip().lower()
    if not value:
        return default
    if value in YES | NO:
        return value in YES
    raise ImproperlyConfigured(f"{name} is {value!r}: write yes or no.")


def number(name: str, default: int) -> int:
    value = os.environ.get(name, "").strip()
    try:
        return int(value) if value else default
    except ValueError:
        raise ImproperlyConfigured(f"{name} is {value!r}: write a whole number.") from None


def listing(name: str, default: str = "") -> list[str]:
    return [part.strip() for part in os.environ.get(name, default).split(",") if part.strip()]


def choice(name: str, options: tuple[str, ...], default: str) -> str:
    value = os.environ.get(name, "").strip() or default
    if value not in options:
        raise ImproperlyConfigured(f"{name} is {value!r}: write one of {', '.join(options)}.")
    return value


def address(name: str, value: str, schemes: set[str], example: str) -> SplitResult:
    """The parts of an address; what is wrong with it is never shown, it may hold a password."""
    try:
        parts = urlsplit(value)
        if parts.scheme in schemes and parts.hostname and parts.port != 0:
            return parts
    except ValueError:  # a port that is no number, a bracket left open
        pass
    raise ImproperlyConfigured(f"{name} must look like {example}.")


def folder(name: str, default: Path) -> Path:
    path = Path(os.environ.get(name, "").strip() or default)
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise ImproperlyConfigured(f"{name} is {path}, which cannot be made: {error}.") from None
    return path
