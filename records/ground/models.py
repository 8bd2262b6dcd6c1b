"""What burns do to the ground and its people, in two ledgers, and what a unit was when."""

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
