"""The local standard as dated rows. Nothing is edited once its edition is in force."""

from __future__ import annotations

import datetime as dt

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from facility.guarded import GuardedModel, PublicModel
from facility.people.models import Person
from facility.sites.models import Site, Unit


class Edition(PublicModel, GuardedModel):
    """One edition of a standard on a ground: drafted, proposed, then in force until superseded.

    A ground may live under several standards at once, its own and those of a jurisdiction; each
    has its line of editions. Where they ask the same, the stricter governs.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="editions")
    code = models.CharField(max_length=20)
    title = models.CharField(max_length=120)
    jurisdiction = models.CharField(max_length=60, blank=True)  # empty: the ground's own
    supersedes = models.ForeignKey(
        "self", on_delete=models.PROTECT, related_name="successors", null=True, blank=True
    )
    drafted_at = models.DateTimeField(null=True)
    proposed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    proposed_at = models.DateTimeField(null=True)
    adopted_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True)
    in_force_from = models.DateField(null=True)
    in_force_to = models.DateField(null=True)
    withdrawn_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "code"], name="edition_code_on_site"),
            models.UniqueConstraint(
                fields=["site", "jurisdiction"],
                condition=Q(in_force_from__isnull=False, in_force_to__isnull=True),
                name="one_edition_open_ended",
            ),
            models.CheckConstraint(
                condition=Q(adopted_by__isnull=True) | ~Q(adopted_by=F("proposed_by")),
                name="edition_adopted_by_another",
            ),
        ]

    def __str__(self) -> str:
        return self.title

    def state_on(self, day: dt.date) -> str:
        """draft, proposed, withdrawn, coming, in_force or superseded, as seen on a day."""
        if self.withdrawn_at is not None:
            return "withdrawn"
        if self.in_force_from is None:
            return "draft" if self.proposed_at is None else "proposed"
        if day < self.in_force_from:
            return "coming"
        return "superseded" if self.in_force_to and self.in_force_to < day else "in_force"


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
    ONE_OF = "one_of", _("one of")
    IS_TRUE = "true", _("must hold")
    IS_FALSE = "false", _("must not be so")
    BEFORE = "before", _("on or before the day")
    WITHIN = "within", _("within the time")


class LimitRow(GuardedModel):
    """One rule: a fact, a comparison and a limit, with the clause it rests on.

    Words that a list of choices holds (exercises, unit kinds, duties, products, moments) are kept
    in one text, parted by spaces; empty means all of them.
    """

    edition = models.ForeignKey(Edition, on_delete=models.PROTECT, related_name="rows")
    code = models.CharField(max_length=12)
    jurisdiction = models.CharField(max_length=60, blank=True)
    title = models.CharField(max_length=120)
    fact = models.CharField(max_length=60)
    window = models.CharField(max_length=20, default="burn")
    comparison = models.CharField(max_length=8, choices=Comparison.choices)
    limit = models.DecimalField(max_digits=12, decimal_places=3, null=True)
    limit_high = models.DecimalField(max_digits=12, decimal_places=3, null=True)
    limit_text = models.CharField(max_length=200, blank=True)  # words for one of, a day for before
    unit = models.CharField(max_length=12, blank=True)
    severity = models.CharField(max_length=8, choices=Severity.choices)
    clause = models.CharField(max_length=160)
    source = models.CharField(max_length=200, blank=True)
    basis = models.CharField(max_length=8, choices=Basis.choices)
    why = models.CharField(max_length=300, blank=True)
    exercises = models.CharField(max_length=80, blank=True)
    unit_kinds = models.CharField(max_length=80, blank=True)
    duties = models.CharField(max_length=120, blank=True)
    products = models.CharField(max_length=120, blank=True)
    asked_at = models.CharField(max_length=60, blank=True)
    waivable_by = models.CharField(max_length=12, blank=True)
    two_people = models.BooleanField(default=False)  # a waiver of it needs a second person
    on = models.BooleanField(default=True)  # switched off, a row is kept but not asked
    changed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True)

    class Meta:
        ordering = ["code"]
        constraints = [
            models.UniqueConstraint(fields=["edition", "code"], name="row_code_in_edition")
        ]

    @property
    def is_undecided(self) -> bool:
        """Whether the ground still has to give this row its limit."""
        numeric = self.comparison not in (Comparison.IS_TRUE, Comparison.IS_FALSE)
        return numeric and self.limit is None and not self.limit_text


class BurnSequence(GuardedModel):
    """The burn-sequence chart of one unit under one edition; never waivable."""

    edition = models.ForeignKey(Edition, on_delete=models.PROTECT, related_name="charts")
    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="charts")
    burns_before_cooling = models.PositiveSmallIntegerField()
    cooling_min = models.PositiveSmallIntegerField()
    wait_min = models.PositiveSmallIntegerField()
    trial_on = models.DateField()
    trial_note = models.CharField(max_length=200)
    changed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["edition", "unit"], name="chart_of_unit")]


class BurnSequenceStep(GuardedModel):
    """The fuel cap, in dry mass, for the n-th burn of the day."""

    chart = models.ForeignKey(BurnSequence, on_delete=models.PROTECT, related_name="steps")
    nth = models.PositiveSmallIntegerField()
    cap_dry_kg = models.DecimalField(max_digits=7, decimal_places=1)
    dropped = models.BooleanField(default=False)  # taken off the chart while it was drafted

    class Meta:
        ordering = ["nth"]
        constraints = [
            models.UniqueConstraint(fields=["chart", "nth"], name="step_in_chart"),
            models.CheckConstraint(condition=Q(nth__gte=1, cap_dry_kg__gt=0), name="step_is_real"),
        ]


class CheckStage(models.TextChoices):
    """When an item is looked at, in the order of a burn day."""

    WALK_THROUGH = "walk_through", _("walk-through")
    BRIEFING = "briefing", _("briefing")
    PRE_IGNITION = "pre_ignition", _("before ignition")


class CheckItem(GuardedModel):
    """One item of the check list before a burn, as an edition asks for it.

    An edition without items leaves the fixed list of ``records.inspections.checklists`` to apply.
    """

    edition = models.ForeignKey(Edition, on_delete=models.PROTECT, related_name="checks")
    code = models.CharField(max_length=12)
    stage = models.CharField(max_length=12, choices=CheckStage.choices)
    text = models.CharField(max_length=120)
    blocks = models.BooleanField(default=True)  # no ignition while it is open
    clause = models.CharField(max_length=160)
    source = models.CharField(max_length=200, blank=True)
    basis = models.CharField(max_length=8, choices=Basis.choices)
    on = models.BooleanField(default=True)
    changed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True)

    class Meta:
        ordering = ["code"]
        constraints = [
            models.UniqueConstraint(fields=["edition", "code"], name="check_code_in_edition")
        ]


class WaiverScope(models.TextChoices):
    PLAN = "plan", _("one plan")
    UNIT = "unit", _("one unit")
    GROUND = "ground", _("the whole ground")


class Waiver(PublicModel, GuardedModel):
    """Leave to go past one row, for a time and with something done instead.

    The row names who may grant it. A safety row takes two people, neither of them the asker.
    """

    row = models.ForeignKey(LimitRow, on_delete=models.PROTECT, related_name="waivers")
    scope = models.CharField(max_length=8, choices=WaiverScope.choices)
    target = models.CharField(max_length=10, blank=True)  # public id of the plan or unit
    reason = models.CharField(max_length=300)
    measure = models.CharField(max_length=300)  # what is done instead
    expires_on = models.DateField()
    asked_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField()
    granted_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True)
    granted_at = models.DateTimeField(null=True)
    second_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True)
    second_at = models.DateTimeField(null=True)
    ended_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True)
    ended_at = models.DateTimeField(null=True)
    ended_why = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-asked_at"]
        constraints = [
            models.CheckConstraint(
                condition=(Q(granted_by__isnull=True) | ~Q(granted_by=F("asked_by")))
                & (Q(second_by__isnull=True) | ~Q(second_by=F("asked_by")))
                & (Q(second_by__isnull=True) | ~Q(second_by=F("granted_by"))),
                name="waiver_granted_by_others",
            )
        ]

    @property
    def is_granted(self) -> bool:
        enough = self.second_by_id is not None or not self.row.two_people
        return self.granted_by_id is not None and enough and self.ended_at is None

    @property
    def state(self) -> str:
        """asked, granted, refused or ended; whether it has expired is a question of the day."""
        if self.ended_at is not None:
            return "ended" if self.granted_by_id else "refused"
        return "granted" if self.is_granted else "asked"

    def state_on(self, day: dt.date) -> str:
        return "expired" if self.ended_at is None and self.expires_on < day else self.state
