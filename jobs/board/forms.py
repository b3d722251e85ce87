"""Setting a cast or an install: what somebody chooses, checked before a service takes it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from jobs.board.words import clock_words
from jobs.models import Piece
from jobs.services.casting import several_mixes
from shop.edits import Difference
from shop.forms import LocalMomentField, NumberField, ShopForm
from shop.models import Room
from shop.services.calendar import working_windows
from shop.services.errors import Conflict


@dataclass(frozen=True)
class PieceChoice:
    piece: Piece
    latest_cast: dt.datetime | None
    too_late: bool
    set_for: dt.datetime | None  # by another cast
    checked: bool


BOTH = dict.fromkeys(("required", "incomplete"), "Give a date and a time.")


class PlanForm(ShopForm):
    """A form for a moment that another user may have moved meanwhile."""

    version = forms.IntegerField(required=False, widget=forms.HiddenInput)
    moment_name: str
    note = forms.CharField(max_length=200, required=False, label="Note")

    @property
    def moment(self) -> dt.datetime:
        value: dt.datetime = self.cleaned_data[self.moment_name]
        return value

    def stand_against(self, conflict: Conflict) -> None:
        """Say what stands now beside what was typed; the next save goes over it."""
        data = self.data.copy()
        data["version"] = str(conflict.version)
        self.data = data
        self.theirs = [
            Difference(str(self.fields[name].label), now, self.spoken(name), taken=False)
            for name, now in conflict.theirs.items()
            if name in self.fields and now != self.spoken(name)
        ]
        self.add_error(None, conflict.message)

    def spoken(self, name: str) -> str:
        value = self.cleaned_data.get(name)
        return clock_words(value) if isinstance(value, dt.datetime) else str(value)


class CastForm(PlanForm):
    moment_name = "planned_for"
    pieces = forms.MultipleChoiceField(
        label="Pieces", error_messages={"required": "Choose at least one piece to cast."}
    )
    room = forms.ChoiceField(label="Room")
    planned_for = LocalMomentField(label="Water in at", error_messages=BOTH)

    field_order = ("version", "pieces", "room", "planned_for", "note")

    def __init__(
        self, *args: Any, waiting: Sequence[Piece], rooms: Iterable[Room], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.waiting = {str(piece.pk): piece for piece in waiting}
        self.rooms = {str(room.pk): room.name for room in rooms}
        self.fields["pieces"].choices = [(k, p.code) for k, p in self.waiting.items()]  # type: ignore[attr-defined]
        self.fields["room"].choices = list(self.rooms.items())  # type: ignore[attr-defined]

    def clean_pieces(self) -> list[int]:
        keys: list[str] = self.cleaned_data["pieces"]
        mixes = {self.waiting[key].mix.name for key in keys}
        if len(mixes) > 1:
            raise ValidationError(several_mixes(mixes))
        return [int(key) for key in keys]

    def spoken(self, name: str) -> str:
        value = self.cleaned_data.get(name)
        if name == "room":
            return self.rooms.get(str(value), "")
        if name == "pieces":
            return ", ".join(sorted(self.waiting[str(key)].code for key in value or ()))
        return super().spoken(name)

    @property
    def pieces_chosen(self) -> list[Piece]:
        return [self.waiting[str(key)] for key in self.cleaned_data["pieces"]]

    @property
    def chosen(self) -> set[str]:
        raw = self["pieces"].value() or ()
        return {str(key) for key in raw}

    def by_mix(
        self, latest: dict[int, dt.datetime | None], batch_id: int | None
    ) -> list[tuple[str, list[PieceChoice]]]:
        """The pieces on offer, a group for each mix, in the order of their promises."""
        ordered = sorted(self.waiting.values(), key=lambda piece: piece.mix.name)
        return [
            (mix, [self._choice(piece, latest, batch_id) for piece in group])
            for mix, group in groupby(ordered, key=lambda piece: piece.mix.name)
        ]

    def _choice(
        self, piece: Piece, latest: dict[int, dt.datetime | None], batch_id: int | None
    ) -> PieceChoice:
        elsewhere = piece.batch if piece.batch_id != batch_id else None
        known = latest.get(piece.pk)
        return PieceChoice(
            piece=piece,
            latest_cast=known,
            too_late=piece.pk in latest and known is None and piece.job.promised_on is not None,
            set_for=elsewhere.planned_for if elsewhere else None,
            checked=str(piece.pk) in self.chosen,
        )


class InstallForm(PlanForm):
    moment_name = "starts_at"
    starts_at = LocalMomentField(label="Starts at", error_messages=BOTH)
    hours = NumberField(label="Takes", unit="h", min_value=0.25, max_value=200, initial=4.0)
    people = forms.IntegerField(label="People", min_value=1, max_value=50, initial=2)

    field_order = ("version", "starts_at", "hours", "people", "note")


def outside_hours(form: PlanForm) -> str:
    """A warning, never a refusal: the owner may cast at night."""
    at = form.moment
    if working_windows(form.shop, at, at + dt.timedelta(minutes=1)):
        return ""
    return f"Nobody is on shift {clock_words(at)}. It can be saved all the same."


def next_shift(form_shop: Any, now: dt.datetime) -> dt.datetime:
    """Where the time field starts: the next moment somebody is on shift, on the full quarter."""
    windows = working_windows(form_shop, now, now + dt.timedelta(days=21))
    quarter = 15 * 60
    seconds = -(-int(now.timestamp()) // quarter) * quarter
    soon = dt.datetime.fromtimestamp(seconds, tz=dt.UTC)
    fits = (max(start, soon) for start, end in windows if end > soon)
    return next(fits, timezone.now() + dt.timedelta(days=1))
