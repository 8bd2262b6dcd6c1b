"""Documents that the worker makes, and the private addresses of calendar feeds."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from facility.guarded import GuardedModel, PublicModel
from facility.people.models import Person
from facility.sites.models import Site, Unit


class Paper(PublicModel, GuardedModel):
    """A history too long for one answer: asked for by a person, made by the worker.

    The row stays, and with it the SHA-256 of what was handed out; the document itself is a copy
    and is thrown away after ``papers.KEPT``.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="papers")
    unit = models.ForeignKey(Unit, on_delete=models.PROTECT, related_name="papers")
    start = models.DateField()
    end = models.DateField()
    size = models.CharField(max_length=6)  # of the sheet: a4 or letter
    asked_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField()
    made_at = models.DateTimeField(null=True)
    pages = models.PositiveIntegerField(default=0)
    sha256 = models.CharField(max_length=64, blank=True)
    head = models.CharField(max_length=400, blank=True)  # the note of the head it carries
    head_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-asked_at"]
        indexes = [models.Index(fields=["unit", "asked_at"])]
        constraints = [
            models.CheckConstraint(condition=Q(end__gte=models.F("start")), name="paper_has_period")
        ]

    @property
    def file_name(self) -> str:
        return f"{self.unit.name}-{self.start}-{self.end}".replace(" ", "-").lower()


class PaperProgress(models.Model):
    """How far the worker is with a paper: for a while and no record, so written past the door."""

    paper = models.OneToOneField(Paper, on_delete=models.PROTECT, related_name="progress")
    started_at = models.DateTimeField()
    seen_at = models.DateTimeField()  # the worker's last sign of life
    done = models.PositiveIntegerField(default=0)  # pieces
    pieces = models.PositiveIntegerField(default=0)
    failed = models.CharField(max_length=300, blank=True)


class FeedKey(PublicModel, GuardedModel):
    """The private address of one person's calendar feed of one ground, kept as its hash.

    It holds as long as the sittings it was made in: what ends all of a person's sittings, being
    switched off included, ends the feed for good.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="feed_keys")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="feed_keys")
    key_hash = models.CharField(max_length=64, unique=True)
    sessions_ended = models.PositiveIntegerField()  # the person's count when it was made
    made_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["site", "person"], condition=Q(ended_at__isnull=True),
                name="one_feed_of_a_ground_for_a_person",
            )
        ]  # fmt: skip
