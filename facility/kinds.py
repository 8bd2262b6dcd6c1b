"""Kinds that a rule may be narrowed to, beside the exercises and unit kinds of the sites."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _


class Duty(models.TextChoices):
    IN_CHARGE = "in_charge", _("instructor in charge")
    SAFETY = "safety", _("safety officer")
    IGNITION = "ignition", _("ignition officer")
    OBSERVER = "observer", _("ignition observer")
    CREW = "crew", _("crew instructor")
    PUMP = "pump", _("pump operator")
    LEARNER = "learner", _("learner")


class ProductKind(models.TextChoices):
    PARTICLE_BOARD = "particle_board", _("particle board")
    OSB = "osb", _("OSB")
    PLYWOOD = "plywood", _("plywood")
    FIBREBOARD = "fibreboard", _("low-density fibreboard")
    KINDLING = "kindling", _("loose kindling")
    LIQUID = "liquid", _("starter liquid")


BOARD_KINDS = frozenset(
    {ProductKind.PARTICLE_BOARD, ProductKind.OSB, ProductKind.PLYWOOD, ProductKind.FIBREBOARD}
)

# Who stands inside the unit, or at its fire: whom the people cap and the exposure counts mean.
INSIDE = (Duty.IN_CHARGE, Duty.CREW, Duty.IGNITION, Duty.OBSERVER, Duty.LEARNER)
