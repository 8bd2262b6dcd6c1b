"""Pictures made for tests, as phones would send them and as nobody should."""

from __future__ import annotations

import io
import struct
import zlib

from PIL import Image

TOP, BOTTOM = (200, 30, 30), (30, 30, 200)


def halves(width: int = 60, height: int = 40) -> Image.Image:
    """Red above, blue below, so that what was turned can be seen."""
    image = Image.new("RGB", (width, height), BOTTOM)
    image.paste(TOP, (0, 0, width, height // 2))
    return image


def as_file(image: Image.Image, form: str = "JPEG", **options) -> bytes:
    data = io.BytesIO()
    image.save(data, form, **options)
    return data.getvalue()


def photo(width: int = 60, height: int = 40, form: str = "JPEG") -> bytes:
    return as_file(halves(width, height), form)


def opened(data: bytes) -> Image.Image:
    image = Image.open(io.BytesIO(data))
    image.load()
    return image


def png_of_size(width: int, height: int) -> bytes:
    """A small PNG file whose header says any size, its pixels all black and packed tightly."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))  # fmt: skip

    packer = zlib.compressobj(9)
    row = bytes(1 + (width + 7) // 8)
    packed = b"".join(packer.compress(row) for _line in range(height)) + packer.flush()
    header = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", packed) + chunk(b"IEND", b"")  # fmt: skip
