"""Photos of casts and pieces: kept, shown to who may see them, removed; nothing left of a refused one."""

from __future__ import annotations

import uuid
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.test import Client
from django.urls import reverse
from PIL import Image

from jobs.models import Batch, Photo, Piece
from jobs.services import photos
from jobs.services.errors import Refused
from jobs.services.photos import add_photo, file_of, remove_photo
from shop.models import Person, Role
from tests.factories import make_batch, make_job, make_person, make_piece, make_shop
from tests.jobs.mixing.test_pictures import SVG, drawn, saved, with_gps

# What is on the disk after a commit is what is tested.
pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def folder(settings: Any, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path
    return tmp_path


@pytest.fixture
def crew() -> Person:
    make_shop()
    return make_person(Role.CREW)


@pytest.fixture
def piece() -> Piece:
    return make_piece(make_job())


@pytest.fixture
def batch(piece: Piece) -> Batch:
    return make_batch(piece)


def signed_in(person: Person) -> Client:
    client = Client()
    client.force_login(person, "django.contrib.auth.backends.ModelBackend")
    return client


def files(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*") if path.is_file()]


def sent(content: bytes, name: str = "IMG_0001.jpg", kind: str = "image/jpeg") -> dict[str, Any]:
    return {
        "picture": SimpleUploadedFile(name, content, kind),
        "words": "Face, front edge",
        "client_key": str(uuid.uuid4()),
    }


def taken(piece: Piece, by: Person) -> Photo:
    return add_photo(sent=with_gps(), by=by, client_key=uuid.uuid4(), piece_id=piece.pk)


def test_a_photo_is_taken_shown_and_served(
    crew: Person, piece: Piece, batch: Batch, folder: Path
) -> None:
    client = signed_in(crew)

    response = client.post(reverse("batch-photo", args=[batch.pk]), sent(with_gps()))

    assert response.status_code == 302
    photo = Photo.objects.get()
    assert (photo.batch, photo.piece, photo.by) == (batch, None, crew)
    assert sorted(path.name for path in files(folder)) == sorted(
        [photo.name, photo.name.replace(".", "-small.")]
    )
    assert "IMG_0001" not in photo.name
    page = client.get(reverse("batch-record", args=[batch.pk])).content.decode()
    assert reverse("small-photo", args=[photo.pk]) in page
    assert "Face, front edge" in page
    for name in ("photo", "small-photo"):
        served = client.get(reverse(name, args=[photo.pk]))
        assert served["Content-Type"] == "image/jpeg"
        assert served["X-Content-Type-Options"] == "nosniff"
        assert served["Cache-Control"].startswith("private")
        assert dict(Image.open(BytesIO(served.content)).getexif()) == {}


def test_nobody_sees_a_photo_without_signing_in(crew: Person, piece: Piece) -> None:
    photo = taken(piece, crew)

    response = Client().get(reverse("photo", args=[photo.pk]))

    assert response.status_code == 302
    assert response["Location"].startswith(reverse("sign-in"))


@pytest.mark.parametrize(
    ("content", "kind"),
    [
        (SVG, "image/jpeg"),
        (b"just words", "image/jpeg"),
        (with_gps()[:700], "image/jpeg"),
        (b"", "image/jpeg"),
        (saved(drawn(), "GIF"), "image/gif"),
    ],
    ids=["svg named jpg", "text named jpg", "cut off", "empty", "gif"],
)
def test_what_is_no_photo_leaves_no_trace(
    crew: Person, piece: Piece, folder: Path, content: bytes, kind: str
) -> None:
    response = signed_in(crew).post(
        reverse("piece-photo", args=[piece.code]), sent(content, kind=kind)
    )

    page = response.content.decode()
    assert response.status_code == 422
    assert 'class="errors"' in page
    assert 'value="Face, front edge"' in page
    assert not Photo.objects.exists()
    assert files(folder) == []


def test_a_photo_is_what_it_is_whatever_its_name_says(crew: Person, piece: Piece) -> None:
    """Some phones save a PNG under a JPEG's name: it is read as what it is and kept as a JPEG."""
    url = reverse("piece-photo", args=[piece.code])

    assert signed_in(crew).post(url, sent(saved(drawn(), "PNG"))).status_code == 302
    with Image.open(file_of(Photo.objects.get())) as kept:
        assert kept.format == "JPEG"


def test_nothing_is_on_the_disk_when_the_transaction_is_rolled_back(
    crew: Person, piece: Piece, folder: Path
) -> None:
    with transaction.atomic():
        taken(piece, crew)
        transaction.set_rollback(True)

    assert not Photo.objects.exists()
    assert files(folder) == []


def test_a_disk_that_takes_nothing_leaves_no_row(
    crew: Person, piece: Piece, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = Path.write_bytes

    def full(path: Path, content: bytes) -> int:
        if "-small" in path.name:
            raise OSError(28, "No space left on device")
        return whole(path, content)

    monkeypatch.setattr(Path, "write_bytes", full)

    response = signed_in(crew).post(reverse("piece-photo", args=[piece.code]), sent(with_gps()))

    assert response.status_code == 422
    assert "disk took nothing" in response.content.decode()
    assert not Photo.objects.exists()
    assert files(folder) == []


def test_a_photo_sent_twice_is_kept_once(crew: Person, piece: Piece, folder: Path) -> None:
    key = uuid.uuid4()

    first = add_photo(sent=with_gps(), by=crew, client_key=key, piece_id=piece.pk)
    again = add_photo(sent=with_gps(), by=crew, client_key=key, piece_id=piece.pk)

    assert first == again
    assert len(files(folder)) == 2


def test_a_piece_has_its_fill_of_photos(
    crew: Person, piece: Piece, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(photos, "MOST", 1)
    taken(piece, crew)

    with pytest.raises(Refused, match="There are 1 photos"):
        taken(piece, crew)


def test_a_photo_is_removed_by_who_took_it_or_the_owner(
    crew: Person, piece: Piece, folder: Path
) -> None:
    other = make_person(Role.CREW)
    mine, yours = taken(piece, crew), taken(piece, crew)

    with pytest.raises(Refused, match="Only who took"):
        remove_photo(photo_id=mine.pk, by=other)
    assert len(files(folder)) == 4
    remove_photo(photo_id=mine.pk, by=crew)
    remove_photo(photo_id=yours.pk, by=make_person(Role.OWNER))

    assert not Photo.objects.exists()
    assert files(folder) == []


def test_a_removal_that_is_rolled_back_keeps_the_files(
    crew: Person, piece: Piece, folder: Path
) -> None:
    photo = taken(piece, crew)

    with transaction.atomic():
        remove_photo(photo_id=photo.pk, by=crew)
        transaction.set_rollback(True)

    assert Photo.objects.exists()
    assert len(files(folder)) == 2


def test_a_name_that_the_app_did_not_make_leads_nowhere(crew: Person) -> None:
    for name in ("../../secret.jpg", "a.jpg", f"{'0' * 32}.jpg/../x", ""):
        with pytest.raises(ValueError, match="no name that the app made"):
            file_of(Photo(name=name))


def test_a_photo_of_a_phone_is_larger_than_other_forms_may_be(
    crew: Person, piece: Piece, settings: Any
) -> None:
    noise = Image.effect_noise((2600, 2400), 90).convert("RGB")
    content = saved(noise, quality=97)
    assert len(content) > settings.DATA_UPLOAD_MAX_MEMORY_SIZE
    client = signed_in(crew)

    assert client.post(reverse("piece-photo", args=[piece.code]), sent(content)).status_code == 302
    measured = client.post(
        reverse("measure-piece", args=[piece.code]), {"words": "x" * len(content)}
    )
    assert measured.status_code == 413


def test_more_than_a_photo_is_refused_unread(crew: Person, piece: Piece) -> None:
    response = signed_in(crew).generic(
        "POST",
        reverse("piece-photo", args=[piece.code]),
        b"",
        content_type="multipart/form-data; boundary=x",
        CONTENT_LENGTH=str(photos.LARGEST * 2),
    )

    assert response.status_code == 413
