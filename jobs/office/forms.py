"""What the office types: jobs, customers, pieces, and what a customer is told."""

from __future__ import annotations

import hashlib
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import MaxLengthValidator
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from jobs.models import Customer, Job, Notice, Piece
from jobs.services.orders import coat_fault
from shop.forms import MeasureField, PercentField, ShopForm, ShopModelForm
from shop.models import Mix, Room, Route, Sealer
from shop.templatetags.measures import percent

MATTERS = [
    (1, lazy("1, as others")),
    (2, lazy("2")),
    (3, lazy("3")),
    (4, lazy("4")),
    (5, lazy("5, before all others")),
]


def day_input() -> forms.DateInput:
    return forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})


class CustomerForm(ShopModelForm):
    class Meta:
        model = Customer
        fields = ["name", "email", "phone", "address", "notes"]
        labels: ClassVar[dict[str, Any]] = {
            "name": lazy("Name"),
            "email": lazy("E-mail"),
            "phone": lazy("Phone"),
            "address": lazy("Address"),
            "notes": lazy("Notes, seen only in the office"),
        }
        widgets: ClassVar[dict[str, Any]] = {
            "phone": forms.TextInput(attrs={"type": "tel"}),
            "address": forms.Textarea(attrs={"rows": 3}),
            "notes": forms.Textarea(attrs={"rows": 3}),
        }


class NewCustomerForm(CustomerForm):
    """A customer written down together with the first job; all empty means none."""

    versioned = False

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(
            *args, prefix="new", empty_permitted=True, use_required_attribute=False, **kwargs
        )

    class Meta(CustomerForm.Meta):
        fields = ["name", "email", "phone", "address"]


class JobForm(ShopModelForm):
    class Meta:
        model = Job
        fields = [
            "number", "title", "customer", "site", "site_contact", "site_ready", "taken_on",
            "promised_on", "promised_by", "weight", "price", "notes",
        ]  # fmt: skip
        labels: ClassVar[dict[str, Any]] = {
            "number": lazy("Job number"),
            "title": lazy("What it is"),
            "customer": lazy("Customer"),
            "site": lazy("Site"),
            "site_contact": lazy("Who opens there"),
            "site_ready": lazy("What must be ready on site"),
            "taken_on": lazy("Taken on"),
            "promised_on": lazy("Promised for"),
            "promised_by": lazy("by"),
            "weight": lazy("How much this promise matters"),
            "price": lazy("Price"),
            "notes": lazy("Notes, never shown to the customer"),
        }
        help_texts: ClassVar[dict[str, Any]] = {
            "number": lazy("It stands on every form of this job."),
            "title": lazy("The customer reads it: Kitchen island, Two vanities."),
            "site": lazy("Where it is installed."),
            "site_contact": lazy("Name and phone, for whoever drives. It stands on the load list."),
            "site_ready": lazy("A line each, for the load list. Empty: the shop's own words."),
            "promised_on": lazy("Empty while nothing is promised."),
            "weight": lazy("Counts when not all promises can be kept."),
        }
        widgets: ClassVar[dict[str, Any]] = {
            "site_ready": forms.Textarea(attrs={"rows": 3}),
            "taken_on": day_input(),
            "promised_on": day_input(),
            "promised_by": forms.TimeInput(format="%H:%M", attrs={"type": "time"}),
            "weight": forms.Select(choices=MATTERS),
            "price": forms.TextInput(attrs={"inputmode": "decimal"}),
            "notes": forms.Textarea(attrs={"rows": 3}),
        }

    def __init__(self, *args: Any, prices: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not prices:
            del self.fields["price"]
        leave_by = f"{self.shop.leave_by:%H:%M}"
        self.fields["promised_by"].help_text = _("Empty: %(time)s, as the shop has it.") % {
            "time": leave_by
        }

    def validate_unique(self) -> None:
        """Left to the service, which says which number is taken."""

    def _get_validation_exclusions(self) -> set[str]:
        # Likewise the service names the two days that are at odds, not a constraint.
        given: set[str] = super()._get_validation_exclusions()  # type: ignore[misc]
        return given | {"taken_on"}

    def clean_price(self) -> Any:
        price = self.cleaned_data["price"]
        if price is not None and price < 0:
            raise ValidationError(_("A price is not below zero."))
        return price


class NewJobForm(JobForm):
    """The customer is one that is known, or a new one with fields of its own."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        customer = self.fields["customer"]
        customer.required = False
        customer.empty_label = _("a new one, in its own fields")  # type: ignore[attr-defined]


class PieceForm(ShopModelForm):
    area_m2 = MeasureField(
        "area",
        least=0.001,
        greatest=50,
        label=lazy("Area"),
        help_text=lazy("Or length x width. Its shape, once it is entered, gives it."),
        widget=forms.TextInput(attrs={"inputmode": "text"}),
    )
    thickness_m = MeasureField("length", least=0.005, greatest=0.5, label=lazy("Thickness"))
    coat_m = MeasureField(
        "length",
        least=0.0,
        greatest=0.1,
        label=lazy("Of it, face coat"),
        help_text=lazy("Cast first, without fibre. 0 where there is none."),
    )
    waste = PercentField(required=False, label=lazy("Waste"))

    class Meta:
        model = Piece
        fields = [
            "letter", "name", "area_m2", "thickness_m", "coat_m", "room", "mix", "matches_job",
            "waste", "route", "sealer", "notes",
        ]  # fmt: skip
        labels: ClassVar[dict[str, Any]] = {
            "letter": lazy("Letter"),
            "name": lazy("Name"),
            "room": lazy("Cast and cured in"),
            "mix": lazy("Mix"),
            "matches_job": lazy("Must match the job's other pieces"),
            "route": lazy("Route"),
            "sealer": lazy("Sealer"),
            "notes": lazy("Notes for the shop"),
        }
        help_texts: ClassVar[dict[str, Any]] = {
            "matches_job": lazy("For its colour: one recipe, same lots, one run where it fits."),
        }
        widgets: ClassVar[dict[str, Any]] = {"notes": forms.Textarea(attrs={"rows": 3})}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        shares = {"face": self.shop.waste_face, "backer": self.shop.waste_backer}
        self.fields["waste"].help_text = _(
            "Mixed beyond what its form holds. Empty: the shop's own, %(face)s of face coat and "
            "%(backer)s of backer and ribs."
        ) % {name: percent(share) for name, share in shares.items()}
        for name, model in {"room": Room, "mix": Mix, "route": Route, "sealer": Sealer}.items():
            offered = model._default_manager.filter(in_use=True)
            if current := getattr(self.instance, f"{name}_id"):
                offered = offered | model._default_manager.filter(pk=current)
            self.fields[name].queryset = offered.distinct()  # type: ignore[attr-defined]
        if self.instance.shape:
            del self.fields["area_m2"]  # it follows from the section

    def clean_letter(self) -> str:
        return str(self.cleaned_data["letter"]).upper()

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if words := coat_fault(cleaned.get("coat_m"), cleaned.get("thickness_m"), self.shop):
            self.add_error("coat_m", words)
        return cleaned


class TellForm(ShopForm):
    """One notice. `drafted` knows whether somebody changed the text that was prefilled."""

    means = forms.ChoiceField(choices=Notice.Means.choices, widget=forms.HiddenInput)
    told_on = forms.DateField(label=lazy("The day that is told"), widget=day_input())
    to = forms.CharField(max_length=120, required=False)
    subject = forms.CharField(max_length=200, required=False, label=lazy("Subject"))
    body = forms.CharField(max_length=4000, required=False, label=lazy("Text"))
    promise_too = forms.BooleanField(
        required=False, label=lazy("This is now the promised day, too")
    )
    anyway = forms.BooleanField(
        required=False, label=lazy("I know that nothing holds this day, and tell it anyway")
    )
    client_key = forms.UUIDField(widget=forms.HiddenInput)
    job_version = forms.IntegerField(widget=forms.HiddenInput)
    drafted = forms.CharField(widget=forms.HiddenInput, required=False)
    # Pieces that could come in a delivery before the others, by code.
    first = forms.CharField(widget=forms.HiddenInput, required=False, max_length=200)

    TO: ClassVar[dict[str, Any]] = {
        Notice.Means.EMAIL: lazy("E-mail to"),
        Notice.Means.TEXT: lazy("Phone"),
        Notice.Means.CALL: lazy("Phone"),
        Notice.Means.LETTER: lazy("Addressed to"),
    }
    TEXT: ClassVar[dict[str, Any]] = {
        Notice.Means.CALL: lazy("What to say, or what was said"),
        Notice.Means.TEXT: lazy("Text to copy into the phone"),
    }

    def __init__(self, *args: Any, means: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["to"].label = self.TO[Notice.Means(means)]
        if means in self.TEXT:
            self.fields["body"].label = self.TEXT[Notice.Means(means)]
        rows = {Notice.Means.EMAIL: 20, Notice.Means.LETTER: 9}.get(Notice.Means(means), 5)
        self.fields["body"].widget = forms.Textarea(attrs={"rows": rows, "maxlength": 4000})
        if means == Notice.Means.EMAIL:
            self.fields["to"] = forms.EmailField(max_length=120, label=self.fields["to"].label)
            self.fields["subject"].required = True
        if means != Notice.Means.CALL:
            self.fields["body"].required = True
        if means == Notice.Means.LETTER:
            self.fields["body"].validators.append(MaxLengthValidator(1500))
        if means != Notice.Means.EMAIL:
            del self.fields["subject"]

    @property
    def notice_values(self) -> dict[str, Any]:
        names = ("means", "told_on", "to", "subject", "body", "promise_too", "anyway", "client_key")
        return {name: self.cleaned_data[name] for name in names if name in self.cleaned_data}


def print_of(subject: str, body: str) -> str:
    """Tells whether a text is still the one that was prefilled."""
    plain = "\n".join((subject.strip(), body.replace("\r\n", "\n").strip()))
    return hashlib.sha256(plain.encode()).hexdigest()[:16]
