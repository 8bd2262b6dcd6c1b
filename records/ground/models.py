"""What burns do to the ground and its people: two ledgers, of unit use and of exposure."""

from __future__ import annotations

from django.db import models

from facility.guarded import AppendOnlyModel
from facility.people.models import Person
from facility.sites.models import Site, Unit


class UnitUse(AppendOnlyModel):
    """One closed burn, or its correction. The burn count of a unit is the sum of ``burns``.

    It stands here, below inspections and plans, because both must count burns while the burn
    records themselves stand above them.
    """

    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="uses")
    burn = models.CharField(max_length=10)  # public id of the burn
    ignited_at = models.DateTimeField()
    ended_at = models.DateTimeField()
    burns = models.SmallIntegerField()  # 1 for a burn, 0 for a correction of its fuel
    dry_mass_kg = models.DecimalField(max_digits=8, decimal_places=2)
    energy_mj = models.DecimalField(max_digits=9, decimal_places=1)
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
