"""Rows of the record, as they are, without the rules that the services keep."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

from jobs.models import Measured, MixerRun, Photo, Piece, Specimen
from jobs.services.photos import file_of
from shop.models import Person
from tests.factories import NOW
from tests.jobs.mixing.test_pictures import drawn, saved


def make_specimen(run: MixerRun, by: Person, label: str = "C1-1A", **fields: Any) -> Specimen:
    fields.setdefault("made_at", NOW)
    return Specimen.objects.create(run=run, made_by=by, label=label, **fields)


def make_measured(piece: Piece, by: Person, at: dt.datetime = NOW, **fields: Any) -> Measured:
    fields.setdefault("kg", 60.0)
    return Measured.objects.create(piece=piece, by=by, at=at, **fields)


def make_photo(piece: Piece, by: Person) -> Photo:
    """With its files."""
    photo = Photo.objects.create(
        piece=piece, by=by, at=NOW, name=f"{uuid.uuid4().hex}.jpg", width=40, height=30, size=900
    )
    for small in (False, True):
        path = file_of(photo, small=small)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(saved(drawn(40, 30)))
    return photo
