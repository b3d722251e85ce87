"""Pictures that come from phones, and files that only claim to be pictures."""

from __future__ import annotations

import struct
import zlib
from io import BytesIO

import pytest
from PIL import ExifTags, Image, ImageDraw, ImageFile

from jobs.services import pictures
from jobs.services.errors import Refused
from jobs.services.pictures import LONG_SIDE, SMALL_SIDE, picture_of

# North-west of nowhere: coordinates that no tag of the result may still hold.
LATITUDE = (41.0, 52.0, 33.0)
MAKER = "Nameless camera works"
COMMENT = b"taken behind the mill"


def drawn(width: int = 400, height: int = 300, mode: str = "RGB") -> Image.Image:
    """Red above blue, so that it can be seen which side is up."""
    image = Image.new(mode, (width, height), "red")
    ImageDraw.Draw(image).rectangle((0, height // 2, width, height), fill="blue")
    return image


def saved(image: Image.Image, form: str = "JPEG", **options: object) -> bytes:
    out = BytesIO()
    image.save(out, form, **options)
    return out.getvalue()


def with_gps(orientation: int = 1) -> bytes:
    exif = Image.Exif()
    exif[ExifTags.Base.Make] = MAKER
    exif[ExifTags.Base.Orientation] = orientation
    gps = exif.get_ifd(ExifTags.IFD.GPSInfo)
    gps[ExifTags.GPS.GPSLatitudeRef] = "N"
    gps[ExifTags.GPS.GPSLatitude] = LATITUDE
    return saved(drawn(), exif=exif, comment=COMMENT, xmp=b"<x:xmpmeta>41.87</x:xmpmeta>")


def opened(content: bytes) -> Image.Image:
    image = Image.open(BytesIO(content))
    image.load()
    return image


def refusal_of(sent: bytes) -> str:
    with pytest.raises(Refused) as refused:
        picture_of(sent)
    assert refused.value.field == "picture"
    return refused.value.message


def test_a_photo_leaves_where_it_was_taken_and_by_what_behind() -> None:
    sent = with_gps()
    before = opened(sent)
    assert before.getexif().get_ifd(ExifTags.IFD.GPSInfo)[ExifTags.GPS.GPSLatitude] == LATITUDE
    assert MAKER.encode() in sent
    assert COMMENT in sent
    assert b"xmpmeta" in sent

    picture = picture_of(sent)

    for content in (picture.large, picture.small):
        kept = opened(content)
        assert dict(kept.getexif()) == {}
        assert not kept.getexif().get_ifd(ExifTags.IFD.GPSInfo)
        assert set(kept.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density",
                                  "progressive", "progression"}  # fmt: skip
        for trace in (b"Exif", MAKER.encode(), COMMENT, b"xmpmeta", b"ICC_PROFILE"):
            assert trace not in content


def test_a_photo_is_turned_upright() -> None:
    """Orientation 6 of EXIF 2.3: the camera was held upright, turned by a quarter."""
    kept = opened(picture_of(with_gps(orientation=6)).large)

    assert kept.size == (300, 400)
    red, _g, blue = kept.getpixel((280, 200))  # what was above is now on the right
    assert red > 200
    assert blue < 60


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_what_phones_send_becomes_a_jpeg_whatever_its_name_would_say(form: str) -> None:
    kept = opened(picture_of(saved(drawn(), form)).large)

    assert kept.format == "JPEG"
    assert kept.mode == "RGB"
    assert kept.size == (400, 300)


def test_a_large_photo_is_made_smaller_and_a_small_one_beside_it() -> None:
    picture = picture_of(saved(drawn(4000, 3000)))

    assert opened(picture.large).size == (picture.width, picture.height) == (LONG_SIDE, 1500)
    assert opened(picture.small).size == (SMALL_SIDE, SMALL_SIDE * 3 // 4)


def test_what_is_seen_through_stands_on_white() -> None:
    clear = Image.new("RGBA", (40, 40), (255, 0, 0, 0))

    assert opened(picture_of(saved(clear, "PNG")).large).getpixel((20, 20)) == (255, 255, 255)


SVG = b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'


@pytest.mark.parametrize(
    "sent",
    [
        SVG,
        b"<!doctype html><script>alert(1)</script>",
        b"just words, called photo.jpg",
        b"PK\x03\x04" + bytes(200),
        b"%PDF-1.7\n",
        b"\xff\xd8\xff\xe0 and then nothing of a JPEG" * 20,
        saved(drawn(), "GIF"),
        saved(drawn(), "TIFF"),
        saved(drawn(), "BMP"),
        b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 100 100\n",
    ],
    ids=["svg", "html", "text", "zip", "pdf", "false start", "gif", "tiff", "bmp", "eps"],
)
def test_what_is_no_photo_is_refused(sent: bytes) -> None:
    message = refusal_of(sent)

    assert "no JPEG, PNG or WebP" in message or "damaged" in message


def test_an_heic_photo_is_named_and_what_to_do() -> None:
    assert "HEIC" in refusal_of(b"\x00\x00\x00\x18ftypheic" + bytes(64))


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_a_photo_that_was_cut_off_is_refused(form: str) -> None:
    whole = saved(drawn(800, 600), form)

    assert "cut off" in refusal_of(whole[: len(whole) // 2])


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_half_a_photo_is_refused_also_where_pdfs_are_written(
    form: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """WeasyPrint has the library take what is cut off, for the whole process."""
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)
    whole = saved(drawn(800, 600), form)

    assert "cut off" in refusal_of(whole[: len(whole) // 2])


def test_nothing_is_refused() -> None:
    assert "empty" in refusal_of(b"")


def png_of(width: int, height: int) -> bytes:
    """A PNG of black pixels that packs a thousandfold, by the PNG specification's chunks."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        )

    packer = zlib.compressobj(9)
    row = bytes(1 + width // 8 + 1)
    body = b"".join(packer.compress(row) for _row in range(min(height, 4))) + packer.flush()
    header = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", body) + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize(
    ("width", "height"),
    [(6_000, 5_000), (9_000, 8_000), (40_000, 40_000)],
    ids=["over the limit for PNG", "where the library warns", "where the library refuses"],
)
def test_a_small_file_of_very_many_pixels_is_refused_before_it_is_unpacked(
    width: int, height: int
) -> None:
    sent = png_of(width, height)

    assert len(sent) < 100_000
    assert "million pixels" in refusal_of(sent)


def test_a_file_beyond_the_limit_is_refused_unread(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pictures, "LARGEST", 1000)

    assert "smaller photo" in refusal_of(saved(drawn()))
