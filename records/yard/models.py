"""What the tablets of the yard sent: every event as it was sent, and what could not be taken.

An event is never changed: a correction is another event. What conflicts or is refused is set
aside whole, shown, and settled by a person with a reason.
"""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from facility.guarded import AppendOnlyModel, PublicModel
from facility.people.models import Person
from facility.sites.models import Site
from records.burns.models import Burn

OFFICE = "office-"  # begins the name of a device that is nobody's enrolled tablet


class Seat(AppendOnlyModel):
    """That a person was signed in at a device, so that its events may be theirs."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    device = models.CharField(max_length=40)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    since = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "device", "person"], name="seat_taken_once")
        ]


class YardEvent(AppendOnlyModel):
    """One event, as it was sent (``text``) and as it was understood.

    ``doubts`` are those known when it came: of its clocks, its person, its place in the burn.
    ``late`` came after the burn was closed: it counts once it is signed.
    """

    event_id = models.UUIDField(unique=True)
    device = models.CharField(max_length=40)
    device_seq = models.PositiveIntegerField()
    burn = models.ForeignKey(Burn, on_delete=models.PROTECT, related_name="yard_events")
    kind = models.CharField(max_length=20)
    value = models.JSONField(default=dict)
    text = models.TextField()
    sha256 = models.CharField(max_length=64)
    prev = models.CharField(max_length=64, blank=True)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    caller = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True)
    corrects = models.UUIDField(null=True)
    happened_at = models.DateTimeField()
    within_ms = models.PositiveBigIntegerField()
    doubts = models.JSONField(default=list)
    late = models.BooleanField(default=False)
    received_at = models.DateTimeField()
    received_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["device", "device_seq"]
        constraints = [
            models.UniqueConstraint(fields=["device", "device_seq"], name="yard_event_in_order")
        ]
        indexes = [models.Index(fields=["burn", "happened_at"])]


class Outcome(models.TextChoices):
    CONFLICT = "conflict", _("says otherwise than what was taken before")
    REFUSED = "refused", _("refused")


class SetAside(PublicModel, AppendOnlyModel):
    """An event that was not taken, whole, with the reason. ``burn`` is empty where none is known."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    burn = models.ForeignKey(Burn, on_delete=models.PROTECT, related_name="set_aside", null=True)
    device = models.CharField(max_length=40)
    text = models.TextField()
    sha256 = models.CharField(max_length=64)
    outcome = models.CharField(max_length=8, choices=Outcome.choices)
    reason = models.CharField(max_length=200)
    received_at = models.DateTimeField()
    received_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["received_at", "id"]
        constraints = [
            models.UniqueConstraint(fields=["site", "sha256"], name="set_aside_once"),
        ]


class Settled(AppendOnlyModel):
    """A doubt that a person answered for. ``doubt`` is its key, such as ``gap:abcde:4-6``."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    burn = models.ForeignKey(Burn, on_delete=models.PROTECT, related_name="settled", null=True)
    doubt = models.CharField(max_length=100)
    reason = models.CharField(max_length=300)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["burn", "doubt"], condition=Q(burn__isnull=False), name="settled_once"
            ),
            models.UniqueConstraint(
                fields=["site", "doubt"], condition=Q(burn__isnull=True), name="settled_once_here"
            ),
        ]


class Amended(AppendOnlyModel):
    """A late event that was signed into the record of its closed burn."""

    event = models.OneToOneField(YardEvent, on_delete=models.PROTECT, related_name="amended")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    meaning = models.CharField(max_length=120)
    at = models.DateTimeField()
