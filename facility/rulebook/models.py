"""The local standard as dated rows. Nothing is edited once its edition is in force."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from facility.guarded import GuardedModel, PublicModel
from facility.people.models import Person
from facility.sites.models import Site, Unit


class Edition(PublicModel, GuardedModel):
    """One edition of a ground's standard, in force from a day until another takes over."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="editions")
    code = models.CharField(max_length=20)
    title = models.CharField(max_length=120)
    proposed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    adopted_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True)
    in_force_from = models.DateField(null=True)
    in_force_to = models.DateField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "code"], name="edition_code_on_site"),
            models.CheckConstraint(
                condition=Q(adopted_by__isnull=True) | ~Q(adopted_by=F("proposed_by")),
                name="edition_adopted_by_another",
            ),
        ]

    def __str__(self) -> str:
        return self.title


class Severity(models.TextChoices):
    BLOCK = "block", _("blocks")
    CAUTION = "caution", _("caution")
    NOTE = "note", _("note")


class Basis(models.TextChoices):
    READ = "read", _("read in the source")
    MEMORY = "memory", _("from memory, unconfirmed")
    LOCAL = "local", _("decided by the ground")
    DERIVED = "derived", _("derived")


class Comparison(models.TextChoices):
    AT_MOST = "<=", _("at most")
    AT_LEAST = ">=", _("at least")
    BETWEEN = "between", _("between")
    EXACTLY = "=", _("exactly")
    IS_TRUE = "true", _("must hold")


class LimitRow(GuardedModel):
    """One rule: a fact, a comparison and a limit, with the clause it rests on."""

    edition = models.ForeignKey(Edition, on_delete=models.PROTECT, related_name="rows")
    code = models.CharField(max_length=12)
    title = models.CharField(max_length=120)
    fact = models.CharField(max_length=60)
    comparison = models.CharField(max_length=8, choices=Comparison.choices)
    limit = models.DecimalField(max_digits=10, decimal_places=3, null=True)
    limit_high = models.DecimalField(max_digits=10, decimal_places=3, null=True)
    unit = models.CharField(max_length=12, blank=True)
    severity = models.CharField(max_length=8, choices=Severity.choices)
    clause = models.CharField(max_length=160)
    basis = models.CharField(max_length=8, choices=Basis.choices)
    exercises = models.CharField(max_length=80, blank=True)  # empty: every exercise

    class Meta:
        ordering = ["code"]
        constraints = [
            models.UniqueConstraint(fields=["edition", "code"], name="row_code_in_edition")
        ]


class BurnSequence(GuardedModel):
    """The burn-sequence chart of one unit under one edition; never waivable."""

    edition = models.ForeignKey(Edition, on_delete=models.PROTECT, related_name="charts")
    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="charts")
    burns_before_cooling = models.PositiveSmallIntegerField()
    cooling_min = models.PositiveSmallIntegerField()
    wait_min = models.PositiveSmallIntegerField()
    trial_on = models.DateField()
    trial_note = models.CharField(max_length=200)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["edition", "unit"], name="chart_of_unit")]


class BurnSequenceStep(GuardedModel):
    """The fuel cap, in dry mass, for the n-th burn of the day."""

    chart = models.ForeignKey(BurnSequence, on_delete=models.PROTECT, related_name="steps")
    nth = models.PositiveSmallIntegerField()
    cap_dry_kg = models.DecimalField(max_digits=7, decimal_places=1)

    class Meta:
        ordering = ["nth"]
        constraints = [
            models.UniqueConstraint(fields=["chart", "nth"], name="step_in_chart"),
            models.CheckConstraint(condition=Q(nth__gte=1, cap_dry_kg__gt=0), name="step_is_real"),
        ]
