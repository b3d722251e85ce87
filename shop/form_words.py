"""What a form says of a field, in the app's own words: each says what to do about it.

Told once to Django's fields and validators, so that every form speaks alike; a field that knows
better has words of its own.
"""

from __future__ import annotations

from typing import Any

from django import forms
from django.core import validators
from django.utils.translation import gettext_lazy, ngettext_lazy

GONE = gettext_lazy("This can't be chosen, or no longer. Choose another.")
OLD_PAGE = gettext_lazy("This page is out of date. Load it again.")
DAY = gettext_lazy("Write a date like 2026-03-31.")

WORDS: dict[type[forms.Field], dict[str, Any]] = {
    forms.Field: {"required": gettext_lazy("Fill this in: nothing is written here yet.")},
    forms.BooleanField: {"required": gettext_lazy("Tick this to go on.")},
    forms.ChoiceField: {"required": gettext_lazy("Choose one."), "invalid_choice": GONE},
    forms.MultipleChoiceField: {
        "required": gettext_lazy("Choose at least one."),
        "invalid_choice": GONE,
    },
    forms.ModelChoiceField: {"required": gettext_lazy("Choose one."), "invalid_choice": GONE},
    forms.ModelMultipleChoiceField: {
        "required": gettext_lazy("Choose at least one."),
        "invalid_choice": GONE,
        "invalid_pk_value": GONE,
    },
    forms.IntegerField: {
        "required": gettext_lazy("Write a number: nothing is written here yet."),
        "invalid": gettext_lazy("Write a whole number."),
    },
    forms.FloatField: {"invalid": gettext_lazy("Write a number.")},
    forms.DecimalField: {"invalid": gettext_lazy("Write a number.")},
    forms.DateField: {"required": gettext_lazy("Give a date."), "invalid": DAY},
    forms.TimeField: {
        "required": gettext_lazy("Give a time."),
        "invalid": gettext_lazy("Write a time like 06:40."),
    },
    forms.MultiValueField: {"required": gettext_lazy("Fill this in: a part of it is missing.")},
    # A key that the page carries for itself.
    forms.UUIDField: {"required": OLD_PAGE, "invalid": OLD_PAGE},
    forms.FileField: {
        "required": gettext_lazy("Choose the file."),
        "missing": gettext_lazy("Choose the file."),
        "empty": gettext_lazy("This file is empty. Choose another."),
    },
}

LIMITS: dict[type[validators.BaseValidator], Any] = {
    validators.MinValueValidator: gettext_lazy("At least %(limit_value)s."),
    validators.MaxValueValidator: gettext_lazy("At most %(limit_value)s."),
    validators.MinLengthValidator: ngettext_lazy(
        "At least %(limit_value)d character; here %(show_value)d.",
        "At least %(limit_value)d characters; here %(show_value)d.",
        "limit_value",
    ),
    validators.MaxLengthValidator: ngettext_lazy(
        "At most %(limit_value)d character; here %(show_value)d.",
        "At most %(limit_value)d characters; here %(show_value)d.",
        "limit_value",
    ),
}
DIGITS = {
    "max_digits": ngettext_lazy("At most %(max)s digit.", "At most %(max)s digits.", "max"),
    "max_decimal_places": ngettext_lazy(
        "At most %(max)s digit after the point.", "At most %(max)s digits after the point.", "max"
    ),
    "max_whole_digits": ngettext_lazy(
        "At most %(max)s digit before the point.",
        "At most %(max)s digits before the point.",
        "max",
    ),
}
ADDRESS = gettext_lazy("Write an e-mail address like office@example.com.")


def speak() -> None:
    for field, words in WORDS.items():
        own = field.__dict__.get("default_error_messages", {})
        field.default_error_messages = {**own, **words}
    for limit, said in LIMITS.items():
        limit.message = said
    decimals: dict[str, Any] = {**validators.DecimalValidator.messages, **DIGITS}
    validators.DecimalValidator.messages = decimals
    validators.EmailValidator.message = ADDRESS
    validators.validate_email.message = ADDRESS
