from __future__ import annotations

import datetime as dt
from typing import Any

from django import template
from django.utils import timezone
from django.utils.translation import gettext as _

from shop import measures
from shop.access import may as person_may

register = template.Library()


@register.simple_tag(takes_context=True)
def measure(context: dict[str, Any], value: float | None, kind: str) -> str:
    return measures.words(value, kind, context["shop"])


@register.simple_tag(takes_context=True)
def unit(context: dict[str, Any], kind: str) -> str:
    return measures.sign(kind, context["shop"])


@register.simple_tag(takes_context=True)
def warmth(context: dict[str, Any], celsius: float = 20.0) -> str:
    """The degrees at which a standard counts hours: `{% warmth as at %}` is '68 °F' or '20 °C'."""
    return measures.warmth(context["shop"], celsius)


@register.filter
def hours(value: float | None) -> str:
    return "–" if value is None or value == "" else measures.hours_words(value)


@register.filter
def percent(value: float | None) -> str:
    """0.85 → '85 %'."""
    return "–" if value is None or value == "" else f"{value * 100:.10g} %"


@register.filter
def plain(value: float) -> str:
    """A bare number as one writes it: 1.3, not 1.30."""
    return f"{value:g}"


@register.filter
def moment(value: dt.datetime | None) -> str:
    """'Wed 26 Nov 11:00' in shop time; the year only when it is another one."""
    if not value:  # a missing link in a dotted name arrives as an empty text
        return "–"
    local = timezone.localtime(value)
    year = f" {local.year}" if local.year != timezone.localdate().year else ""
    return f"{_(local.strftime('%a'))} {local.day} {_(local.strftime('%b'))}{year} {local:%H:%M}"


@register.filter
def day(value: dt.date | dt.datetime | None) -> str:
    """'Wed 26 Nov' in shop time."""
    if not value:
        return "–"
    local = timezone.localtime(value).date() if isinstance(value, dt.datetime) else value
    year = f" {local.year}" if local.year != timezone.localdate().year else ""
    return f"{_(local.strftime('%a'))} {local.day} {_(local.strftime('%b'))}{year}"


@register.filter
def clock(value: dt.datetime | None) -> str:
    return f"{timezone.localtime(value):%H:%M}" if value else "–"


@register.filter
def iso(value: dt.datetime) -> str:
    return value.isoformat()


@register.filter
def may(person: Any, permission: str) -> bool:
    return person_may(person, permission)
