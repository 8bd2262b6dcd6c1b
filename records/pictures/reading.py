"""What a person sent as a picture, read with care and made anew. No database.

A file from a phone holds more than a picture: where it was taken, by which device, a preview of
what was cut away; and a hostile one is small when sent and huge when opened. So the limits stand
before anything is decoded, and only the pixels go on: turned upright, at most 2,000 of them on
the longer side, in a fresh JPEG that carries nothing else.
"""

from __future__ import annotations

import hashlib
import io
from dataclasses import dataclass

from django.utils.translation import gettext as _
from PIL import Image, ImageFile, ImageOps

from facility.refusals import TooLarge, WrongValue, refuse_if

MOST_BYTES = 15 * 1024 * 1024  # a phone's picture has 2 to 8 MB: common practice, no source
MOST_PIXELS = 50_000_000  # of which a whole one takes 150 MB of memory
LONGEST_SIDE = 2000  # pixels; the small print of a docket on A4 stays readable: tried
QUALITY = 85  # of the JPEG kept
FORMATS = ("JPEG", "PNG", "WEBP")
MEDIA_TYPE = "image/jpeg"
# What phones call a picture and no decoder of ours reads: the brands of ISO 23008-12.
_HEIF = (b"heic", b"heix", b"hevc", b"mif1", b"msf1", b"avif")


@dataclass(frozen=True, slots=True)
class Photograph:
    """A picture made anew: the JPEG, its size in pixels, the SHA-256 of what was sent and of it."""

    data: bytes
    width: int
    height: int
    sent_sha256: str
    kept_sha256: str


def read_photograph(sent: bytes, field: str = "picture") -> Photograph:
    """Make a picture anew from the bytes of a JPEG, PNG or WebP file.

    Raises
    ------
    TooLarge
        for more than 15 MB, or more than 50 million pixels by its own header.
    WrongValue
        for what is no picture, is cut short, or is of another format.
    """
    refuse_larger(len(sent), field)
    refuse_if(
        sent[4:8] == b"ftyp" and sent[8:12] in _HEIF,
        field,
        _(
            "This is a HEIC picture, which cannot be read here. Send it as JPEG: on the phone, "
            "choose the most compatible format of its camera."
        ),
    )
    try:
        upright = _decoded(sent, field)
        data = io.BytesIO()
        upright.save(data, "JPEG", quality=QUALITY, optimize=True)
    except (TooLarge, WrongValue):
        raise
    except Exception:  # a decoder that meets a spoiled file may raise anything
        raise WrongValue(
            _("This cannot be read as a JPEG, PNG or WebP picture; it may be cut short."),
            field=field,
        ) from None
    return Photograph(
        data.getvalue(), upright.width, upright.height,
        sent_sha256=hashlib.sha256(sent).hexdigest(),
        kept_sha256=hashlib.sha256(data.getvalue()).hexdigest(),
    )  # fmt: skip


def refuse_larger(count: int, field: str) -> None:
    """Refuse a file by its length alone, so that it need not be read."""
    if count > MOST_BYTES:
        raise TooLarge(
            _("The picture has {given:.1f} MB; at most {allowed} MB are taken.").format(
                given=count / 1024**2, allowed=MOST_BYTES // 1024**2
            ),
            field=field,
        )


def _decoded(sent: bytes, field: str) -> Image.Image:
    """The pixels alone, small enough and upright."""
    # The PDF library lets cut-off files pass, in the whole process, when it is imported.
    ImageFile.LOAD_TRUNCATED_IMAGES = False
    try:
        image = Image.open(io.BytesIO(sent), formats=FORMATS)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise _too_many_pixels(field) from None
    if image.width * image.height > MOST_PIXELS:
        raise _too_many_pixels(field)
    longest = (LONGEST_SIDE, LONGEST_SIDE)
    image.draft("RGB", longest)  # a JPEG can be decoded at a half or quarter of its size
    image.load()
    coloured = image if image.mode in ("RGB", "RGBA", "L") else image.convert("RGBA")
    coloured.thumbnail(longest, Image.Resampling.LANCZOS)
    turned = ImageOps.exif_transpose(coloured)
    # a fresh image, because a saved one takes comments along from the one it came from
    fresh = Image.new("RGB", turned.size, "white")
    fresh.paste(turned, mask=turned.getchannel("A") if turned.mode == "RGBA" else None)
    return fresh


def _too_many_pixels(field: str) -> TooLarge:
    return TooLarge(
        _("The picture has more than {allowed} million pixels.").format(
            allowed=MOST_PIXELS // 1_000_000
        ),
        field=field,
    )
