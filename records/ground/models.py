"""What burns do to the ground: the use of each unit, as a ledger."""

from __future__ import annotations

from django.db import models

from facility.guarded import AppendOnlyModel
from facility.sites.models import Unit


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
