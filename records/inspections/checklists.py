"""The items of each check, in the order they are walked.

Those before and after a burn and of the inspector are common practice, no single source. Those of
the periodic and the engineer's inspection follow the headings of a published schedule of
inspections of burn buildings and props (vafire.com, Virginia: structure, lining, metal shutters,
doors, windows, stairs and signs, equipment for temperatures and its calibration, use and
temperatures of all burns); drains and floors are common practice. That behind the lining follows
the representative area of NFPA 1403 as described at existingstructuresengineering.com.
"""

from collections.abc import Sequence

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

PRE_BURN = (
    _("Exits clear and doors move freely"),
    _("Vents and hatches open and close"),
    _("Walls, floor and lining sound"),
    _("Thermocouples read"),
    _("Attack and backup lines charged"),
    _("Unit searched, nobody inside"),
    _("Everyone briefed, signals shown"),
)
POST_BURN = (
    _("Fire out, no smouldering"),
    _("Everyone counted out"),
    _("Debris clear of the exits"),
    _("Walls, floor and lining sound"),
    _("Doors and vents still move"),
)
STRUCTURAL = (
    _("Floor and sub-floor"),
    _("Walls, roof and corner posts"),
    _("Welds and door frames"),
    _("Doors, hinges and seals"),
    _("Roof vents and their controls"),
    _("Lining and fixings"),
    _("Thermocouples and their calibration"),
)
PERIODIC = (
    _("Walls, roof, floor: bulges, cracks, corrosion"),
    _("Lining: cracks, loss, loose fixings"),
    _("Metal doors, shutters and windows: move, close, seal"),
    _("Roof vents and their controls"),
    _("Stairs, rails and signs"),
    _("Drains clear, no standing water"),
    _("Thermocouples read and are calibrated"),
)
ENGINEER = (
    _("Use and temperatures of all burns since the last inspection were at hand"),
    _("Frame, corner posts, walls, roof and floor: distortion, cracks, loss"),
    _("Welds and door frames"),
    _("Lining: condition, fixings, and what it hides"),
    _("Metal doors, shutters, windows, stairs and rails"),
    _("Drains clear, anchors and supports sound"),
    _("Equipment for temperatures works and is calibrated"),
    _("Earlier findings are dealt with"),
)
LINING = (
    _("Lining taken off over an area that stands for the rest"),
    _("Steel behind it: loss, scale, cracks, bulges"),
    _("Welds and hangers behind it"),
    _("Back of the lining, fixings and gaps"),
    _("Lining put back and closed"),
)

LISTS: dict[str, Sequence[Promise | str]] = {
    "structural": STRUCTURAL, "periodic": PERIODIC, "engineer": ENGINEER, "lining": LINING,
}  # fmt: skip

# What is looked at on a part, by its kind; the shell's own surfaces by their names. Common
# practice, no single source.
AT_PART: dict[str, Promise | str] = {
    "walls": _("bulges, cracks, burn-through, corrosion, welds"),
    "roof": _("sagging, cracks, standing water, welds"),
    "floor": _("holes, soft spots, trip edges, drains"),
    "compartments": _("partitions upright, gaps, edges"),
    "openings": _("moves freely, hinges, frame, seal, latch; controls from outside"),
    "baffles": _("hangs firmly, warped, cracked"),
    "linings": _("cracks, loss, fixings, gaps behind"),
    "sensors": _("tight, tip sound, reads, calibrated"),
}


def list_of(kind: str) -> Sequence[Promise | str]:
    """The check list of an inspection that comes due."""
    return LISTS[kind]


def all_in_order(kind: str = "structural") -> dict[str, bool]:
    """Every item of a list ticked."""
    return {str(item): True for item in list_of(kind)}
