"""The second step: which column is what, and what rows are given that do not say it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods

from jobs.exchange.bring_in import show, with_table
from jobs.exchange.forms import GROUPS, DefaultsForm, columns_from, first_choices, initial_of
from jobs.services.exchange import keep
from jobs.services.exchange.columns import (
    ORDERS,
    Choices,
    Column,
    faults_of,
    guess,
    header_rows,
    needs_number,
    order_is_asked,
    settled,
    unit_is_asked,
    usual_rows,
)
from jobs.services.exchange.fields import Field, offered
from jobs.services.exchange.keep import Kept
from jobs.services.exchange.table import Table, letters_of
from jobs.services.exchange.units import UNITS
from shop.access import may, needs
from shop.http import ShopRequest

SAMPLE = 60  # signs


@dataclass(frozen=True)
class ShownColumn:
    place: int
    letters: str
    header: str
    samples: list[str]
    column: Column
    units: list[str]  # offered where the column's figures need one
    orders: tuple[tuple[str, str], ...]
    fault: str


@needs("jobs.bring_in")
@require_http_methods(["GET", "HEAD", "POST"])
@with_table
def columns(request: ShopRequest, kept: Kept) -> HttpResponse:
    table = kept.table
    if table is None:
        return redirect("bring-in-sheet", token=kept.token)
    fields = offered(prices=may(request.user, "prices.see"))
    if request.method == "POST":
        return _chosen(request, kept, table, fields)
    choices = kept.choices or Choices((), first_choices(request.shop))
    if not choices.columns:
        guessed = guess(table, fields)
        choices = replace(choices, columns=guessed, **usual_rows(guessed, table))
    form = DefaultsForm(shop=request.shop, initial=initial_of(choices))
    return _page(request, kept, table, columns=choices.columns, fields=fields, form=form)


def _chosen(
    request: ShopRequest, kept: Kept, table: Table, fields: tuple[Field, ...]
) -> HttpResponse:
    if "take_header" in request.POST:
        return _other_header(request, kept, table)
    raw = columns_from(request.POST, len(table.headers), fields)
    chosen = tuple(settled(column, table, place) for place, column in enumerate(raw))
    form = DefaultsForm(request.POST, shop=request.shop)
    faults = faults_of(chosen, table)
    if trouble := needs_number(chosen):
        form.add_error(None, trouble)
    if form.is_valid() and not faults:
        kept.choices = Choices(
            chosen,
            form.defaults,
            form.cleaned_data["existing"],
            form.cleaned_data["numbers_down"],
            form.cleaned_data["letters_given"],
        )
        keep.put(kept)
        return redirect("bring-in-rows", token=kept.token)
    return _page(
        request, kept, table, columns=chosen, fields=fields, form=form, faults=faults, status=422
    )


def _other_header(request: ShopRequest, kept: Kept, table: Table) -> HttpResponse:
    lines = {str(line): line for line, _ in header_rows(table)}
    line = lines.get(request.POST.get("header", ""))
    if line is not None and line != table.line:
        kept.take_header(line)
        keep.put(kept)
    return redirect("bring-in-columns", token=kept.token)


def _page(
    request: ShopRequest,
    kept: Kept,
    table: Table,
    *,
    columns: tuple[Column, ...],
    fields: tuple[Field, ...],
    form: DefaultsForm,
    faults: dict[int, str] | None = None,
    status: int = 200,
) -> HttpResponse:
    shown = [
        _shown(place, column, table, (faults or {}).get(place, ""))
        for place, column in enumerate(columns)
    ]
    context: dict[str, Any] = {
        "kept": kept,
        "step": 2,
        "table": table,
        "header_rows": [
            (line, _short(", ".join(text for text in cells if text)))
            for line, cells in header_rows(table)
        ],
        "columns": shown,
        "groups": [(words, [f for f in fields if f.of == of]) for of, words in GROUPS.items()],
        "form": form,
        "faults": faults,
        "left_out": sum(1 for column in columns if not column.field),
    }
    return show(request, "columns.html", context, status)


def _shown(place: int, column: Column, table: Table, fault: str) -> ShownColumn:
    about = column.about
    measured = about is not None and about.kind in UNITS
    asked = measured and (column.unit or unit_is_asked(column, table, place))
    return ShownColumn(
        place=place,
        letters=letters_of(place),
        header=table.headers[place],
        samples=[_short(text) for text in table.samples(place)],
        column=column,
        units=list(UNITS[about.kind]) if about and asked else [],
        orders=ORDERS if order_is_asked(column, table, place) else (),
        fault=fault,
    )


def _short(text: str) -> str:
    return text if len(text) <= SAMPLE else f"{text[: SAMPLE - 1]}…"
