"""The told day as an iCalendar file (RFC 5545): one all-day entry that later notices replace."""

from __future__ import annotations

import datetime as dt
from urllib.parse import urlsplit

from django.conf import settings
from icalendar import Calendar, Event, vText

from jobs.models import Job
from jobs.services.mail import one_line
from shop.models import Shop


def date_file(
    *,
    job: Job,
    shop: Shop,
    told_on: dt.date,
    sequence: int,
    at: dt.datetime,
    firm: bool,
    address: str = "",
    in_doubt: bool = False,
) -> str:
    """`sequence` grows with every notice of the job, so that calendars move the entry. In doubt is
    a day that was told and that the concrete may not keep: the entry says so, as the page does."""
    event = Event()
    event.add("uid", f"job-{job.pk}@{urlsplit(settings.SITE_URL).hostname or 'localhost'}")
    event.add("sequence", sequence)
    event.add("dtstamp", at.astimezone(dt.UTC))
    event.add("dtstart", told_on)
    event.add("dtend", told_on + dt.timedelta(days=1))  # the end is not part of it
    state = "day being checked" if in_doubt else "ready"
    event.add("summary", one_line(f"{job.title} {state}, {shop.name}"))
    event.add("status", "CONFIRMED" if firm and not in_doubt else "TENTATIVE")
    event.add("transp", "TRANSPARENT")
    if job.site:
        event.add("location", one_line(job.site))
    if shop.phone:
        event["contact"] = vText(one_line(f"{shop.name}, {shop.phone}"))
    if address:
        event.add("description", f"How far it is: {address}")
        event.add("url", address)
    return _calendar(event)


def _calendar(event: Event) -> str:
    calendar = Calendar()
    calendar.add("prodid", "-//Curewright//Readiness//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add_component(event)
    return calendar.to_ical().decode()
