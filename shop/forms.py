"""Form fields of the trade and a base form: quantities in the shop's units, times on its clock.

Form texts go through the base form: `class RoomForm(ShopModelForm)`, `RoomForm(shop=request.shop)`.
"""

from __future__ import annotations

import datetime as dt
import math
import zoneinfo
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shop import measures
from shop.edits import Versioned
from shop.localtime import NoSuchTime, TwiceThatTime, to_utc
from shop.models import Shop
from shop.services.errors import Refused


class MeasureField(forms.CharField):
    """A quantity typed in the shop's unit, or with a unit of its own; cleans to a float in SI.

    `least` and `greatest` are in SI; the message names them in the shop's unit.
    """

    shop: Shop

    def __init__(
        self,
        kind: str,
        *,
        least: float | None = None,
        greatest: float | None = None,
        **kwargs: Any,
    ) -> None:
        self.kind, self.least, self.greatest = kind, least, greatest
        super().__init__(**kwargs)
        self.widget.attrs.setdefault("inputmode", "decimal")
        self.widget.attrs.setdefault("autocomplete", "off")
        self.widget.attrs.setdefault("maxlength", 20)

    def meet(self, shop: Shop) -> None:
        self.shop = shop

    @property
    def unit(self) -> str:
        return measures.sign(self.kind, self.shop)

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, (int, float)):
            return measures.typed(value, self.kind, self.shop)
        return value

    def has_changed(self, initial: Any, data: Any) -> bool:
        return str(self.prepare_value(initial) or "") != str(data or "").strip()

    def clean(self, value: Any) -> float | None:
        text = str(super().clean(value) or "").strip()
        if not text:
            return None
        try:
            number = measures.read(text, self.kind, self.shop)
        except ValueError as error:
            raise ValidationError(str(error)) from error
        self._within(number)
        return number

    def _within(self, number: float) -> None:
        # Half a unit in the last place shown, so that the limit itself, as printed, is taken.
        slack = 1e-6 + abs(number) * 1e-4
        if not math.isfinite(number):
            raise ValidationError(_("Write an ordinary number."))
        if self.least is not None and number < self.least - slack:
            limit = measures.limit_words(self.least, self.shop, self.kind, least=True)
            raise ValidationError(_("At least %(limit)s.") % {"limit": limit})
        if self.greatest is not None and number > self.greatest + slack:
            limit = measures.limit_words(self.greatest, self.shop, self.kind, least=False)
            raise ValidationError(_("At most %(limit)s.") % {"limit": limit})


class NumberField(forms.FloatField):
    """A number with its unit beside it, as hours; takes a comma for the point."""

    def __init__(self, *, unit: Any = "", **kwargs: Any) -> None:
        self.unit = unit  # words, which may wait for the reader's language
        kwargs.setdefault(
            "widget", forms.TextInput(attrs={"inputmode": "decimal", "maxlength": 20})
        )
        super().__init__(**kwargs)

    def prepare_value(self, value: Any) -> Any:
        return f"{value:.10g}" if isinstance(value, float) else value

    def to_python(self, value: Any) -> float | None:  # type: ignore[override]
        return super().to_python(str(value or "").strip().replace(",", ".") or None)


class PercentField(NumberField):
    """Typed as 55, cleans to 0.55."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(unit="%", **kwargs)

    def prepare_value(self, value: Any) -> Any:
        return f"{value * 100:.6g}" if isinstance(value, (int, float)) else value

    def clean(self, value: Any) -> float | None:
        number: float | None = super().clean(value)
        if number is None:
            return None
        if not 0 <= number <= 100:
            raise ValidationError(_("Between 0 and 100 %."))
        return number / 100


class LocalMomentWidget(forms.MultiWidget):
    """Date and clock time; and, on the night the clocks go back, which of the two is meant."""

    zone: zoneinfo.ZoneInfo | None = None

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        day, clock, which = (
            gettext_lazy("date"),
            gettext_lazy("time"),
            gettext_lazy("which of the two"),
        )
        parts: list[forms.Widget | type[forms.Widget]] = [
            forms.DateInput(format="%Y-%m-%d", attrs={"type": "date", "aria-label": day}),
            forms.TimeInput(format="%H:%M", attrs={"type": "time", "aria-label": clock}),
            forms.Select(attrs={"aria-label": which}),
        ]
        super().__init__(parts, attrs)

    def id_for_label(self, id_: str) -> str:
        return f"{id_}_0" if id_ else ""

    def decompress(self, value: dt.datetime | None) -> list[Any]:
        if value is None:
            return [None, None, None]
        local = timezone.localtime(value, self.zone)
        return [local.date(), local.time(), str(local.fold)]

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        parts = value if isinstance(value, list) else self.decompress(value)
        choices = self._two_moments(parts)
        self.widgets[2].choices = choices  # type: ignore[attr-defined]
        context = super().get_context(name, parts, attrs)
        if not choices:
            context["widget"]["subwidgets"].pop()
        return context

    def _two_moments(self, parts: list[Any]) -> list[tuple[str, str]]:
        local = local_moment(parts[0], parts[1])
        if local is None or self.zone is None:
            return []
        try:
            to_utc(local, self.zone)
        except TwiceThatTime as twice:
            first, second = (moment.astimezone(self.zone) for moment in twice.choices)
            return [
                ("", _("which?")),
                ("0", _("the first, %(zone)s") % {"zone": first.strftime("%Z")}),
                ("1", _("the second, %(zone)s") % {"zone": second.strftime("%Z")}),
            ]
        except NoSuchTime:
            pass
        return []


def local_moment(day: Any, clock: Any) -> dt.datetime | None:
    try:
        date = day if isinstance(day, dt.date) else dt.date.fromisoformat(str(day))
        time = clock if isinstance(clock, dt.time) else dt.time.fromisoformat(str(clock))
    except ValueError:
        return None
    return dt.datetime.combine(date, time.replace(second=0, microsecond=0, tzinfo=None))


class LocalMomentField(forms.MultiValueField):
    """Date and time on the shop's clock; cleans to a moment in UTC."""

    widget = LocalMomentWidget

    def __init__(self, **kwargs: Any) -> None:
        fields = (
            forms.DateField(error_messages={"invalid": gettext_lazy("Write a date.")}),
            forms.TimeField(error_messages={"invalid": gettext_lazy("Write a time like 06:40.")}),
            forms.CharField(required=False, max_length=1),
        )
        super().__init__(fields, require_all_fields=False, **kwargs)

    def meet(self, shop: Shop) -> None:
        self.zone = shop.zone
        self.widget.zone = shop.zone

    def compress(self, data_list: list[Any]) -> dt.datetime | None:
        if not data_list or data_list[0] is None or data_list[1] is None:
            return None
        local = dt.datetime.combine(data_list[0], data_list[1].replace(second=0, microsecond=0))
        try:
            return to_utc(local, self.zone)
        except TwiceThatTime as twice:
            if data_list[2] in {"0", "1"}:
                return twice.choices[int(data_list[2])]
            raise ValidationError(str(twice)) from twice
        except NoSuchTime as error:
            raise ValidationError(str(error)) from error


class ShopForm(Versioned, forms.Form):
    """What each form of the app shares: the shop's units and clock, refusals, versions."""

    shop: Shop

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        prepare(self, shop)

    def clean(self) -> dict[str, Any]:
        return keep_untouched(self, super().clean() or self.cleaned_data)

    def refuse(self, error: Refused) -> None:
        refuse(self, error)


class ShopModelForm(Versioned, forms.ModelForm):
    """A form whose fields and limits come from a model. It never saves: services write."""

    versioned: ClassVar[bool] = True
    shop: Shop

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        prepare(self, shop)

    def clean(self) -> dict[str, Any]:
        return keep_untouched(self, super().clean() or self.cleaned_data)

    def refuse(self, error: Refused) -> None:
        refuse(self, error)

    def save(self, commit: bool = True) -> Any:
        raise TypeError("A form of the shop does not save; give its values to a service.")

    @property
    def values(self) -> dict[str, Any]:
        """The cleaned values of the model's own fields."""
        own = {field.name for field in self._meta.model._meta.get_fields()}
        return {k: v for k, v in self.cleaned_data.items() if k in own and k != "version"}


def prepare(form: Any, shop: Shop) -> None:
    form.shop = shop
    form.label_suffix = ""
    for field in form.fields.values():
        field.label = in_own_degrees(field.label, shop)
        field.help_text = in_own_degrees(field.help_text, shop)
        if hasattr(field, "meet"):
            field.meet(shop)


def in_own_degrees(text: Any, shop: Shop) -> Any:
    """Words that name the warmth of a standard say it in the degrees the shop reads."""
    return str(text) % {"warmth": measures.warmth(shop)} if "%(warmth)s" in str(text) else text


def keep_untouched(form: Any, cleaned: dict[str, Any]) -> dict[str, Any]:
    """A quantity nobody touched stays as stored, not as its rounded text reads."""
    for name, field in form.fields.items():
        initial = form.get_initial_for_field(field, name)
        if not isinstance(field, MeasureField) or name not in cleaned or initial is None:
            continue
        if not field.has_changed(initial, form[name].data):
            cleaned[name] = initial
    return cleaned


def refuse(form: Any, error: Refused) -> None:
    form.add_error(error.field if error.field in form.fields else None, error.message)
