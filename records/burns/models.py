"""Burns: what really happened, as reports that are corrected by new reports."""

from __future__ import annotations

import uuid

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
    """The kinds of ``facility.yard.kinds`` that belong to the fire; its board is read elsewhere."""

    IGNITION = "ignition", _("ignition seen")
    STAGE = "stage", _("stage of the fire")
    FLAMES_CEILING = "flames_ceiling", _("flames at the ceiling")
    FLAME_OVERHEAD = "flame_overhead", _("flame over heads")
    ALIGHT = "alight", _("boards alight")
    NOT_ALIGHT = "not_alight", _("boards not yet alight")
    FUEL_ADDED = "fuel_added", _("boards added")
    NEUTRAL_PLANE = "neutral_plane", _("height of the neutral plane")
    LAYERS = "layers", _("layers seen")
    AIR_TRACK = "air_track", _("air track")
    SMOKE = "smoke", _("smoke")
    VENT_OPENED = "vent_opened", _("vent opened")
    VENT_CLOSED = "vent_closed", _("vent closed")
    WATER = "water", _("water applied")
    STEAM = "steam", _("steam")
    KNOCK_DOWN = "knock_down", _("knock-down")
    OUT = "out", _("fire out")
    STOP = "stop", _("stopped early")
    UNDO = "undo", _("struck out")


class FireStage(models.TextChoices):
    """The four stages, growth whole or in three parts; flashover is a transition, not a stage."""

    INCIPIENT = "incipient", _("incipient")
    GROWTH = "growth", _("growth")
    GROWTH_EARLY = "growth_early", _("growth, early")
    GROWTH_MIDDLE = "growth_middle", _("growth, middle")
    GROWTH_LATE = "growth_late", _("growth, late")
    FULLY_DEVELOPED = "fully_developed", _("fully developed")
    DECAY = "decay", _("decay")


def new_source() -> str:
    return str(uuid.uuid4())


class TimelineEvent(AppendOnlyModel):
    """One observation, with the time it was made and the time it was entered.

    ``value`` is that of its kind in ``facility.yard.kinds``; ``within_ms`` is how sure the time
    is, null where a person gave it to the minute. ``source`` names the event, the same as on the
    tablet it came from (empty before events had names), and ``corrects`` the one it strikes out.
    """

    burn = models.ForeignKey(Burn, on_delete=models.PROTECT, related_name="events")
    kind = models.CharField(max_length=20, choices=EventKind.choices)
    stage = models.CharField(max_length=16, choices=FireStage.choices, blank=True)
    height_m = models.DecimalField(max_digits=4, decimal_places=2, null=True)
    value = models.JSONField(default=dict)
    note = models.CharField(max_length=200, blank=True)
    happened_at = models.DateTimeField()
    within_ms = models.PositiveBigIntegerField(null=True)
    recorded_at = models.DateTimeField()
    noted_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    caller = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True)
    source = models.CharField(max_length=36, default=new_source, editable=False)
    corrects = models.CharField(max_length=36, blank=True)

    class Meta:
        ordering = ["happened_at", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["source"], condition=~Q(source=""), name="timeline_event_once"
            )
        ]


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
