"""What burns do to the ground and its people, in three ledgers, and what a unit was when."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from facility.guarded import AppendOnlyModel, PublicModel
from facility.people.models import Person
from facility.sites.models import Site, Unit


class UnitUse(AppendOnlyModel):
    """One closed burn, its correction, or the burns of years taken over from an older log.

    The burn count of a unit is the sum of ``burns``.

    It stands here, below inspections and plans, because both must count burns while the burn
    records themselves stand above them.
    """

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="uses")
    burn = models.CharField(max_length=10, blank=True)  # public id of the burn
    ignited_at = models.DateTimeField()
    ended_at = models.DateTimeField()
    burns = models.SmallIntegerField()  # 1 for a burn, 0 for a correction of its fuel
    dry_mass_kg = models.DecimalField(max_digits=9, decimal_places=2)
    energy_mj = models.DecimalField(max_digits=10, decimal_places=1)
    taken_over_from = models.DateField(null=True, blank=True)  # first day of what an older log says
    document = models.CharField(max_length=120, blank=True)  # that log
    taken_over_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    recorded_at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["unit", "ignited_at"])]


class UnitHeat(AppendOnlyModel):
    """What one logger's file adds to the recorded heat of a unit; sums of rows are its counts.

    Recorded once, when the file is taken: inspections and plans must count cycles without the
    files, which stand above them, and a series is unpacked once instead of at every page. Of a
    file the channel counts that stood hot longest, or cycled most. A second file of the same time
    of the same burn adds only what it has more than the first.
    """

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="heats")
    burn = models.CharField(max_length=10)  # public id of the burn
    file = models.CharField(max_length=10, unique=True)  # public id of the logger's file
    ignited_at = models.DateTimeField()
    began_at = models.DateTimeField()  # of the file
    ended_at = models.DateTimeField()
    burns = models.PositiveSmallIntegerField()  # 1 for the first file of a burn, 0 for more
    hottest_c = models.FloatField()
    sensor = models.CharField(max_length=200)  # where that was read
    above_149_s = models.FloatField()
    above_400_s = models.FloatField()
    above_600_s = models.FloatField()
    cycles = models.FloatField()  # a swing that never closes is half a cycle
    recorded_at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["unit", "ignited_at"])]


class UnitFit(PublicModel, AppendOnlyModel):
    """Factors on the forecast of a unit, as its own burns asked for them at a moment.

    Kept, not worked out on reading: plans stand below the recordings and must not unpack them, a
    fit takes seconds, and a plan that was approved with these factors can be read back later. The
    newest one counts. ``rests_on`` holds for each burn its public id, charge and traits.
    """

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="fits")
    heat = models.FloatField()
    loss = models.FloatField()
    growth = models.FloatField()
    covariance = models.JSONField()  # of the logarithms, in this order
    stray = models.JSONField()  # of one burn in the logarithms of its traits
    burns = models.PositiveIntegerField()
    rests_on = models.JSONField()
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["-id"]


class Exposure(AppendOnlyModel):
    """One person inside at one closed burn, or a correction of when that burn ended.

    The count of exposures of a person is the number of burns, not of rows.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="exposures")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="exposures")
    burn = models.CharField(max_length=10)  # public id of the burn
    ignited_at = models.DateTimeField()
    ended_at = models.DateTimeField()
    recorded_at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["person", "ignited_at"])]


class ChangeKind(models.TextChoices):
    """What made a unit what it is from a moment on."""

    COMMISSIONED = "commissioned", _("commissioned")
    MODIFIED = "modified", _("modified")
    MOVED = "moved", _("moved")
    RELINED = "relined", _("relined")


class UnitVersion(PublicModel, AppendOnlyModel):
    """A unit's make-up and handover limits from a moment on, kept as they were.

    Nobody is named in those that stand for a unit from before versions were kept.
    """

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="versions")
    number = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=12, choices=ChangeKind.choices)
    since = models.DateTimeField()
    what = models.CharField(max_length=500, blank=True)  # what was done, and where it stands
    document = models.CharField(max_length=120, blank=True)  # trials, certificate, drawing
    make_up = models.JSONField()
    limits = models.JSONField()
    written_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["unit", "number"], name="version_once_a_unit")
        ]
