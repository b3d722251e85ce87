"""A table of jobs brought in: the file, its columns, its rows, then all of it or nothing."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, cast

from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt, csrf_protect
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from jobs.exchange.forms import FileForm
from jobs.exchange.rows import shown_rows
from jobs.services.exchange import keep, mend, saving
from jobs.services.exchange.files import read_file
from jobs.services.exchange.keep import Kept
from jobs.services.exchange.plan import CHANGED, LEFT, NEW, SAME, WRONG
from jobs.services.exchange.table import MOST_COLUMNS, MOST_ROWS
from shop.access import may, needs
from shop.http import ShopRequest
from shop.readings.limits import announced_length
from shop.services.errors import Conflict, Refused

A_PAGE = 50
ENVELOPE = 64 * 1024  # what a form carries around its file
FAULTS_NAMED = 12
KINDS = {
    "csv": ("text/csv; charset=utf-8", mend.csv_to_mend),
    "xlsx": (
        "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        mend.xlsx_to_mend,
    ),
}
View = Callable[..., HttpResponseBase]


def show(
    request: ShopRequest, template: str, context: dict[str, Any], status: int = 200
) -> HttpResponse:
    return render(request, f"exchange/{template}", {"door": "office", **context}, status=status)


def with_table(view: View) -> View:
    """Hands the person's own kept table to a view; else says that it is not waiting any more."""

    @wraps(view)
    def found(request: ShopRequest, token: str, **more: Any) -> HttpResponseBase:
        kept = keep.find(token, request.user)
        if kept is None:
            messages.warning(
                request,
                _("That table is not waiting any more: it was left, or a day has passed."),
            )
            return redirect("bring-in")
        if kept.done:
            messages.success(request, kept.done)
            return redirect("office")
        return view(request, kept, **more)

    return found


# As with readings: a huge body must be refused before the check for forged requests parses it.
@needs("jobs.bring_in")
@csrf_exempt
@require_http_methods(["GET", "HEAD", "POST"])
def bring_in(request: ShopRequest) -> HttpResponse:
    if request.method != "POST":
        return _start(request, FileForm(shop=request.shop))
    if announced_length(request) > settings.CUREWRIGHT_UPLOAD_LIMIT + ENVELOPE:
        return _start(request, FileForm(shop=request.shop), too_large(), 413)
    return _read(request)


def _start(
    request: ShopRequest, form: FileForm, trouble: str = "", status: int = 200
) -> HttpResponse:
    context = {
        "form": form,
        "trouble": trouble,
        "step": 1,
        "waiting": keep.waiting(request.user),
        "most_rows": MOST_ROWS,
        "most_columns": MOST_COLUMNS,
    }
    return show(request, "file.html", context, status)


@csrf_protect
def _read(request: HttpRequest) -> HttpResponse:
    return _take(cast(ShopRequest, request))


def _take(request: ShopRequest) -> HttpResponse:
    form = FileForm(request.POST, request.FILES, shop=request.shop)
    if not form.is_valid():
        return _start(request, form, status=422)
    file = form.cleaned_data["file"]
    if file.size > settings.CUREWRIGHT_UPLOAD_LIMIT:
        return _start(request, form, too_large(), 413)
    try:
        kept = keep.keep(read_file(file.read(), file.name), name=file.name, by=request.user)
    except Refused as refusal:
        form.refuse(refusal)
        return _start(request, form, status=422)
    return redirect("bring-in-columns" if kept.table else "bring-in-sheet", token=kept.token)


def too_large() -> str:
    return _(
        "The file is larger than %(limit)s MB, so it was not read. Save the one sheet as a file of "
        "its own, without pictures."
    ) % {"limit": settings.CUREWRIGHT_UPLOAD_LIMIT // (1024 * 1024)}


@needs("jobs.bring_in")
@require_http_methods(["GET", "HEAD", "POST"])
@with_table
def sheet(request: ShopRequest, kept: Kept) -> HttpResponse:
    chosen = request.POST.get("sheet", "")
    trouble = ""
    if request.method == "POST":
        place = int(chosen) if chosen.isascii() and chosen.isdigit() and len(chosen) < 4 else -1
        if 0 <= place < len(kept.sheets) and kept.sheets[place].table:
            if place != kept.sheet:
                kept.take_sheet(place)
                keep.put(kept)
            return redirect("bring-in-columns", token=kept.token)
        trouble = _("Choose one of the sheets that can be read.")
    context = {"kept": kept, "trouble": trouble, "step": 1}
    return show(request, "sheet.html", context, 422 if trouble else 200)


@needs("jobs.bring_in")
@require_http_methods(["GET", "HEAD", "POST"])
@with_table
def rows(request: ShopRequest, kept: Kept) -> HttpResponse:
    if not kept.table or not kept.choices or not kept.choices.columns:
        return redirect("bring-in-columns", token=kept.token)
    prices = may(request.user, "prices.see")
    if request.method != "POST":
        return _rows_page(request, kept)
    if "without_wrong" in request.POST:
        saving.leave_out_wrong(kept, request.shop, prices=prices)
        return redirect("bring-in-rows", token=kept.token)
    try:
        words = saving.save_table(
            kept.token,
            by=request.user,
            shop=request.shop,
            seen=request.POST.get("seen", ""),
            prices=prices,
        )
    except Conflict as conflict:
        return _rows_page(request, kept, conflict.message, 409)
    except Refused as refusal:
        return _rows_page(request, kept, refusal.message, 422)
    messages.success(request, words)
    return redirect("office")


def _rows_page(
    request: ShopRequest, kept: Kept, trouble: str = "", status: int = 200
) -> HttpResponse:
    assert kept.table is not None
    plan = saving.plan_of(kept, request.shop, prices=may(request.user, "prices.see"))
    if plan.seen != kept.seen:
        kept.seen = plan.seen
        keep.put(kept)
    kind = request.GET.get("show", "")
    chosen = [row for row in plan.rows if row.act == kind] if kind in _KINDS else plan.rows
    page = Paginator(chosen, A_PAGE).get_page(request.GET.get("page"))
    faults = mend.wrong_rows(plan.rows, kept.table)
    context = {
        "kept": kept,
        "step": 3,
        "plan": plan,
        "trouble": trouble,
        "sums": [(what, plan.sums[key]) for key, what in _kinds_of_rows()],
        "counts": plan.counts,
        "faults": faults[:FAULTS_NAMED],
        "without": kept.choices.without if kept.choices else (),
        "more_faults": sum(len(lines) for lines, _ in faults[FAULTS_NAMED:]),
        "page": page,
        "show": kind if chosen is not plan.rows else "",
        "seen": saving.print_of(plan.seen),
        **shown_rows(page, kept),
    }
    return show(request, "rows.html", context, status)


_KINDS = {NEW, CHANGED, LEFT, SAME, WRONG}


def _kinds_of_rows() -> list[tuple[str, str]]:
    return [("jobs", _("Jobs")), ("pieces", _("Pieces")), ("customers", _("Customers"))]


@needs("jobs.bring_in")
@require_safe
@with_table
def to_mend(request: ShopRequest, kept: Kept, kind: str) -> HttpResponse:
    if not kept.table or not kept.choices or kind not in KINDS:
        return redirect("bring-in-columns", token=kept.token)
    plan = saving.plan_of(kept, request.shop, prices=may(request.user, "prices.see"))
    content_type, write = KINDS[kind]
    everything = request.GET.get("rows") == "all"
    response = HttpResponse(
        write(kept.table, plan, everything=everything), content_type=content_type
    )
    response["Content-Disposition"] = f'attachment; filename="to-mend.{kind}"'
    return response


@needs("jobs.bring_in")
@require_POST
def leave(request: ShopRequest, token: str) -> HttpResponse:
    keep.leave(token, request.user)
    messages.success(request, _("Nothing was brought in, and the table is gone from here."))
    return redirect("bring-in")
