"""The QR code of a head note, as an image inside a page or document."""

from __future__ import annotations

import segno
from django.utils.safestring import SafeString, mark_safe

from records.audit.notes import HeadNote


def qr_code(note: HeadNote) -> SafeString:
    """The three lines of the checkpoint. Level M stands a fold or a stain on the paper."""
    code = segno.make(note.checkpoint, micro=False, error="m", boost_error=False)
    drawn: str = code.svg_inline(border=2, omitsize=True, svgclass="qr", lineclass=None)
    return mark_safe(drawn)
