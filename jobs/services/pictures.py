"""Pictures as they come, made into plain JPEGs: what the camera noted, and where, stays behind.

The name and the type a file claims are never looked at: what counts is what it can be read as.
"""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO

from django.utils.translation import gettext as _
from PIL import Image, ImageFile, ImageOps

from jobs.services.errors import Refused

# What a phone takes. Other decoders of the library are never tried on what somebody sends.
FORMATS = ("JPEG", "PNG", "WEBP")
LARGEST = 16 * 1024 * 1024  # bytes
# A JPEG is decoded no larger than it is kept; the others take their full size in memory.
MOST_PIXELS, MOST_PIXELS_WHOLE = 50_000_000, 25_000_000
LONG_SIDE, SMALL_SIDE = 2000, 480
QUALITY, SMALL_QUALITY = 82, 72
# Brands in the first box of an HEIF file (ISO/IEC 23008-12, from memory).
HEIF = (b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1")

Image.MAX_IMAGE_PIXELS = MOST_PIXELS


@dataclass(frozen=True)
class Picture:
    """A JPEG with its small one beside it; width and height in pixels, of the large one."""

    large: bytes
    small: bytes
    width: int
    height: int


def picture_of(sent: bytes) -> Picture:
    """Turned upright, at most 2000 px long, without EXIF, comment, profile or anything else.

    Raises
    ------
    Refused
        Nothing, too much of it, not a picture of the kinds taken, cut off, or too many pixels.
    """
    if not sent:
        raise _refused(_("The file is empty. Take the photo again."))
    if len(sent) > LARGEST:
        raise _refused(
            _("The file has %(size)s MB, more than the %(most)s MB taken. Send a smaller photo.")
            % {"size": round(len(sent) / 2**20), "most": LARGEST // 2**20}
        )
    image = _decoded(sent)
    large = _within(image, LONG_SIDE)
    small = _within(large, SMALL_SIDE)
    return Picture(_jpeg(large, QUALITY), _jpeg(small, SMALL_QUALITY), *large.size)


def _decoded(sent: bytes) -> Image.Image:
    if sent[4:8] == b"ftyp" and sent[8:12] in HEIF:
        raise _refused(
            _("This is an HEIC photo, which is not taken. Set the camera to 'most compatible', "
              "or send it as JPEG.")
        )  # fmt: skip
    try:
        with Image.open(BytesIO(sent), formats=FORMATS) as image:
            most = MOST_PIXELS if image.format in {"JPEG", "MPO"} else MOST_PIXELS_WHOLE
            if image.width * image.height > most:
                raise _too_many(most)
            image.draft("RGB", (LONG_SIDE, LONG_SIDE))
            # The writer of PDFs sets it for the whole process, and half a photo would pass.
            ImageFile.LOAD_TRUNCATED_IMAGES = False
            image.load()
            return _plain(ImageOps.exif_transpose(image))
    except Refused:
        raise
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise _too_many(MOST_PIXELS) from error
    except Image.UnidentifiedImageError as error:
        raise _refused(
            _("This is no JPEG, PNG or WebP picture, whatever its name says. Take a photo, or "
              "choose one.")
        ) from error  # fmt: skip
    except Exception as error:  # a damaged or hostile file may break a decoder in any way
        raise _refused(
            _("The picture is damaged or was cut off on its way. Send it again.")
        ) from error


def _plain(image: Image.Image) -> Image.Image:
    """Its pixels alone, on white where it is see-through."""
    clear = image.mode in {"RGBA", "LA", "PA"} or "transparency" in image.info
    source = image.convert("RGBA" if clear else "RGB")
    plain = Image.new("RGB", source.size, "white")
    plain.paste(source, mask=source.getchannel("A") if clear else None)
    return plain


def _within(image: Image.Image, side: int) -> Image.Image:
    smaller = image.copy()
    smaller.thumbnail((side, side), Image.Resampling.LANCZOS)
    return smaller


def _jpeg(image: Image.Image, quality: int) -> bytes:
    out = BytesIO()
    image.save(out, "JPEG", quality=quality, optimize=True, progressive=True)
    return out.getvalue()


def _too_many(most: int) -> Refused:
    return _refused(
        _("The picture has more than %(most)s million pixels. Send a smaller photo.")
        % {"most": most // 1_000_000}
    )


def _refused(message: str) -> Refused:
    return Refused(message, field="picture")
