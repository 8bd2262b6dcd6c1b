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

    @property
    def standing(self) -> str:
        """The state in a list, which tells as well that a second signature is awaited."""
        return "awaits_second" if getattr(self, "awaits", False) else self.state

    def standing_events(self) -> list[TimelineEvent]:
        """Its events by time, without those struck out and what struck them out."""
        events = sorted(self.events.all(), key=lambda event: (event.happened_at, event.pk))
        struck = {event.corrects for event in events if event.kind == EventKind.UNDO}
        return [
            event for event in events if event.kind != EventKind.UNDO and event.source not in struck
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


# -- before the burn -------------------------------------------------------------------------
#
# Rows hang on the version of the plan, which exists before the burn does. A new version begins
# with none of them.


class CheckMark(AppendOnlyModel):
    """One item of the check list, looked at once; the newest mark of an item counts."""

    version = models.ForeignKey(PlanVersion, on_delete=models.PROTECT, related_name="marks")
    code = models.CharField(max_length=12)
    stage = models.CharField(max_length=12)
    text = models.CharField(max_length=120)
    in_order = models.BooleanField()
    note = models.CharField(max_length=200, blank=True)
    seen_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    seen_at = models.DateTimeField()
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]


class Briefing(AppendOnlyModel):
    """A briefing as it was held; whoever comes late is told in another one."""

    version = models.ForeignKey(PlanVersion, on_delete=models.PROTECT, related_name="briefings")
    given_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    held_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["id"]


class Briefed(AppendOnlyModel):
    """One person at one briefing."""

    briefing = models.ForeignKey(Briefing, on_delete=models.PROTECT, related_name="people")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")


class Roll(AppendOnlyModel):
    """Who is there, called once and whole; the newest roll of a version counts."""

    version = models.ForeignKey(PlanVersion, on_delete=models.PROTECT, related_name="rolls")
    called_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    called_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]


class RollPlace(AppendOnlyModel):
    """A place of the plan and who fills it on the day: the one planned, a stand-in, or nobody."""

    roll = models.ForeignKey(Roll, on_delete=models.PROTECT, related_name="places")
    duty = models.CharField(max_length=10, choices=Duty.choices)
    planned = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True)

    class Meta:
        ordering = ["id"]

    @property
    def stands_in(self) -> bool:
        return self.person_id is not None and self.person_id != self.planned_id


class WindFrom(models.TextChoices):
    """Where the wind comes from, to an eighth of the compass."""

    NORTH = "n", _("north")
    NORTH_EAST = "ne", _("north-east")
    EAST = "e", _("east")
    SOUTH_EAST = "se", _("south-east")
    SOUTH = "s", _("south")
    SOUTH_WEST = "sw", _("south-west")
    WEST = "w", _("west")
    NORTH_WEST = "nw", _("north-west")


class Weather(AppendOnlyModel):
    """The weather at the unit as somebody read it; the newest before ignition counts."""

    version = models.ForeignKey(PlanVersion, on_delete=models.PROTECT, related_name="weather")
    words = models.CharField(max_length=120)
    wind_m_s = models.DecimalField(max_digits=4, decimal_places=1, null=True)
    wind_from = models.CharField(max_length=2, choices=WindFrom.choices, blank=True)
    temperature_c = models.DecimalField(max_digits=4, decimal_places=1, null=True)
    humidity_pct = models.DecimalField(max_digits=4, decimal_places=1, null=True)
    read_at = models.DateTimeField()
    read_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]


class FitSignature(AppendOnlyModel):
    """Signed: what stood on the sheet then is fit to burn. Anything else on it voids this."""

    version = models.ForeignKey(PlanVersion, on_delete=models.PROTECT, related_name="fit")
    duty = models.CharField(max_length=10, choices=Duty.choices)
    meaning = models.CharField(max_length=120)
    content_hash = models.CharField(max_length=64)
    signed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    signed_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["version", "content_hash", "signed_by"], name="nobody_signs_fit_twice"
            )
        ]


# -- after the burn --------------------------------------------------------------------------


class CloseSheet(AppendOnlyModel):
    """What a report says beside the boards, and whether a second person has to sign it."""

    report = models.OneToOneField(BurnReport, on_delete=models.PROTECT, related_name="sheet")
    water_l = models.DecimalField(max_digits=8, decimal_places=1, null=True)
    unburnt_kg = models.DecimalField(max_digits=7, decimal_places=1, null=True)
    countersign = models.CharField(max_length=80, blank=True)  # the row that asks for it


class WorkPosition(models.TextChoices):
    """Where somebody worked during a burn."""

    AT_FIRE = "at_fire", _("at the fire")
    FRONT = "front", _("inside, front")
    REAR = "rear", _("inside, rear")
    OPENING = "opening", _("at the opening")
    OUTSIDE = "outside", _("outside")


class Stay(AppendOnlyModel):
    """How long one person was exposed, where, and in which duty; 0 minutes is not exposed."""

    report = models.ForeignKey(BurnReport, on_delete=models.PROTECT, related_name="stays")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    duty = models.CharField(max_length=10, choices=Duty.choices)
    position = models.CharField(max_length=8, choices=WorkPosition.choices)
    minutes = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["report", "person"], name="one_stay_a_report")
        ]


class RemarkKind(models.TextChoices):
    INJURY = "injury", _("injury")
    NEAR_MISS = "near_miss", _("near miss")
    DEVIATION = "deviation", _("deviation from the plan")
    UNUSUAL = "unusual", _("unusual condition")


class Remark(PublicModel, AppendOnlyModel):
    """An injury, a near miss, a deviation or an unusual condition of one burn."""

    burn = models.ForeignKey(Burn, on_delete=models.PROTECT, related_name="remarks")
    kind = models.CharField(max_length=9, choices=RemarkKind.choices)
    what = models.CharField(max_length=500)
    then = models.CharField(max_length=300, blank=True)  # why, or what was done about it
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True)
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["happened_at", "id"]


class SignaturePart(models.TextChoices):
    CLOSE = "close", _("closed by")
    COUNTERSIGN = "second", _("countersigned by")


class BurnSignature(AppendOnlyModel):
    """A signature under one report of a burn; a correction takes its own."""

    report = models.ForeignKey(BurnReport, on_delete=models.PROTECT, related_name="signatures")
    part = models.CharField(max_length=8, choices=SignaturePart.choices)
    meaning = models.CharField(max_length=120)
    content_hash = models.CharField(max_length=64)
    signed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    signed_at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["report", "part"], name="report_signed_once_a_part"),
            models.UniqueConstraint(fields=["report", "signed_by"], name="nobody_signs_both"),
        ]
