"""The log: what was done, by whom, when, to what, and why. Append-only and gapless.

Besides this guard, triggers in the database refuse changes (``triggers.py``), and the tree over
the entries shows a change to whoever holds a head note.
"""

from __future__ import annotations

import json
import uuid
from functools import cached_property
from typing import Any, ClassVar

from django.db import models
from django.utils.translation import gettext as _

from facility.guarded import AppendOnlyModel, AppendOnlyQuerySet, GuardedModel, need_open_door
from records.audit.bodies import told_again
from records.audit.merkle import HASH_BYTES, TILE


class Entry(AppendOnlyModel):
    """One act. Keys are kept as text, without foreign keys: an entry must stand alone.

    ``body`` is the text that was hashed and all that counts as evidence. The columns before it
    repeat parts of it, so that lists can be searched; ``verify_log`` compares the two.
    """

    seq = models.PositiveBigIntegerField(primary_key=True)
    entry_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    at = models.DateTimeField()
    site = models.CharField(max_length=10, db_index=True)
    actor = models.CharField(max_length=10)
    role = models.CharField(max_length=60)
    act = models.CharField(max_length=40)
    obj = models.CharField(max_length=40, db_index=True)
    once = models.CharField(max_length=40, unique=True, null=True)  # noqa: DJ001 - unique where given
    body = models.TextField()
    leaf = models.BinaryField(max_length=HASH_BYTES)

    class Meta:
        ordering = ["-seq"]

    @cached_property
    def said(self) -> dict[str, Any]:
        """The body with what people typed put back, or "erased" where that is gone."""
        texts = {row.place: row.value for row in self.disclosed.all()}
        return told_again(json.loads(self.body), texts, _("erased"))

    @property
    def before(self) -> dict[str, Any]:
        return dict(self.said["before"])

    @property
    def after(self) -> dict[str, Any]:
        return dict(self.said["after"])

    @property
    def why(self) -> str:
        return str(self.said["why"])


class DisclosedQuerySet(AppendOnlyQuerySet["Disclosed"]):
    def erase(self) -> int:
        """Forget these texts and their salts; the entries keep their commitments."""
        need_open_door(self.model, "erase")
        return int(self._raw_delete(self.db))


class Disclosed(AppendOnlyModel):
    """A text typed by a person, as canonical JSON, and the salt of its commitment. Erasable."""

    entry = models.ForeignKey(
        Entry, on_delete=models.DO_NOTHING, db_constraint=False, related_name="disclosed"
    )
    place = models.CharField(max_length=60)
    salt = models.BinaryField(max_length=16)
    value = models.TextField()

    objects: ClassVar[Any] = models.Manager.from_queryset(DisclosedQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["entry", "place"], name="one_text_in_each_place")
        ]


class Tile(AppendOnlyModel):
    """256 hashes that are complete: those of entries at level 0, of tiles below at the next.

    ``root`` is kept beside the hashes: a proof that had to work it out would read a hundred
    times as much.
    """

    level = models.PositiveSmallIntegerField()
    index = models.PositiveBigIntegerField()
    root = models.BinaryField(max_length=HASH_BYTES)
    data = models.BinaryField(max_length=HASH_BYTES * TILE)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["level", "index"], name="one_tile_a_place")]


class LogHead(GuardedModel):
    """One row: how long the log is, and its frontier. Locked last in every writing transaction.

    The frontier is the roots of the whole subtrees, largest first, 32 bytes each.
    """

    size = models.PositiveBigIntegerField(default=0)
    frontier = models.BinaryField(default=b"")

    @property
    def peaks(self) -> list[bytes]:
        held = bytes(self.frontier)
        return [held[at : at + HASH_BYTES] for at in range(0, len(held), HASH_BYTES)]
