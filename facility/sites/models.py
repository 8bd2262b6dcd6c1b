"""The ground as it stands: sites, bays of the store, burn units and their geometry.

Lengths are metres. A unit's long axis is x, from the burn end (0) to the door end; y is across,
z is up from the floor. A unit's state is derived from inspections and defects, never typed here.
"""

from __future__ import annotations

import zoneinfo
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from facility.guarded import GuardedModel, PublicModel


def real_time_zone(name: str) -> None:
    if name not in zoneinfo.available_timezones():
        raise ValidationError(_("%(name)s is not a time zone.") % {"name": name})


class Site(PublicModel, GuardedModel):
    """One training ground."""

    name = models.CharField(max_length=80, unique=True)
    time_zone = models.CharField(max_length=40, validators=[real_time_zone])
    currency = models.CharField(max_length=3, blank=True)  # such as EUR; empty shows none
    # A count off the record by more than either needs a second person: common practice, no source.
    count_over_pct = models.DecimalField(max_digits=5, decimal_places=2, default=Decimal(10))
    count_over_value = models.DecimalField(max_digits=9, decimal_places=2, default=Decimal(100))

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> zoneinfo.ZoneInfo:
        return zoneinfo.ZoneInfo(self.time_zone)


class Bay(PublicModel, GuardedModel):
    """A place in the store."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="bays")
    name = models.CharField(max_length=40)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["site", "name"], name="bay_name_on_site")]

    def __str__(self) -> str:
        return self.name


class Exercise(models.TextChoices):
    """What a burn is for."""

    DEMONSTRATION = "demonstration", _("demonstration")
    ATTACK = "attack", _("attack")
    MULTI = "multi", _("multi-compartment")
    WINDOW = "window", _("backdraught at the window unit")


class UnitKind(models.TextChoices):
    DEMONSTRATION = "demonstration", _("demonstration unit")
    ATTACK = "attack", _("attack unit")
    MULTI = "multi", _("multi-compartment unit")
    WINDOW = "window", _("window unit")


class Unit(PublicModel, GuardedModel):
    """A steel container in which training fires are lit; inside dimensions."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="units")
    name = models.CharField(max_length=40)
    kind = models.CharField(max_length=20, choices=UnitKind.choices)
    length_m = models.DecimalField(max_digits=5, decimal_places=2)
    width_m = models.DecimalField(max_digits=5, decimal_places=2)
    height_m = models.DecimalField(max_digits=5, decimal_places=2)
    max_people = models.PositiveSmallIntegerField()
    wall = models.CharField(max_length=80)
    # Thickness below which a wall is no longer fit, as the ground's engineer set it.
    required_wall_mm = models.DecimalField(max_digits=4, decimal_places=2, null=True, blank=True)
    commissioned_on = models.DateField()
    retired_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["site", "name"], name="unit_name_on_site"),
            models.CheckConstraint(
                condition=Q(length_m__gt=0, width_m__gt=0, height_m__gt=0), name="unit_has_size"
            ),
        ]

    def __str__(self) -> str:
        return self.name


class OpeningKind(models.TextChoices):
    DOOR = "door", _("door")
    VENT = "vent", _("roof vent")
    WINDOW = "window", _("window")


class Opening(GuardedModel):
    """A door, roof vent or window. ``x_m`` is its middle along the unit, ``sill_m`` its lower edge."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="openings")
    kind = models.CharField(max_length=10, choices=OpeningKind.choices)
    name = models.CharField(max_length=40)
    x_m = models.DecimalField(max_digits=5, decimal_places=2)
    width_m = models.DecimalField(max_digits=4, decimal_places=2)
    height_m = models.DecimalField(max_digits=4, decimal_places=2)
    sill_m = models.DecimalField(max_digits=4, decimal_places=2, default=0)


class Surface(models.TextChoices):
    CEILING = "ceiling", _("ceiling")
    SIDE = "side", _("side walls")
    REAR = "rear", _("rear wall")
    FLOOR = "floor", _("floor")


class ChargePosition(PublicModel, GuardedModel):
    """A place in a unit where boards hang or stand."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="positions")
    name = models.CharField(max_length=40)
    surface = models.CharField(max_length=10, choices=Surface.choices)
    x_m = models.DecimalField(max_digits=5, decimal_places=2)
    length_m = models.DecimalField(max_digits=5, decimal_places=2)
    order = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["order", "id"]
        constraints = [models.UniqueConstraint(fields=["unit", "name"], name="position_in_unit")]

    def __str__(self) -> str:
        return self.name


class Sensor(GuardedModel):
    """A fixed thermocouple."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="sensors")
    name = models.CharField(max_length=20)
    x_m = models.DecimalField(max_digits=5, decimal_places=2)
    z_m = models.DecimalField(max_digits=4, decimal_places=2)
