"""Labels for the packs of a lot: what is on one, and where each one sits on its sheet.

Sizes are plain measures of sheets of labels as they are sold; nothing here knows a maker.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import segno
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext_lazy as _

MOST_PACKS = 200  # at once; a lorry carries fewer: common practice, no source
PT_MM = 25.4 / 72


@dataclass(frozen=True, slots=True)
class LabelSheet:
    """A sheet of labels, all lengths in mm. ``gap_mm`` lies between two columns."""

    name: Any
    page_mm: tuple[float, float]
    columns: int
    rows: int
    width_mm: float
    height_mm: float
    gap_mm: float = 0

    @property
    def places(self) -> int:
        return self.columns * self.rows

    def corner_mm(self, place: int) -> tuple[float, float]:
        """Left and top of a place, counted from 0 along the rows; the whole is centred."""
        row, column = divmod(place, self.columns)
        wide = self.columns * self.width_mm + (self.columns - 1) * self.gap_mm
        left = (self.page_mm[0] - wide) / 2 + column * (self.width_mm + self.gap_mm)
        top = (self.page_mm[1] - self.rows * self.height_mm) / 2 + row * self.height_mm
        return left, top

    @property
    def qr_mm(self) -> float:
        return min(self.height_mm - 6, self.width_mm * 0.42)

    @property
    def beside_qr_mm(self) -> float:
        """How far from the right edge the words end."""
        return self.qr_mm + 3


SHEETS = {
    "70x37": LabelSheet(_("A4, 3 × 8 labels of 70 × 37 mm"), (210, 297), 3, 8, 70, 37),
    "99x38": LabelSheet(_("A4, 2 × 7 labels of 99 × 38 mm"), (210, 297), 2, 7, 99, 38, 2.5),
    "102x51": LabelSheet(
        _("Letter, 2 × 5 labels of 102 × 51 mm"), (215.9, 279.4), 2, 5, 101.6, 50.8, 4.8
    ),
    "a5": LabelSheet(_("A5 across, one large label"), (210, 148), 1, 1, 210, 148),
}
MOST_PLACES = max(sheet.places for sheet in SHEETS.values())


@dataclass(frozen=True, slots=True)
class Placed:
    """One label: which pack it is for, and its corner on the sheet in mm."""

    pack: int
    left_mm: float
    top_mm: float


def placed(sheet: LabelSheet, packs: int, start: int) -> list[list[Placed]]:
    """The labels by page; ``start`` is the first free place of the first sheet, from 1."""
    pages: list[list[Placed]] = []
    for pack in range(1, packs + 1):
        page, place = divmod(start - 1 + pack - 1, sheet.places)
        if page == len(pages):
            pages.append([])
        pages[page].append(Placed(pack, *sheet.corner_mm(place)))
    return pages


def mark_size_pt(sheet: LabelSheet, code: str) -> float:
    """The size of type at which a mark fills the room beside the code, at most a third of the
    height. A bold capital of the typeface is 0.78 of its size wide: measured."""
    room_mm = sheet.width_mm - sheet.qr_mm - 7
    return round(min(room_mm / (0.78 * max(len(code), 3)), sheet.height_mm / 4) / PT_MM, 1)


def code_of(address: str) -> segno.QRCode:
    """The QR code of a lot's address. Level M stands a scratch or a stain on the label."""
    return segno.make(address, micro=False, error="m", boost_error=False)


def drawn(code: segno.QRCode) -> SafeString:
    """With the four blank modules round it that ISO/IEC 18004 asks for (from memory)."""
    svg: str = code.svg_inline(border=4, omitsize=True, svgclass="qr", lineclass=None)
    return mark_safe(svg)
