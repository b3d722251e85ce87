"""Working hours a weekday, extra hours of a day, and the days the shop is closed."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from shop.access import needs
from shop.http import ShopRequest
from shop.models import ClosedDay, Shop
from shop.services import calendar, setup
from shop.services.calendar import proposed_closed_days
from shop.services.errors import Conflict, Refused
from shop.services.setup import Stretch
from shop.setup import pages
from shop.setup.crew_forms import ExtraHoursForm
from shop.setup.forms import WEEKDAYS, CloseForm, StretchForm
from shop.setup.week import Rows, WeekForm


@needs("setup.see")
@require_safe
def hours(request: ShopRequest) -> HttpResponse:
    return _hours_listed(request, ExtraHoursForm(shop=request.shop))


def _hours_listed(request: ShopRequest, form: ExtraHoursForm, status: int = 200) -> HttpResponse:
    week = setup.working_week()
    days = [(name, [s for s in week if s.weekday == n]) for n, name in enumerate(WEEKDAYS)]
    extra = calendar.extra_hours(timezone.localdate())
    context = {"days": days, "any": bool(week), "extra": extra, "form": form}
    return pages.show(request, "setup/hours.html", context, status)


@needs("setup.change")
@require_POST
def add_extra(request: ShopRequest) -> HttpResponse:
    form = ExtraHoursForm(request.POST, shop=request.shop)
    if form.is_valid():
        try:
            calendar.add_extra(**form.cleaned_data)
        except Refused as refusal:
            form.refuse(refusal)
        else:
            return pages.saved(request, _("The extra hours are worked."), "hours")
    return _hours_listed(request, form, 422)


@needs("setup.change")
@require_POST
def remove_extra(request: ShopRequest, extra_id: int) -> HttpResponse:
    calendar.remove_extra(extra_id=extra_id)
    return pages.saved(request, _("The extra hours are taken back."), "hours")


@needs("setup.change")
@require_http_methods(["GET", "HEAD", "POST"])
def edit_hours(request: ShopRequest) -> HttpResponse:
    stands = setup.working_week()
    if request.method != "POST":
        return _hours_page(request, stands, _week(request.shop, stands))
    week = _week(request.shop, stands, request.POST)
    if not week.is_valid():
        return _hours_page(request, stands, week, 422)
    seen = request.POST.get("seen", "")
    try:
        setup.set_working_week(
            seen=int(seen) if seen.isascii() and seen.isdigit() and len(seen) < 12 else -1,
            week=[Stretch(weekday, **values) for weekday, values in _stretches(week)],
        )
    except Conflict as conflict:
        stands = setup.working_week()
        theirs = [f"{WEEKDAYS[s.weekday]} {_words(s)}" for s in stands]
        return _hours_page(request, stands, week, 409, refusal=conflict.message, theirs=theirs)
    except Refused as refusal:
        return _hours_page(request, stands, week, 422, refusal=refusal.message)
    return pages.saved(request, _("Working hours saved."), "hours")


def _hours_page(
    request: ShopRequest, stands: list[Stretch], week: WeekForm, status: int = 200, **more: Any
) -> HttpResponse:
    context = {"week": week, "seen": setup.edition(stands), **more}
    return pages.show(request, "setup/edit_hours.html", context, status)


def _week(shop: Shop, stands: Iterable[Stretch], data: Any = None) -> WeekForm:
    stored: dict[int, Rows] = defaultdict(list)
    for row in stands:
        stored[row.weekday].append({"starts": row.starts, "ends": row.ends, "people": row.people})
    return WeekForm(StretchForm, shop=shop, stored=stored, data=data, most_rows=8)


def _stretches(week: WeekForm) -> list[tuple[int, dict[str, Any]]]:
    return [
        (weekday, {key: values[key] for key in ("starts", "ends", "people")})
        for weekday, values in week.rows("starts")
    ]


def _words(stretch: Stretch) -> str:
    return f"{stretch.starts:%H:%M}–{stretch.ends:%H:%M}, {stretch.people}"


@dataclass(frozen=True)
class ProposedDay:
    day: dt.date
    name: str
    closed: bool
    decided: bool


@needs("setup.see")
@require_safe
def closed(request: ShopRequest) -> HttpResponse:
    return _closed_page(request, _year(request.GET.get("year")), CloseForm(shop=request.shop))


@needs("setup.change")
@require_POST
def decide_closed(request: ShopRequest) -> HttpResponse:
    year = _year(request.POST.get("year"))
    ticked = set(request.POST.getlist("closed"))
    proposed = proposed_closed_days(year, request.shop)
    setup.decide_days(
        close={p.day: p.name for p in proposed if p.day.isoformat() in ticked},
        work={p.day: p.name for p in proposed if p.day.isoformat() not in ticked},
    )
    pages.saved(request, _("The holidays of %(year)d are decided.") % {"year": year}, "closed")
    return redirect(f"{reverse('closed')}?year={year}")


@needs("setup.change")
@require_POST
def add_closed(request: ShopRequest) -> HttpResponse:
    form = CloseForm(request.POST, shop=request.shop)
    year = _year(request.POST.get("year"))
    if form.is_valid():
        first = form.cleaned_data["first"]
        last = form.cleaned_data["last"] or first
        try:
            count = setup.close_days(first=first, last=last, name=form.cleaned_data["name"])
        except Refused as refusal:
            form.refuse(refusal)
            return _closed_page(request, year, form, 422)
        said = ngettext("%(n)d day is closed.", "%(n)d days are closed.", count) % {"n": count}
        pages.saved(request, said, "closed")
        return redirect(f"{reverse('closed')}?year={first.year}")
    return _closed_page(request, year, form, 422)


@needs("setup.change")
@require_POST
def remove_closed(request: ShopRequest, closed_id: int) -> HttpResponse:
    setup.open_day(closed_id=closed_id)
    pages.saved(request, _("The shop works that day again."), "closed")
    return redirect(f"{reverse('closed')}?year={_year(request.POST.get('year'))}")


def _closed_page(
    request: ShopRequest, year: int, form: CloseForm, status: int = 200
) -> HttpResponse:
    rows = {row.day: row for row in ClosedDay.objects.filter(day__year=year)}
    proposed = [
        ProposedDay(p.day, p.name, _is_closed(rows.get(p.day)), p.day in rows)
        for p in proposed_closed_days(year, request.shop)
    ]
    named = {p.day for p in proposed}
    context = {
        "year": year,
        "form": form,
        "proposed": proposed,
        "own": [row for row in rows.values() if row.day not in named and not row.open_anyway],
        "undecided": any(not p.decided for p in proposed),
    }
    return pages.show(request, "setup/closed.html", context, status)


def _is_closed(row: ClosedDay | None) -> bool:
    return row is not None and not row.open_anyway


def _year(text: str | None) -> int:
    this = timezone.localdate().year
    year = int(text) if text and text.isascii() and text.isdigit() and len(text) == 4 else this
    return min(max(year, this - 5), this + 5)
