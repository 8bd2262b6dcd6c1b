"""Burns: what really happened, as reports that are corrected by new reports."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from facility.guarded import AppendOnlyModel, GuardedModel, PublicModel
from facility.kinds import Duty
from facility.people.models import Person
from facility.sites.models import Site, Unit
from records.inspections.models import Inspection
from records.plans.models import PlanVersion
from records.stock.models import Lot


class BurnState(models.TextChoices):
    BURNING = "burning", _("burning")
    CLOSED = "closed", _("closed")


class Burn(PublicModel, GuardedModel):
    """One ignition in one unit, under one approved version of a plan."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="burns")
    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="burns")
    version = models.OneToOneField(PlanVersion, on_delete=models.PROTECT, related_name="burn")
    state = models.CharField(max_length=8, choices=BurnState.choices, default=BurnState.BURNING)
    nth_of_day = models.PositiveSmallIntegerField()
    ignited_at = models.DateTimeField()
    ignition_method = models.CharField(max_length=80)
    weather = models.CharField(max_length=120)
    started_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    pre_check = models.OneToOneField(Inspection, on_delete=models.PROTECT, related_name="+")
    post_check = models.OneToOneField(
        Inspection, on_delete=models.PROTECT, related_name="+", null=True
    )
    current = models.ForeignKey("BurnReport", on_delete=models.PROTECT, related_name="+", null=True)

    class Meta:
        ordering = ["-ignited_at"]
        indexes = [models.Index(fields=["site", "ignited_at"])]
        constraints = [
            models.UniqueConstraint(
                fields=["unit"], condition=Q(state="burning"), name="one_fire_at_a_time_in_a_unit"
            )
        ]


class Attendance(AppendOnlyModel):
    """Who was there, in which duty."""

    burn = models.ForeignKey(Burn, on_delete=models.PROTECT, related_name="attendance")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="attendance")
    duty = models.CharField(max_length=10, choices=Duty.choices)


class EventKind(models.TextChoices):
    STAGE = "stage", _("stage of the fire")
    NEUTRAL_PLANE = "neutral_plane", _("height of the neutral plane")
    VENT_OPENED = "vent_opened", _("vent opened")
    VENT_CLOSED = "vent_closed", _("vent closed")
    WATER = "water", _("water applied")
    STOP = "stop", _("stopped early")


class FireStage(models.TextChoices):
    """The four stages; flashover is a transition between two of them, not a stage."""

    INCIPIENT = "incipient", _("incipient")
    GROWTH = "growth", _("growth")
    FULLY_DEVELOPED = "fully_developed", _("fully developed")
    DECAY = "decay", _("decay")


class TimelineEvent(AppendOnlyModel):
    """One observation, with the time it was made and the time it was entered."""

    burn = models.ForeignKey(Burn, on_delete=models.PROTECT, related_name="events")
    kind = models.CharField(max_length=14, choices=EventKind.choices)
    stage = models.CharField(max_length=16, choices=FireStage.choices, blank=True)
    height_m = models.DecimalField(max_digits=4, decimal_places=2, null=True)
    note = models.CharField(max_length=200, blank=True)
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    noted_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["happened_at", "id"]


class BurnReport(AppendOnlyModel):
    """What is held to have happened; a correction is the next report, with its reason."""

    burn = models.ForeignKey(Burn, on_delete=models.PROTECT, related_name="reports")
    number = models.PositiveSmallIntegerField()
    ended_at = models.DateTimeField()
    note = models.CharField(max_length=500, blank=True)
    why = models.CharField(max_length=300, blank=True)
    dry_mass_kg = models.DecimalField(max_digits=8, decimal_places=2)
    energy_mj = models.DecimalField(max_digits=9, decimal_places=1)
    written_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["burn", "number"], name="report_once")]


class BurnFuel(AppendOnlyModel):
    """Boards of one lot that really burned."""

    report = models.ForeignKey(BurnReport, on_delete=models.PROTECT, related_name="fuel")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="+")
    used = models.DecimalField(max_digits=9, decimal_places=2)
