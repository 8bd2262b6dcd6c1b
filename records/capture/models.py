"""What loggers recorded of a burn: the file as it came, and its series kept small beside it."""

from __future__ import annotations

from functools import cached_property

from django.db import models

from facility.calc.units import pretty_unit
from facility.guarded import AppendOnlyModel, GuardedModel, PublicModel
from facility.people.models import Person
from facility.sites.models import Sensor, Site
from records.audit.disposing import words_of_file
from records.burns.models import Burn


class Logger(PublicModel, GuardedModel):
    """A logger of the ground, by the name people call it."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="loggers")
    name = models.CharField(max_length=40)

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["site", "name"], name="logger_on_site")]

    def __str__(self) -> str:
        return self.name


class LoggerFile(PublicModel, AppendOnlyModel):
    """One file of one burn. ``zero_at`` is the moment that the file calls second 0.

    ``original`` is the file as it came, zlib; ``sha256`` is that of the file itself.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    burn = models.ForeignKey(Burn, on_delete=models.PROTECT, related_name="logger_files")
    logger = models.ForeignKey(Logger, on_delete=models.PROTECT, related_name="files")
    name = models.CharField(max_length=120)
    sha256 = models.CharField(max_length=64)
    size = models.PositiveIntegerField()  # bytes
    original = models.BinaryField()
    rows = models.PositiveIntegerField()
    step_s = models.FloatField()
    zero_at = models.DateTimeField()
    times = models.BinaryField()
    series = models.BinaryField()
    notes = models.JSONField(default=list)
    recorded_at = models.DateTimeField()
    taken_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["recorded_at", "id"]
        constraints = [
            models.UniqueConstraint(fields=["site", "sha256"], name="logger_file_once_on_site")
        ]

    @cached_property
    def gone(self) -> str:
        """By which order the original was disposed of; empty while it is kept."""
        return words_of_file("loggerfile", self.public_id)


class Channel(AppendOnlyModel):
    """One column of a file. ``place`` is its row in the series; values are in ``unit``."""

    file = models.ForeignKey(LoggerFile, on_delete=models.PROTECT, related_name="channels")
    place = models.PositiveSmallIntegerField()
    heading = models.CharField(max_length=200)
    quantity = models.CharField(max_length=20, blank=True)
    unit = models.CharField(max_length=12, blank=True)
    scale = models.FloatField()
    sensor = models.ForeignKey(Sensor, on_delete=models.PROTECT, related_name="+", null=True)
    lowest = models.FloatField(null=True)
    highest = models.FloatField(null=True)
    highest_s = models.FloatField(null=True)  # when, in the file's own seconds
    gaps = models.PositiveIntegerField(default=0)
    above_s = models.JSONField(default=dict)  # time above each limit, by the limit
    notes = models.JSONField(default=list)

    class Meta:
        ordering = ["place"]
        constraints = [models.UniqueConstraint(fields=["file", "place"], name="channel_once")]

    @property
    def unit_shown(self) -> str:
        return pretty_unit(self.unit)
