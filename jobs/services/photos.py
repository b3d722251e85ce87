"""Photos of batches and pieces: the row first, the files once it stands.

A transaction that is rolled back has written nothing to the disk; a disk that takes nothing leaves
no row behind.
"""

from __future__ import annotations

import datetime as dt
import logging
import re
import secrets
import uuid
from functools import partial
from pathlib import Path

from django.conf import settings
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from jobs.models import Batch, Photo, Piece
from jobs.services.errors import Refused
from jobs.services.pictures import LARGEST, Picture, picture_of
from shop.models import Person, Role

__all__ = ["LARGEST", "MOST", "add_photo", "file_of", "may_remove", "remove_photo"]

log = logging.getLogger("curewright.photos")

MOST = 60  # of one batch or piece
NAME = re.compile(r"[0-9a-f]{32}\.jpg")


def add_photo(
    *,
    sent: bytes,
    by: Person,
    client_key: uuid.UUID,
    batch_id: int | None = None,
    piece_id: int | None = None,
    words: str = "",
    now: dt.datetime | None = None,
) -> Photo:
    """Of a batch or a piece. The same key again gives the photo that it made.

    Raises
    ------
    Refused
        What was sent cannot be read as a photo, the batch or piece is gone or has its fill.
    """
    known = Photo.objects.filter(client_key=client_key).first()
    if known:
        return known
    picture = picture_of(sent)  # outside of the lock: it takes a moment
    with transaction.atomic():
        _hold(batch_id, piece_id)
        known = Photo.objects.filter(client_key=client_key).first()
        if known:
            return known
        if Photo.objects.filter(batch=batch_id, piece=piece_id).count() >= MOST:
            raise Refused(
                _("There are %(most)s photos of this already. Remove some first.") % {"most": MOST},
                field="picture",
            )
        photo = Photo.objects.create(
            batch_id=batch_id,
            piece_id=piece_id,
            name=f"{secrets.token_hex(16)}.jpg",
            width=picture.width,
            height=picture.height,
            size=len(picture.large),
            words=words.strip()[:200],
            at=now or timezone.now(),
            by=by,
            client_key=client_key,
        )
        transaction.on_commit(partial(_write, photo, picture))
    return photo


def _hold(batch_id: int | None, piece_id: int | None) -> None:
    """Two photos at once are counted one after the other."""
    held: Batch | Piece | None
    if batch_id is not None:
        held = Batch.objects.select_for_update().filter(pk=batch_id).first()
    else:
        held = Piece.objects.select_for_update().filter(pk=piece_id or 0).first()
    if held is None:
        raise Refused(_("What this photo is of was removed meanwhile."))


def _write(photo: Photo, picture: Picture) -> None:
    large, small = file_of(photo), file_of(photo, small=True)
    try:
        large.parent.mkdir(parents=True, exist_ok=True)
        for path, content in ((large, picture.large), (small, picture.small)):
            path.write_bytes(content)
            path.chmod(0o600)
    except OSError as error:
        log.exception("Photo %s cannot be written", photo.name)
        _unlink(photo)
        Photo.objects.filter(pk=photo.pk).delete()
        raise Refused(
            _("The photo could not be kept: the server's disk took nothing. Tell the owner."),
            field="picture",
        ) from error


@transaction.atomic
def remove_photo(*, photo_id: int, by: Person) -> Photo:
    """By who took it, or the owner."""
    photo = Photo.objects.select_for_update(of=("self",)).filter(pk=photo_id).first()
    if photo is None:
        raise Refused(_("This photo was removed already."))
    if not may_remove(photo, by):
        raise Refused(_("Only who took a photo, or the owner, removes it."))
    transaction.on_commit(partial(_unlink, photo))
    photo.delete()
    return photo


def may_remove(photo: Photo, person: Person) -> bool:
    return photo.by_id == person.pk or person.role == Role.OWNER


def file_of(photo: Photo, *, small: bool = False) -> Path:
    if not NAME.fullmatch(photo.name):
        raise ValueError(f"{photo.name!r} is no name that the app made")
    name = photo.name.replace(".", "-small.") if small else photo.name
    return Path(settings.MEDIA_ROOT) / "photos" / name


def _unlink(photo: Photo) -> None:
    for small in (False, True):
        file_of(photo, small=small).unlink(missing_ok=True)
