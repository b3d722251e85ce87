from __future__ import annotations

from django import template

from jobs.services.chances import spoken

register = template.Library()


@register.filter
def chance(value: float | str | None) -> str:
    """0.93 → '9 in 10'."""
    return "–" if value is None or value == "" else spoken(float(value))
