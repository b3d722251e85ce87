"""Forms speak in the app's own voice, whatever field they are made of, in English and Spanish."""

from __future__ import annotations

from typing import Any

import pytest
from django import forms
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import translation

from shop.forms import LocalMomentField, NumberField

FIELDS: dict[str, forms.Field] = {
    "text": forms.CharField(max_length=3, min_length=2),
    "address": forms.EmailField(),
    "one": forms.ChoiceField(choices=[("a", "A")]),
    "typed": forms.TypedChoiceField(choices=[("a", "A")]),
    "some": forms.MultipleChoiceField(choices=[("a", "A")]),
    "whole": forms.IntegerField(min_value=2, max_value=4),
    "number": forms.FloatField(min_value=0),
    "with_unit": NumberField(unit="h"),
    "price": forms.DecimalField(max_digits=4, decimal_places=1),
    "day": forms.DateField(),
    "clock": forms.TimeField(),
    "moment": LocalMomentField(),
    "ticked": forms.BooleanField(),
    "file": forms.FileField(),
    "key": forms.UUIDField(),
}
FRAMEWORKS_OWN = ("This field", "Enter a", "Ensure", "Select a", "valid", "submitted")


def said(name: str, value: Any = None) -> str:
    made = type("Made", (forms.Form,), {"it": FIELDS[name]})
    with_file = isinstance(value, SimpleUploadedFile)
    sent = value if isinstance(value, dict) else {"it": value} if value and not with_file else {}
    return " ".join(made(sent, {"it": value} if with_file else {}).errors.get("it", []))


@pytest.mark.parametrize("name", FIELDS)
def test_what_is_missing_is_said_in_words_that_say_what_to_do(name):
    words = said(name)
    assert words
    assert not any(phrase in words for phrase in FRAMEWORKS_OWN), words
    with translation.override("es"):
        assert said(name) not in {"", words}


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("text", "abcd", "At most 3 characters; here 4."),
        ("text", "a", "At least 2 characters; here 1."),
        ("address", "nobody", "Write an e-mail address like office@example.com."),
        ("one", "b", "This can't be chosen, or no longer. Choose another."),
        ("some", ["b"], "This can't be chosen, or no longer. Choose another."),
        ("whole", "many", "Write a whole number."),
        ("whole", "5", "At most 4."),
        ("whole", "1", "At least 2."),
        ("number", "all day", "Write a number."),
        ("with_unit", "nan", "Write a number."),
        ("price", "12345", "At most 4 digits."),
        ("price", "1.25", "At most 1 digit after the point."),
        ("day", "31/31/2026", "Write a date like 2026-03-31."),
        ("clock", "noonish", "Write a time like 06:40."),
        ("file", SimpleUploadedFile("a.csv", b""), "This file is empty. Choose another."),
        ("key", "x", "This page is out of date. Load it again."),
    ],
)
def test_what_is_wrong_is_said_in_them_too(name, value, words):
    assert words in said(name, value)


def test_a_field_that_knows_better_keeps_its_own_words():
    field = forms.CharField(error_messages={"required": "Write what the scale showed."})
    with pytest.raises(forms.ValidationError, match="Write what the scale showed"):
        field.clean("")
