"""Burn plans. Every change is a new version; what was approved is kept as it was approved."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from facility.guarded import AppendOnlyModel, GuardedModel, PublicModel
from facility.kinds import Duty
from facility.people.models import Person
from facility.rulebook.models import Edition
from facility.sites.models import ChargePosition, Exercise, Site, Unit
from records.stock.models import Lot, Product


class PlanState(models.TextChoices):
    DRAFT = "draft", _("draft")
    SUBMITTED = "submitted", _("submitted")
    SENT_BACK = "sent_back", _("sent back")
    APPROVED = "approved", _("approved")
    BURNING = "burning", _("burning")
    BURNED = "burned", _("burned")
    WITHDRAWN = "withdrawn", _("withdrawn")


class Plan(PublicModel, GuardedModel):
    """One planned burn in one unit."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="plans")
    state = models.CharField(max_length=10, choices=PlanState.choices, default=PlanState.DRAFT)
    current = models.ForeignKey(
        "PlanVersion", on_delete=models.PROTECT, related_name="+", null=True
    )

    class Meta:
        indexes = [models.Index(fields=["site", "state"])]

    @property
    def version(self) -> PlanVersion:
        """The newest version; only inside the act that drafts it has a plan none."""
        assert self.current is not None
        return self.current


class PlanVersion(AppendOnlyModel):
    """The plan as someone wrote it at one moment."""

    plan = models.ForeignKey(Plan, on_delete=models.PROTECT, related_name="versions")
    number = models.PositiveSmallIntegerField()
    written_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    written_at = models.DateTimeField()
    content_hash = models.CharField(max_length=64)
    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="plan_versions")
    exercise = models.CharField(max_length=20, choices=Exercise.choices)
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    water_l = models.DecimalField(max_digits=8, decimal_places=0)
    objective = models.CharField(max_length=300)
    abort_criteria = models.CharField(max_length=500)

    class Meta:
        ordering = ["number"]
        indexes = [models.Index(fields=["unit", "starts_at"])]
        constraints = [models.UniqueConstraint(fields=["plan", "number"], name="version_once")]


class ChargeLine(AppendOnlyModel):
    """Fuel at one position. Without a lot, the store chooses at issue: oldest accepted first."""

    version = models.ForeignKey(PlanVersion, on_delete=models.PROTECT, related_name="charge")
    order = models.PositiveSmallIntegerField()
    position = models.ForeignKey(ChargePosition, on_delete=models.PROTECT, related_name="+")
    product = models.ForeignKey(Product, on_delete=models.PROTECT, related_name="+")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="+", null=True)
    quantity = models.DecimalField(max_digits=9, decimal_places=2)

    class Meta:
        ordering = ["order"]
        constraints = [models.CheckConstraint(condition=Q(quantity__gt=0), name="line_is_positive")]


class CrewPlace(AppendOnlyModel):
    """One person in one duty."""

    version = models.ForeignKey(PlanVersion, on_delete=models.PROTECT, related_name="crew")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    duty = models.CharField(max_length=10, choices=Duty.choices)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["version", "person", "duty"], name="place_once")
        ]


class PlanStatement(AppendOnlyModel):
    """A fact that no record can tell, stated by whoever wrote the version."""

    version = models.ForeignKey(PlanVersion, on_delete=models.PROTECT, related_name="stated")
    fact = models.CharField(max_length=60)
    value = models.CharField(max_length=60)

    class Meta:
        ordering = ["fact"]
        constraints = [models.UniqueConstraint(fields=["version", "fact"], name="stated_once")]


class Stage(models.TextChoices):
    SUBMIT = "submit", _("when submitted")
    APPROVE = "approve", _("when approved")
    IGNITE = "ignite", _("at ignition")
    CLOSE = "close", _("when closed")


class KnownAtIgnition(AppendOnlyModel):
    """Every fact known of a burn when it was lit, so that any edition can judge it later."""

    version = models.OneToOneField(PlanVersion, on_delete=models.PROTECT, related_name="known")
    ignited_at = models.DateTimeField()
    facts = models.JSONField()

    class Meta:
        indexes = [models.Index(fields=["ignited_at"])]


class Finding(AppendOnlyModel):
    """A finding of the rule engine as it was that day."""

    version = models.ForeignKey(PlanVersion, on_delete=models.PROTECT, related_name="findings")
    stage = models.CharField(max_length=8, choices=Stage.choices)
    edition = models.ForeignKey(Edition, on_delete=models.PROTECT, related_name="+")
    judged_at = models.DateTimeField()
    code = models.CharField(max_length=12)
    title = models.CharField(max_length=120)
    about = models.CharField(max_length=80, blank=True)  # the person, lot or product judged
    verdict = models.CharField(max_length=12)
    severity = models.CharField(max_length=8)
    measured = models.CharField(max_length=60)
    allowed = models.CharField(max_length=200)
    margin = models.CharField(max_length=40)
    clause = models.CharField(max_length=200)
    sentence = models.CharField(max_length=500)
    also = models.CharField(max_length=300, blank=True)  # milder rules that ask the same
    waiver = models.CharField(max_length=10, blank=True)  # public id of the waiver that lifts it

    class Meta:
        ordering = ["id"]


class Approval(AppendOnlyModel):
    """A signature on one version: meaning, content hash, edition. Or the reason for a return."""

    version = models.OneToOneField(PlanVersion, on_delete=models.PROTECT, related_name="decision")
    approved = models.BooleanField()
    meaning = models.CharField(max_length=120)
    reason = models.CharField(max_length=500, blank=True)
    content_hash = models.CharField(max_length=64)
    edition = models.ForeignKey(Edition, on_delete=models.PROTECT, related_name="+", null=True)
    signed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    signed_at = models.DateTimeField()


class ChargeIssue(AppendOnlyModel):
    """Boards handed out from one lot to one line of an approved version."""

    version = models.ForeignKey(PlanVersion, on_delete=models.PROTECT, related_name="issues")
    line = models.ForeignKey(ChargeLine, on_delete=models.PROTECT, related_name="issues")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="+")
    quantity = models.DecimalField(max_digits=9, decimal_places=2)
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
