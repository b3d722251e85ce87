"""What somebody wonders about: nothing typed leaves it as it is."""

from __future__ import annotations

from typing import Any

from django import forms

from jobs.services.course import OpenPiece
from jobs.services.what_if import Thought, mixes_on_offer, sealers_on_offer
from shop.forms import LocalMomentField, MeasureField, ShopForm
from shop.models import Mix, Sealer

COLDEST_ROOM, HOTTEST_ROOM = 0.0, 45.0  # °C
BOTH = dict.fromkeys(("required", "incomplete"), "Give a date and a time.")


class WhatIfForm(ShopForm):
    cast_at = LocalMomentField(label="Cast at", required=False, error_messages=BOTH)
    celsius = MeasureField(
        "temperature",
        label="Room kept at, from now on",
        required=False,
        least=COLDEST_ROOM,
        greatest=HOTTEST_ROOM,
        help_text="Humidity is taken as it is expected.",
    )
    mix = forms.ChoiceField(label="Mix", required=False)
    sealer = forms.ChoiceField(label="Sealer", required=False)

    def __init__(self, *args: Any, opened: OpenPiece, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        piece = opened.piece
        self.mixes = {str(row.pk): row for row in mixes_on_offer(piece)}
        self.sealers = {str(row.pk): row for row in sealers_on_offer(piece)}
        self._offer("mix", piece.mix, self.mixes)
        self._offer("sealer", piece.sealer, self.sealers)

    def _offer(
        self, name: str, now: Mix | Sealer, others: dict[str, Mix] | dict[str, Sealer]
    ) -> None:
        choices = [("", f"as it is: {now.name}"), *((k, row.name) for k, row in others.items())]
        self.fields[name].choices = choices  # type: ignore[attr-defined]

    @property
    def thought(self) -> Thought:
        values = self.cleaned_data
        return Thought(
            cast_at=values["cast_at"],
            celsius=values["celsius"],
            mix=self.mixes.get(values["mix"]),
            sealer=self.sealers.get(values["sealer"]),
        )
