from __future__ import annotations

import datetime as dt

from django import template
from django.utils import timezone

register = template.Library()


@register.filter
def from_now(wait: dt.timedelta | None) -> dt.datetime:
    """The moment a wait that begins now is over, on the full minute after."""
    over = timezone.now() + (wait or dt.timedelta())
    return over.replace(second=0, microsecond=0) + dt.timedelta(minutes=1)
