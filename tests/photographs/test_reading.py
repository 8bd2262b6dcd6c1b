"""What is sent as a picture is made anew, and what is none is refused before it costs anything."""

from __future__ import annotations

import hashlib
import tracemalloc

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, TiffImagePlugin

from facility.refusals import Refused, TooLarge, WrongValue
from records.pictures.reading import LONGEST_SIDE, MOST_BYTES, MOST_PIXELS, read_photograph
from tests.photographs.drawing import as_file, halves, opened, photo, png_of_size


def red_at(image: Image.Image, x: float, y: float) -> bool:
    red, _green, blue = image.getpixel((int(x * image.width), int(y * image.height)))
    return red > blue


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_each_format_becomes_a_jpeg_with_both_hashes(form):
    sent = photo(form=form)
    shot = read_photograph(sent)
    kept = opened(shot.data)
    assert (kept.format, kept.size) == ("JPEG", (60, 40)) == ("JPEG", (shot.width, shot.height))
    assert shot.sent_sha256 == hashlib.sha256(sent).hexdigest()
    assert shot.kept_sha256 == hashlib.sha256(shot.data).hexdigest()
    assert red_at(kept, 0.5, 0.1)
    assert not red_at(kept, 0.5, 0.9)


@pytest.mark.parametrize(
    ("size", "kept"),
    [((4000, 3000), (2000, 1500)), ((1000, 5000), (400, 2000)), ((2000, 10), (2000, 10))],
)
def test_the_longer_side_is_kept_to_2000_pixels(size, kept):
    shot = read_photograph(photo(*size))
    assert (shot.width, shot.height) == kept
    assert max(kept) == LONGEST_SIDE


@pytest.mark.parametrize(
    ("orientation", "red"),
    [(1, (0.5, 0.1)), (3, (0.5, 0.9)), (6, (0.9, 0.5)), (8, (0.1, 0.5))],
)
def test_a_picture_is_turned_upright(orientation, red):
    """EXIF 2.32, tag 0x0112: 1 top up, 3 upside down, 6 top at the right, 8 top at the left."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    kept = opened(read_photograph(as_file(halves(), exif=exif)).data)
    assert red_at(kept, *red)
    assert not red_at(kept, 1 - red[0], 1 - red[1])


def with_secrets(form: str) -> bytes:
    """Place, device, comments and notes of the file: all that a phone or an editor may add."""
    exif = Image.Exif()
    exif[0x010F] = "SECRETMAKER"
    exif.get_ifd(0x8825)[0x001D] = "SECRETPLACE"
    north = TiffImagePlugin.IFDRational(53, 1)
    exif.get_ifd(0x8825)[0x0002] = (north, north, north)
    more = {"JPEG": {"comment": b"SECRETNOTE"}, "WEBP": {"xmp": b"<x>SECRETNOTE</x>"}}
    return as_file(halves(), form, exif=exif, **more.get(form, {}))


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_nothing_but_the_pixels_goes_on(form):
    sent = with_secrets(form)
    assert b"SECRETMAKER" in sent  # the control
    assert b"SECRETPLACE" in sent
    kept = read_photograph(sent).data
    assert b"SECRET" not in kept
    assert b"Exif" not in kept
    assert dict(opened(kept).getexif()) == {}


@pytest.mark.parametrize("mode", ["L", "P", "1", "LA", "RGBA", "CMYK"])
def test_pictures_of_every_kind_of_colour_are_read(mode):
    image = halves().convert(mode)
    shot = read_photograph(as_file(image, "JPEG" if mode == "CMYK" else "PNG"))
    assert opened(shot.data).mode == "RGB"


def test_what_is_see_through_becomes_white():
    kept = opened(read_photograph(as_file(Image.new("RGBA", (8, 8), (0, 0, 0, 0)), "PNG")).data)
    assert min(kept.getpixel((4, 4))) > 250


NO_PICTURES = {
    "nothing": b"", "text": b"a docket", "html": b"<!doctype html><script>1</script>",
    "svg": b'<svg xmlns="http://www.w3.org/2000/svg"/>', "zip": b"PK\x03\x04" + bytes(60),
    "gif": as_file(halves(), "GIF"), "bmp": as_file(halves(), "BMP"),
    "tiff": as_file(halves(), "TIFF"), "pdf": b"%PDF-1.7\n",
    "postscript": b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n",
    "half a jpeg": photo(400, 300)[:1000], "jpeg without its end": photo(800, 600)[:-400],
    "half a png": photo(form="PNG")[:60], "half a webp": photo(400, 300, "WEBP")[:100],
    "a header alone": photo()[:24],
}  # fmt: skip


@pytest.mark.parametrize("sent", NO_PICTURES.values(), ids=NO_PICTURES)
def test_what_is_no_whole_picture_is_refused(sent):
    with pytest.raises(WrongValue) as caught:
        read_photograph(sent, "docket_picture")
    assert caught.value.field == "docket_picture"


@pytest.mark.parametrize("brand", [b"heic", b"mif1", b"avif"])
def test_a_heic_picture_is_refused_with_what_to_do(brand):
    with pytest.raises(WrongValue, match="HEIC"):
        read_photograph(b"\x00\x00\x00\x18ftyp" + brand + bytes(40))


def test_a_file_over_15_mb_is_refused_by_its_length():
    with pytest.raises(TooLarge, match=r"15\.0 MB; at most 15 MB"):
        read_photograph(photo() + bytes(MOST_BYTES))


@pytest.mark.parametrize("side", [8000, 12_000, 60_000])
def test_a_picture_small_when_sent_and_huge_when_opened_is_refused_unopened(side):
    """64, 144 and 3,600 million pixels; the last would take 10 GB as colours."""
    sent = png_of_size(side, side)
    assert len(sent) < MOST_BYTES
    tracemalloc.start()
    with pytest.raises(TooLarge, match="50 million pixels"):
        read_photograph(sent)
    assert tracemalloc.get_traced_memory()[1] < 2 * len(sent) + 1_000_000
    tracemalloc.stop()


def test_a_picture_just_under_the_limit_is_read():
    shot = read_photograph(png_of_size(8000, 6250))
    assert MOST_PIXELS == 8000 * 6250
    assert shot.width == 2000


@settings(max_examples=150)
@given(st.sampled_from(["JPEG", "PNG", "WEBP"]), st.integers(0, 600), st.binary(min_size=1, max_size=9))  # fmt: skip
def test_a_spoiled_file_is_read_or_refused_by_name(form, place, put):
    whole = photo(form=form)
    place %= len(whole)
    try:
        read_photograph(whole[:place] + put + whole[place + len(put) :])
    except Refused as refused:
        assert refused.status in (400, 413)
