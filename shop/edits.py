"""Two people at one form: the second saver is told what the first changed, and loses nothing."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any, ClassVar

from django import forms
from django.utils.translation import gettext as _

from shop.services.errors import Conflict


@dataclass(frozen=True)
class Difference:
    label: str
    now: str
    mine: str
    taken: bool  # I had not touched it, so the form now carries theirs


class Versioned:
    """Mixin for forms: a hidden `version`, and what its person saw when it was opened.

    A form that is stale tells apart what the other changed and what its own person did.
    """

    versioned: ClassVar[bool] = False
    fields: dict[str, forms.Field]
    data: Any

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.theirs: list[Difference] = []
        self.stale = False
        if self.versioned:
            self._carry_version()

    def _carry_version(self) -> None:
        hidden = {"required": False, "widget": forms.HiddenInput}
        self.fields["version"] = forms.IntegerField(**hidden)  # type: ignore[arg-type]
        self.fields["seen"] = forms.CharField(**hidden)  # type: ignore[arg-type]
        self.initial.setdefault("version", self.standing_version())  # type: ignore[attr-defined]

    def standing_version(self) -> int | None:
        """Of what is being edited; None while it is new."""
        instance = getattr(self, "instance", None)
        return instance.version if instance is not None and instance.pk else None

    def __getitem__(self, name: str) -> forms.BoundField:
        if name == "seen" and "seen" not in self.initial:  # type: ignore[attr-defined]
            # Only now do the fields know the shop's units.
            self.initial["seen"] = json.dumps(self._texts({}))  # type: ignore[attr-defined]
        field: forms.BoundField = super().__getitem__(name)  # type: ignore[misc]
        return field

    @property
    def own_version(self) -> int:
        """Nought for a form that came without one, which is never a row's version."""
        return int(self.cleaned_data.get("version") or 0)  # type: ignore[attr-defined]

    def meet(self, conflict: Conflict, current: dict[str, Any]) -> None:
        """Take over what only the other changed, keep what this person typed, and say both."""
        self.stale = True
        seen, now = self._seen(), self._texts(current)
        data = self.data.copy()
        for name, text in now.items():
            key = self.add_prefix(name)  # type: ignore[attr-defined]
            mine = _typed(self.fields[name], data, key)
            if text in (mine, seen.get(name)):
                continue
            taken = mine == seen.get(name)
            if taken:
                _put(self.fields[name], data, key, text)
            self.theirs.append(self._difference(name, text, mine, taken=taken))
        data[self.add_prefix("version")] = str(conflict.version)  # type: ignore[attr-defined]
        data[self.add_prefix("seen")] = json.dumps(now)  # type: ignore[attr-defined]
        self.data = data
        self.add_error(None, conflict.message)  # type: ignore[attr-defined]

    def _difference(self, name: str, now: str, mine: str, *, taken: bool) -> Difference:
        field = self.fields[name]
        label = self[name].label
        return Difference(str(label), _spoken(field, now), _spoken(field, mine), taken)

    def _seen(self) -> dict[str, str]:
        raw = self.data.get(self.add_prefix("seen")) or "{}"  # type: ignore[attr-defined]
        try:
            seen = json.loads(raw)
        except ValueError:
            return {}
        return seen if isinstance(seen, dict) else {}

    def _texts(self, current: dict[str, Any]) -> dict[str, str]:
        texts = {}
        for name, field in self.fields.items():
            if name in {"version", "seen"} or isinstance(field.widget, forms.MultiWidget):
                continue
            initial = self.get_initial_for_field(field, name)  # type: ignore[attr-defined]
            texts[name] = _text(field, current.get(name, initial))
        return texts


def _text(field: forms.Field, value: Any) -> str:
    """A stored value as the form's control would send it; several ticks in one, with commas."""
    if isinstance(field, forms.MultipleChoiceField):
        return ",".join(sorted(str(item) for item in value or ()))
    if isinstance(field.widget, forms.CheckboxInput):
        return "on" if value else ""
    shown = field.widget.format_value(field.prepare_value(value))
    if isinstance(shown, list):
        shown = shown[0] if shown else ""
    return "" if shown is None else str(shown)


def _typed(field: forms.Field, data: Any, key: str) -> str:
    if isinstance(field, forms.MultipleChoiceField):
        return _text(field, data.getlist(key))
    raw = data.get(key)
    if isinstance(field.widget, forms.CheckboxInput):
        return "on" if raw else ""
    return str(raw or "").replace("\r\n", "\n").strip()


def _put(field: forms.Field, data: Any, key: str, text: str) -> None:
    if isinstance(field, forms.MultipleChoiceField):
        data.setlist(key, text.split(",") if text else [])
    else:
        data[key] = text


def _spoken(field: forms.Field, text: str) -> str:
    if isinstance(field.widget, forms.CheckboxInput):
        return _("yes") if text else _("no")
    if isinstance(field, forms.MultipleChoiceField):
        ticks: Any = field.choices
        ticked = text.split(",")
        return ", ".join(str(said) for key, said in ticks if str(key) in ticked) or _("empty")
    if isinstance(field, forms.ChoiceField):
        choices: Any = field.choices
        return str({str(key): words for key, words in choices}.get(text, text))
    unit = getattr(field, "unit", "")
    return f"{text} {unit}".strip() if text else _("empty")
