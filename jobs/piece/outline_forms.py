"""Forms of an outline that comes out of a DXF file: the file, then what of it is meant."""

from __future__ import annotations

import base64
import binascii
import zlib
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from jobs.services.outline_in import Wanted, layer_called, only_layer
from jobs.shapes.dxf_in import MOST_BYTES, Contents, Layer
from jobs.shapes.dxf_out import CUTOUTS, OUTLINE
from shop.forms import ShopForm

UNIT_WORDS = {
    "in": lazy("inches"),
    "ft": lazy("feet"),
    "mm": lazy("millimetres"),
    "cm": lazy("centimetres"),
    "m": lazy("metres"),
}
MOST_LAYERS = 60  # shown to choose from


def packed(data: bytes) -> str:
    """A file as a hidden field carries it from one step to the next: nothing of it is kept here."""
    return base64.b64encode(zlib.compress(data, 6)).decode("ascii")


def unpacked(text: str) -> bytes:
    """Raises ValidationError for what `packed` has not made; no more than a file may hold."""
    try:
        squeezed = base64.b64decode(text.encode("ascii"), validate=True)
        data = zlib.decompressobj().decompress(squeezed, MOST_BYTES + 1)
    except (ValueError, binascii.Error, zlib.error) as error:
        raise ValidationError(_("The file did not come along. Choose it again.")) from error
    if not data:
        raise ValidationError(_("The file did not come along. Choose it again."))
    return data


class OutlineFileForm(ShopForm):
    file = forms.FileField(
        label=lazy("DXF file"),
        allow_empty_file=True,  # so that it is said what an empty file is
        max_length=200,
        help_text=lazy("ASCII DXF with the outline as closed lines, at most 4 MB."),
        widget=forms.FileInput(attrs={"accept": ".dxf,image/vnd.dxf"}),
        error_messages={"required": lazy("Choose the file.")},
    )


@dataclass(frozen=True)
class LayerRow:
    """A layer of the file and what of it is chosen."""

    place: int
    layer: Layer
    outline: bool
    cutouts: bool

    @property
    def unread(self) -> str:
        return ", ".join(self.layer.unread[:8])


class OutlineChoiceForm(ShopForm):
    outline = forms.TypedChoiceField(
        coerce=int,
        error_messages={"required": lazy("Choose the layer with the outline.")},
    )
    cutouts = forms.TypedMultipleChoiceField(coerce=int, required=False)
    unit = forms.ChoiceField(
        label=lazy("It is drawn in"),
        error_messages={"required": lazy("Choose the unit it is drawn in.")},
    )
    opens = forms.BooleanField(
        required=False,
        label=lazy("A cutout that runs out through a side opens it, as for an apron sink"),
    )
    piece_version = forms.IntegerField(widget=forms.HiddenInput)
    payload = forms.CharField(widget=forms.HiddenInput)
    file_name = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, contents: Contents, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.contents = contents
        places = [(str(place), layer.name) for place, layer in self.offered]
        self.fields["outline"].choices = places  # type: ignore[attr-defined]
        self.fields["cutouts"].choices = places  # type: ignore[attr-defined]
        if contents.unit:
            del self.fields["unit"]
        else:
            self.fields["unit"].choices = [  # type: ignore[attr-defined]
                ("", _("Choose one")),
                *UNIT_WORDS.items(),
            ]

    @property
    def offered(self) -> list[tuple[int, Layer]]:
        """Layers with something to read, of which the first are shown."""
        drawn = [(place, one) for place, one in enumerate(self.contents.layers) if one.read]
        return drawn[:MOST_LAYERS]

    @property
    def left_out(self) -> int:
        return sum(1 for layer in self.contents.layers if layer.read) - len(self.offered)

    @property
    def rows(self) -> list[LayerRow]:
        outline = str(self["outline"].value() or "")
        if self["outline"].value() == 0:
            outline = "0"
        cutouts = {str(value) for value in self["cutouts"].value() or ()}
        return [
            LayerRow(place, layer, str(place) == outline, str(place) in cutouts)
            for place, layer in self.offered
        ]

    @property
    def named_unit(self) -> Any:
        return UNIT_WORDS.get(self.contents.unit or "", "")

    @property
    def wanted(self) -> Wanted:
        given = self.cleaned_data
        return Wanted(
            given["outline"], tuple(given["cutouts"]), given.get("unit", ""), given["opens"]
        )


def first_choices(contents: Contents) -> dict[str, Any]:
    """The layers that a file of this app has, or the only one with lines."""
    outline, cutouts = layer_called(contents, OUTLINE), layer_called(contents, CUTOUTS)
    if outline is None:
        outline = only_layer(contents)
    return {"outline": outline, "cutouts": [] if cutouts is None else [cutouts]}
