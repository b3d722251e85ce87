"""What the office types while a customer asks for a day: lines of pieces, and the day wished."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext_lazy as lazy

from jobs.office.forms import day_input
from jobs.office.pieces import usual, usual_coat
from jobs.services.asked import Asked, AskedPiece, Materials
from shop.forms import MeasureField, ShopForm
from shop.lengths import read_length
from shop.measures import sign
from shop.models import Shop

MOST_LINES, MOST_ALIKE = 12, 12
LINE = re.compile(r"^line(\d{1,4})-area$")


class WishForm(ShopForm):
    wish = forms.DateField(required=False, label=lazy("The day wished"), widget=day_input())
    # Not `matches`: a form's element hides its own method of that name from scripts.
    must_match = forms.BooleanField(
        required=False,
        label=lazy("The pieces must match"),
        help_text=lazy("For their colour: cast in one run where the mixer and the tables take it."),
    )


class LineForm(ShopForm):
    """Pieces that are alike. What it is cast from and how is chosen among what is in use."""

    name = forms.CharField(max_length=60, label=lazy("What it is"))
    area = MeasureField("area", least=0.001, greatest=50, label=lazy("Size or area"))
    thickness = MeasureField("length", least=0.005, greatest=0.5, label=lazy("Thickness"))
    count = forms.IntegerField(
        min_value=1,
        max_value=MOST_ALIKE,
        label=lazy("How many"),
        widget=forms.TextInput(attrs={"inputmode": "numeric", "maxlength": 2}),
    )
    mix = forms.ChoiceField(label=lazy("Mix"))
    route = forms.ChoiceField(label=lazy("Route"))
    sealer = forms.ChoiceField(label=lazy("Sealer"))
    room = forms.ChoiceField(label=lazy("Cast in"))

    def __init__(self, *args: Any, materials: Materials, **kwargs: Any) -> None:
        super().__init__(*args, use_required_attribute=False, **kwargs)
        self.materials = materials
        offered = {
            "mix": materials.mixes,
            "route": materials.routes,
            "sealer": materials.sealers,
            "room": materials.rooms,
        }
        for name, rows in offered.items():
            choices = [(str(key), str(row.name)) for key, row in rows.items()]  # type: ignore[attr-defined]
            self.fields[name].choices = choices  # type: ignore[attr-defined]
            if len(choices) == 1:
                self.fields[name].widget = forms.HiddenInput()
                self.fields[name].initial = choices[0][0]
        self.fields["area"].widget.attrs["placeholder"] = (
            "96 x 25 1/2" if self.shop.us else "2.4 m²"
        )

    def asked(self) -> AskedPiece:
        typed, materials = self.cleaned_data, self.materials
        return AskedPiece(
            name=typed["name"],
            area_m2=typed["area"],
            thickness_m=typed["thickness"],
            count=typed["count"],
            mix=materials.mixes[int(typed["mix"])],
            route=materials.routes[int(typed["route"])],
            sealer=materials.sealers[int(typed["sealer"])],
            room=materials.rooms[int(typed["room"])],
            coat_m=usual_coat(self.shop),
            sides_m=sides(str(self.data.get(self.add_prefix("area"), "")), self.shop),
        )


@dataclass(frozen=True)
class Asking:
    """The whole of what is typed, bound once anything was."""

    wish: WishForm
    lines: list[LineForm]

    def is_valid(self) -> bool:
        return all([self.wish.is_valid(), *[line.is_valid() for line in self.lines]])

    @property
    def asked(self) -> Asked:
        typed = self.wish.cleaned_data
        return Asked(
            tuple(line.asked() for line in self.lines), typed["wish"], bool(typed["must_match"])
        )


def line_numbers(data: QueryDict) -> list[int]:
    found = {int(match[1]) for name in data if (match := LINE.match(name))}
    return sorted(found)[:MOST_LINES]


def blank(shop: Shop, materials: Materials) -> Asking:
    """Nothing typed yet: one line, as most slabs are."""
    return Asking(
        WishForm(shop=shop, initial={"must_match": True}),
        [
            LineForm(
                shop=shop,
                materials=materials,
                prefix="line1",
                initial={"count": 1, "thickness": usual(shop)},
            )
        ],
    )


def typed(data: QueryDict, shop: Shop, materials: Materials) -> Asking:
    lines = [
        LineForm(data, shop=shop, materials=materials, prefix=f"line{number}")
        for number in line_numbers(data)
    ]
    return Asking(WishForm(data, shop=shop), lines)


def with_a_line_more(data: QueryDict) -> QueryDict:
    """The next line, of the same as the last in all but its name and size."""
    changed, numbers = data.copy(), line_numbers(data)
    last = numbers[-1] if numbers else 0
    if len(numbers) < MOST_LINES:
        for name in ("thickness", "mix", "route", "sealer", "room"):
            if (value := data.get(f"line{last}-{name}")) is not None:
                changed[f"line{last + 1}-{name}"] = value
        changed[f"line{last + 1}-area"] = ""
        changed[f"line{last + 1}-count"] = "1"
    return changed


def without_line(data: QueryDict, number: str) -> QueryDict:
    changed = data.copy()
    if len(line_numbers(data)) > 1:
        for name in [name for name in data if name.startswith(f"line{number}-")]:
            del changed[name]
    return changed


def unjudged(asking: Asking) -> Asking:
    """What was typed, without complaints: its writer is not through yet."""
    shop = asking.wish.shop
    values = {name: asking.wish[name].value() for name in asking.wish.fields}
    lines = [
        LineForm(
            shop=shop,
            materials=line.materials,
            prefix=line.prefix,
            initial={name: line[name].value() for name in line.fields},
        )
        for line in asking.lines
    ]
    return Asking(WishForm(shop=shop, initial=values), lines)


def carried(data: QueryDict) -> Iterator[tuple[str, str]]:
    """Names and values by which the lines go along to another page, unseen."""
    numbers = set(line_numbers(data))
    for name in data:
        match = re.match(r"^line(\d{1,4})-[a-z]+$", name)
        if name == "must_match" or (match and int(match[1]) in numbers):
            yield name, str(data[name])


def sides(text: str, shop: Shop) -> tuple[float, float] | None:
    """Length and width where both were typed."""
    parts = re.split(r"[x×*]", text.lower())
    if len(parts) != 2:
        return None
    length, width = (read_length(part, sign("length", shop)) for part in parts)
    return max(length, width), min(length, width)
