"""Photographs for a printed document, as large as paper shows and no larger."""

from __future__ import annotations

import base64
import io

from PIL import Image

from records.pictures.models import Picture
from records.pictures.reading import MEDIA_TYPE
from records.pictures.selectors import bytes_of

PRINTED_SIDE = 1000  # pixels of the longer side: 80 mm at 300 to the inch
PRINTED_QUALITY = 80  # of the JPEG


def as_data_uri(picture: Picture) -> str:
    """The picture made smaller, standing in the document itself; empty when it was disposed of."""
    if picture.gone:
        return ""
    with Image.open(io.BytesIO(bytes_of(picture))) as image:
        image.thumbnail((PRINTED_SIDE, PRINTED_SIDE), Image.Resampling.LANCZOS)
        small = io.BytesIO()
        image.save(small, "JPEG", quality=PRINTED_QUALITY)
    return f"data:{MEDIA_TYPE};base64,{base64.b64encode(small.getvalue()).decode()}"
