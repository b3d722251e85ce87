from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth import password_validation
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shop.forms import ShopForm, ShopModelForm
from shop.models import Person

# Django's own compares with a first and a last name, which a person here has not.
LIKE_THE_PERSON = password_validation.UserAttributeSimilarityValidator(("name", "email"))


def password_input(autocomplete: str) -> forms.PasswordInput:
    return forms.PasswordInput(attrs={"autocomplete": autocomplete, "maxlength": 200})


class SignInForm(ShopForm):
    email = forms.EmailField(
        label=gettext_lazy("E-mail"),
        max_length=254,
        widget=forms.EmailInput(attrs={"autocomplete": "username", "autofocus": True}),
    )
    password = forms.CharField(
        label=gettext_lazy("Password"),
        max_length=200,
        strip=False,
        widget=password_input("current-password"),
    )

    def clean_email(self) -> str:
        # One spelling, so that failed tries of one address are counted together.
        return str(self.cleaned_data["email"]).lower()


class NewPasswordForm(ShopForm):
    """The new password twice; `person` is whom it must not resemble."""

    new = forms.CharField(
        label=gettext_lazy("New password"),
        max_length=200,
        strip=False,
        widget=password_input("new-password"),
        help_text=gettext_lazy(
            "At least 10 characters. Three or four words that don't belong together are good."
        ),
    )
    again = forms.CharField(
        label=gettext_lazy("New password once more"),
        max_length=200,
        strip=False,
        widget=password_input("new-password"),
    )

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.person = person

    def clean_new(self) -> str:
        new = str(self.cleaned_data["new"])
        password_validation.validate_password(new, self.person)
        LIKE_THE_PERSON.validate(new, self.person)
        return new

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("new") and cleaned.get("again") and cleaned["new"] != cleaned["again"]:
            self.add_error("again", _("The two are not the same."))
        return cleaned


class JoinForm(NewPasswordForm):
    language = forms.ChoiceField(
        label=gettext_lazy("Language"), choices=[("en", "English"), ("es", "Español")]
    )


class ChangePasswordForm(NewPasswordForm):
    old = forms.CharField(
        label=gettext_lazy("Password now"),
        max_length=200,
        strip=False,
        widget=password_input("current-password"),
    )
    field_order = ["old", "new", "again"]

    def clean_old(self) -> str:
        old = str(self.cleaned_data["old"])
        if not self.person.check_password(old):
            raise forms.ValidationError(_("That is not your password now."))
        return old


class OwnForm(ShopModelForm):
    class Meta:
        model = Person
        fields = ["name", "language"]
        labels = {"name": gettext_lazy("Name"), "language": gettext_lazy("Language")}
