"""Inspections, defects, repairs, their checks, and returns to service: a unit's state is derived
from these."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from facility.guarded import AppendOnlyModel, GuardedModel, PublicModel
from facility.people.models import Person
from facility.sites.models import Sensor, Unit
from records.pictures.models import Picture


class InspectionKind(models.TextChoices):
    PRE_BURN = "pre_burn", _("before a burn")
    POST_BURN = "post_burn", _("after a burn")
    STRUCTURAL = "structural", _("structural, by the inspector")
    PERIODIC = "periodic", _("periodic")
    ENGINEER = "engineer", _("engineer's")
    LINING = "lining", _("behind the lining")


# The kinds that come due; those before and after a burn belong to the burn.
SCHEDULED = (
    InspectionKind.STRUCTURAL, InspectionKind.PERIODIC, InspectionKind.ENGINEER,
    InspectionKind.LINING,
)  # fmt: skip


class Outcome(models.TextChoices):
    GOOD = "good", _("good")
    MONITOR = "monitor", _("monitor")
    DEFECT = "defect", _("defect found")
    UNFIT = "unfit", _("unfit for burning")


class Wall(models.TextChoices):
    """A surface of the shell that may be gauged; left and right as seen from the burn end."""

    REAR = "rear", _("burn end")
    LEFT = "left", _("left wall")
    FRONT = "front", _("door end")
    RIGHT = "right", _("right wall")
    ROOF = "roof", _("roof")
    FLOOR = "floor", _("floor")


class Inspection(PublicModel, AppendOnlyModel):
    """One look at a unit."""

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="inspections")
    kind = models.CharField(max_length=12, choices=InspectionKind.choices)
    outcome = models.CharField(max_length=10, choices=Outcome.choices)
    done_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    done_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    note = models.CharField(max_length=500, blank=True)
    # Why readings of the wall that cannot be as they are were kept: see ``gauging``.
    thickness_why = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-done_at"]
        indexes = [models.Index(fields=["unit", "kind", "done_at"])]


class InspectionItem(AppendOnlyModel):
    """One line of a check list, and whether it was in order."""

    inspection = models.ForeignKey(Inspection, on_delete=models.PROTECT, related_name="items")
    item = models.CharField(max_length=120)
    in_order = models.BooleanField()


class DefectSeverity(models.TextChoices):
    MONITOR = "monitor", _("watch it")
    RESTRICTS = "restricts", _("restricts use")
    UNSAFE = "unsafe", _("unsafe, out of service")


class Defect(PublicModel, AppendOnlyModel):
    """Something wrong with a unit, and what it forbids. Open until a release.

    ``part`` is the key of a part of the unit's make-up, or the name of a wall, the roof or the
    floor. The restrictions bind every plan in the unit at once; empty ones restrict nothing.
    """

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="defects")
    inspection = models.ForeignKey(
        Inspection, on_delete=models.PROTECT, related_name="defects", null=True
    )
    severity = models.CharField(max_length=10, choices=DefectSeverity.choices)
    place = models.CharField(max_length=80)
    part = models.CharField(max_length=10, blank=True)
    description = models.CharField(max_length=500)
    no_entry = models.BooleanField(default=False)
    most_boards = models.PositiveSmallIntegerField(null=True, blank=True)
    most_dry_kg = models.DecimalField(max_digits=7, decimal_places=1, null=True, blank=True)
    found_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    found_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-found_at"]

    @property
    def restricts(self) -> bool:
        """Whether it forbids anything while it is open."""
        return self.no_entry or self.most_boards is not None or self.most_dry_kg is not None


class Repair(AppendOnlyModel):
    """Work done on a defect, by whom of our people or led by them, by whom else, and with what."""

    defect = models.ForeignKey(Defect, on_delete=models.PROTECT, related_name="repairs")
    what = models.CharField(max_length=500)
    contractor = models.CharField(max_length=80, blank=True)
    material = models.CharField(max_length=200, blank=True)
    cost = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True)
    done_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    done_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")


class Verification(AppendOnlyModel):
    """A look at a repair: what was checked, and whether it holds. No release without one."""

    defect = models.ForeignKey(Defect, on_delete=models.PROTECT, related_name="verifications")
    checked = models.CharField(max_length=500)
    holds = models.BooleanField()
    done_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    done_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["done_at", "id"]


class Release(AppendOnlyModel):
    """Return to service: closes a defect; signed by someone who is not on the repair."""

    defect = models.OneToOneField(Defect, on_delete=models.PROTECT, related_name="release")
    statement = models.CharField(max_length=500)
    released_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    released_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")


class PartLook(AppendOnlyModel):
    """What an inspection found at one part of the unit: its result, a note, a photograph.

    ``part`` is the key of a part or the name of a wall; ``name`` is what the part was called then.
    A defect or unfit part opened ``defect``.
    """

    inspection = models.ForeignKey(Inspection, on_delete=models.PROTECT, related_name="looks")
    part = models.CharField(max_length=10)
    name = models.CharField(max_length=80)
    result = models.CharField(max_length=10, choices=Outcome.choices)
    note = models.CharField(max_length=500, blank=True)
    picture = models.ForeignKey(Picture, on_delete=models.PROTECT, related_name="+", null=True)
    defect = models.ForeignKey(Defect, on_delete=models.PROTECT, related_name="looks", null=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["inspection", "part"], name="part_once_an_inspection")
        ]


class WallPoint(PublicModel, GuardedModel):
    """A marked point of a wall, where the gauge is set each time.

    ``along_m`` runs along the wall from its left edge as seen from inside, ``up_m`` from its lower
    edge; both are empty for points known from before their place was. ``nominal_mm`` is the
    thickness the wall was built with there.
    """

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="wall_points")
    mark = models.CharField(max_length=12)
    wall = models.CharField(max_length=6, choices=Wall.choices, blank=True)
    along_m = models.DecimalField(max_digits=5, decimal_places=2, null=True)
    up_m = models.DecimalField(max_digits=5, decimal_places=2, null=True)
    nominal_mm = models.DecimalField(max_digits=5, decimal_places=2, null=True)
    marked_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["unit", "mark"], name="wall_point_once_a_unit")
        ]

    def __str__(self) -> str:
        return self.mark


class GaugeCheck(AppendOnlyModel):
    """The ultrasonic gauge of an inspection, and what it read on a block of known thickness."""

    inspection = models.OneToOneField(Inspection, on_delete=models.PROTECT, related_name="gauge")
    gauge = models.CharField(max_length=40)  # its mark
    block_mm = models.DecimalField(max_digits=5, decimal_places=2)
    read_mm = models.DecimalField(max_digits=5, decimal_places=2)
    checked_on = models.DateField()


class ThicknessReading(AppendOnlyModel):
    """The wall at one marked point, by ultrasonic gauge: the mean of the readings taken there."""

    inspection = models.ForeignKey(Inspection, on_delete=models.PROTECT, related_name="thickness")
    point = models.CharField(max_length=12)
    thickness_mm = models.DecimalField(max_digits=5, decimal_places=2)
    repeats = models.PositiveSmallIntegerField(default=1)
    lowest_mm = models.DecimalField(max_digits=5, decimal_places=2, null=True)  # of several
    highest_mm = models.DecimalField(max_digits=5, decimal_places=2, null=True)

    class Meta:
        ordering = ["point"]
        constraints = [
            models.UniqueConstraint(
                fields=["inspection", "point"], name="point_once_an_inspection"
            ),
            models.CheckConstraint(condition=Q(thickness_mm__gt=0), name="wall_has_thickness"),
        ]


class SensorCalibration(AppendOnlyModel):
    """A thermocouple held against a reference: what the reference showed, and what it showed."""

    sensor = models.ForeignKey(Sensor, on_delete=models.PROTECT, related_name="calibrations")
    reference_c = models.DecimalField(max_digits=6, decimal_places=1)
    read_c = models.DecimalField(max_digits=6, decimal_places=1)
    against = models.CharField(max_length=120)  # the reference: which one, and its certificate
    done_on = models.DateField()
    done_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["-done_on", "-id"]

    @property
    def deviation_k(self) -> float:
        return float(self.read_c - self.reference_c)
