"""The ground as it stands: sites, bays of the store, burn units and their geometry.

Lengths are metres. A unit's long axis is x, from the burn end (0) to the door end; y is across,
from the right-hand wall (0) to the left as seen from the burn end; z is up from the floor. A
unit's state is derived from inspections and defects, never typed here.

The rows of a unit's parts are its make-up as it stands. What it was before stands in the versions
of ``records.ground``; a part that was taken out stays as a row that is no longer ``fitted``.
"""

from __future__ import annotations

import zoneinfo
from decimal import Decimal
from typing import Any, ClassVar

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from facility.guarded import GuardedModel, GuardedQuerySet, PublicModel


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
    # What the handover allows besides people; empty where it says nothing.
    max_charge_kg = models.DecimalField(max_digits=7, decimal_places=1, null=True, blank=True)
    max_burns_day = models.PositiveSmallIntegerField(null=True, blank=True)
    cool_down_min = models.PositiveSmallIntegerField(null=True, blank=True)
    handover_document = models.CharField(max_length=120, blank=True)
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

    @property
    def nobody_inside(self) -> bool:
        """Whether fires are shown in it from outside only."""
        return self.kind == UnitKind.WINDOW


class Fitted(models.Manager.from_queryset(GuardedQuerySet)):  # type: ignore[misc]
    """The parts that are in the unit now."""

    def get_queryset(self) -> Any:
        return super().get_queryset().filter(fitted=True)


class Part(PublicModel, GuardedModel):
    """A part of a unit. ``DESCRIBED`` names the fields that say what it is and where."""

    DESCRIBED: ClassVar[tuple[str, ...]] = ()

    name = models.CharField(max_length=40)
    fitted = models.BooleanField(default=True)

    objects: ClassVar[Any] = Fitted()

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return self.name


class Compartment(Part):
    """A room of a unit, a rectangle of its floor. A unit without any is one room."""

    DESCRIBED = ("name", "x_m", "y_m", "length_m", "width_m")

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="compartments")
    x_m = models.DecimalField(max_digits=5, decimal_places=2)  # its edge nearest the burn end
    y_m = models.DecimalField(max_digits=5, decimal_places=2)  # its edge nearest the right wall
    length_m = models.DecimalField(max_digits=5, decimal_places=2)
    width_m = models.DecimalField(max_digits=5, decimal_places=2)

    class Meta:
        ordering = ["id"]


class OpeningKind(models.TextChoices):
    DOOR = "door", _("door")
    WINDOW = "window", _("window")
    VENT = "vent", _("roof vent")
    HATCH = "hatch", _("roof hatch")


IN_THE_ROOF = frozenset({OpeningKind.VENT, OpeningKind.HATCH})


class Side(models.TextChoices):
    """In which wall an opening is; left and right as seen from the burn end."""

    FRONT = "front", _("door end")
    REAR = "rear", _("burn end")
    LEFT = "left", _("left wall")
    RIGHT = "right", _("right wall")
    ROOF = "roof", _("roof")
    INNER = "inner", _("between compartments")


class Opening(Part):
    """A door, window, roof vent or hatch; ``sill_m`` is its lower edge.

    ``x_m`` is its middle along the unit, ``y_m`` its middle across, which is that of the unit
    where nothing is given. In the roof ``width_m`` runs along the unit and ``height_m`` across.
    """

    DESCRIBED = ("name", "kind", "side", "x_m", "y_m", "width_m", "height_m", "sill_m")

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="openings")
    kind = models.CharField(max_length=10, choices=OpeningKind.choices)
    side = models.CharField(max_length=6, choices=Side.choices)
    x_m = models.DecimalField(max_digits=5, decimal_places=2)
    y_m = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    width_m = models.DecimalField(max_digits=4, decimal_places=2)
    height_m = models.DecimalField(max_digits=4, decimal_places=2)
    sill_m = models.DecimalField(max_digits=4, decimal_places=2, default=0)

    class Meta:
        ordering = ["id"]


class Baffle(Part):
    """A plate across the unit that holds the smoke back: how wide, and from how high up."""

    DESCRIBED = ("name", "x_m", "y_m", "width_m", "z_m", "height_m")

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="baffles")
    x_m = models.DecimalField(max_digits=5, decimal_places=2)
    y_m = models.DecimalField(max_digits=5, decimal_places=2)  # its edge nearest the right wall
    width_m = models.DecimalField(max_digits=5, decimal_places=2)
    z_m = models.DecimalField(max_digits=4, decimal_places=2)  # its lower edge
    height_m = models.DecimalField(max_digits=4, decimal_places=2)

    class Meta:
        ordering = ["id"]


class Lined(models.TextChoices):
    """A surface of a unit that may be lined."""

    CEILING = "ceiling", _("ceiling")
    REAR = "rear", _("burn end")
    LEFT = "left", _("left wall")
    RIGHT = "right", _("right wall")
    FRONT = "front", _("door end")
    FLOOR = "floor", _("floor")


class Lining(Part):
    """What protects a stretch of one surface; ``name`` is its material."""

    DESCRIBED = ("name", "surface", "thickness_mm", "x_m", "length_m")

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="linings")
    surface = models.CharField(max_length=8, choices=Lined.choices)
    thickness_mm = models.DecimalField(max_digits=5, decimal_places=1)
    x_m = models.DecimalField(max_digits=5, decimal_places=2)
    length_m = models.DecimalField(max_digits=5, decimal_places=2)

    class Meta:
        ordering = ["id"]


class Surface(models.TextChoices):
    CEILING = "ceiling", _("ceiling")
    SIDE = "side", _("side walls")
    REAR = "rear", _("rear wall")
    FLOOR = "floor", _("floor")


class ChargePosition(Part):
    """A place in a unit where boards hang or stand."""

    DESCRIBED = ("name", "surface", "x_m", "length_m")

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="positions")
    surface = models.CharField(max_length=10, choices=Surface.choices)
    x_m = models.DecimalField(max_digits=5, decimal_places=2)
    length_m = models.DecimalField(max_digits=5, decimal_places=2)
    order = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["order", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["unit", "name"], condition=Q(fitted=True), name="position_in_unit"
            )
        ]


class Sensor(Part):
    """A fixed thermocouple; in the middle of the unit where nothing else is given."""

    DESCRIBED = ("name", "x_m", "y_m", "z_m")

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="sensors")
    name = models.CharField(max_length=20)
    x_m = models.DecimalField(max_digits=5, decimal_places=2)
    y_m = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    z_m = models.DecimalField(max_digits=4, decimal_places=2)

    class Meta:
        ordering = ["id"]
