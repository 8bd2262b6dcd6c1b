"""The items of each check, in the order they are walked. Common practice, no single source."""

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
