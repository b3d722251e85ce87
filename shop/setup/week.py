"""A week of rows in one form: some rows a weekday, or 'as the day before'; no scripts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.forms import BaseFormSet, formset_factory
from django.http import QueryDict

from shop.forms import ShopForm
from shop.models import Shop
from shop.setup.forms import WEEKDAYS

Rows = list[dict[str, Any]]
SPARE_ROWS = 2


@dataclass
class Day:
    number: int
    name: Any
    rows: BaseFormSet[ShopForm]
    same: bool

    @property
    def same_name(self) -> str:
        return f"same{self.number}"


class WeekForm:
    """`stored` maps a weekday to its rows; a day that equals the one before is shown as such."""

    def __init__(
        self,
        form: type[ShopForm],
        *,
        shop: Shop,
        stored: Mapping[int, Rows],
        data: QueryDict | None = None,
        most_rows: int = 26,
    ) -> None:
        self.form, self.shop, self.data, self.stored = form, shop, data, stored
        self.formset = formset_factory(
            form, extra=SPARE_ROWS, max_num=most_rows, absolute_max=most_rows + 4, validate_max=True
        )
        self.days = [self._day(number) for number in range(7)]

    def _day(self, number: int) -> Day:
        common: dict[str, Any] = {"prefix": f"d{number}", "form_kwargs": {"shop": self.shop}}
        if self.data is not None:
            same = number > 0 and bool(self.data.get(f"same{number}"))
            return Day(number, WEEKDAYS[number], self.formset(self.data, **common), same)
        rows = self.stored.get(number, [])
        same = number > 0 and bool(rows) and rows == self.stored.get(number - 1, [])
        return Day(
            number, WEEKDAYS[number], self.formset(initial=[] if same else rows, **common), same
        )

    def is_valid(self) -> bool:
        checks = [day.same or day.rows.is_valid() for day in self.days]  # all say what is wrong
        return all(checks)

    def rows(self, key: str) -> list[tuple[int, dict[str, Any]]]:
        """(weekday, values) of every row in which `key` is filled in."""
        filled: list[tuple[int, dict[str, Any]]] = []
        before: Rows = []
        for day in self.days:
            if not day.same:
                before = [
                    form.cleaned_data for form in day.rows if form.cleaned_data.get(key) is not None
                ]
            filled += [(day.number, values) for values in before]
        return filled
