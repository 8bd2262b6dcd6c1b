"""What stands on a docket and on a bundle: classes of the standards, and marks that keep wood out.

The codes in brackets are rows of the starter standard that forbid what is marked.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext_lazy as _

from facility.kinds import ProductKind


@dataclass(frozen=True, slots=True)
class Mark:
    """Something to look for: its code, the words of the list, and the row behind it."""

    code: str
    words: Any
    row: str


MARKS = (
    Mark("mb", _("Stamp MB: treated with methyl bromide"), "F-09"),
    Mark("cca", _("Stamp CCA or of another preservative"), "F-09, F-04"),
    Mark("green", _("Greenish tint in the wood"), "F-09"),
    Mark("coated", _("Paint, film, foil or melamine face"), "F-04"),
    # A nose finds tar oil and solvents that carry no stamp: common practice, no source.
    Mark("smell", _("Smell of preservative, tar or solvent"), "F-04"),
    Mark("used", _("Nail holes, dirt or old fittings: not new"), "F-12"),
    # Mixed batches under one docket: the way receiving goes wrong most often; no source.
    Mark("mixed", _("Other boards or another batch in the bundle"), "F-03, F-13"),
)
CODES = tuple(mark.code for mark in MARKS)


def seen(answers: Mapping[str, bool]) -> list[str]:
    """The words of the marks that were seen."""
    return [str(mark.words) for mark in MARKS if answers.get(mark.code)]


# Names of classes as their standards print them; from memory but for the standards' numbers.
STANDARD_CLASSES: dict[str, tuple[str, ...]] = {
    ProductKind.PARTICLE_BOARD: tuple(f"EN 312 P{number}" for number in range(1, 8)),
    ProductKind.OSB: tuple(f"EN 300 OSB/{number}" for number in range(1, 5)),
    ProductKind.PLYWOOD: ("EN 636-1", "EN 636-2", "EN 636-3"),
    ProductKind.FIBREBOARD: (
        "EN 622-2 HB", "EN 622-2 HB.H", "EN 622-3 MBL", "EN 622-3 MBH", "EN 622-4 SB",
        "EN 622-4 SB.H", "EN 622-4 SB.E", "EN 622-5 MDF", "EN 622-5 MDF.H", "EN 622-5 L-MDF",
    ),
}  # fmt: skip
EMISSION_CLASSES = ("E0.5", "E1", "E2")  # EN 13986 Annex B knows E1 and E2, German law E05
LOCAL = "local"


def classes_to_choose() -> list[Any]:
    """The known classes by kind of board, and the one that is typed in."""
    groups = [
        (ProductKind(kind).label, [(each, each) for each in classes])
        for kind, classes in STANDARD_CLASSES.items()
    ]
    return [("", _("none stated")), *groups, (LOCAL, _("another one, typed below"))]
