"""The log: what was done, by whom, when, to what, and why. Append-only and gapless."""

from __future__ import annotations

import uuid

from django.db import models

from facility.guarded import AppendOnlyModel, GuardedModel


class Entry(AppendOnlyModel):
    """One act. Keys are kept as text, without foreign keys: an entry must stand alone."""

    seq = models.PositiveBigIntegerField(primary_key=True)
    entry_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    at = models.DateTimeField()
    site = models.CharField(max_length=10, db_index=True)
    actor = models.CharField(max_length=10)
    role = models.CharField(max_length=60)
    act = models.CharField(max_length=40)
    obj = models.CharField(max_length=40, db_index=True)
    before = models.JSONField(default=dict)
    after = models.JSONField(default=dict)
    why = models.TextField(blank=True)
    once = models.CharField(max_length=40, unique=True, null=True)  # noqa: DJ001 - unique where given

    class Meta:
        ordering = ["-seq"]


class LogHead(GuardedModel):
    """One row: how long the log is. Locked last in every transaction that writes."""

    size = models.PositiveBigIntegerField(default=0)
