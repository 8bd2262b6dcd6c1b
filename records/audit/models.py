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

from facility.guarded import (
    AppendOnlyModel,
    AppendOnlyQuerySet,
    GuardedModel,
    PublicModel,
    need_open_door,
)
from facility.people.models import Person
from facility.refusals import spelled_out
from facility.sites.models import Site
from records.audit.bodies import told_again
from records.audit.merkle import HASH_BYTES, TILE, split


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
        """The body with what people typed put back; where that is gone, by which order."""
        texts = {row.place: row.value for row in self.disclosed.all()}
        orders = {row.place: row.erasure.words for row in self.erased.all()}
        orders |= {row.place: row.disposal.words for row in self.disposed.all()}
        return told_again(
            json.loads(self.body), texts, orders, _("missing, with no order to erase")
        )

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
        return int(self._raw_delete(self.db) or 0)  # nothing is asked for an empty choice


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

    The frontier is the roots of the whole subtrees, largest first, 32 bytes each. While the
    newest check has failed, or a restored backup waits for a signature, nothing is recorded.
    """

    size = models.PositiveBigIntegerField(default=0)
    frontier = models.BinaryField(default=b"")
    check_failed = models.BooleanField(default=False)
    restore_unsigned = models.BooleanField(default=False)

    @property
    def peaks(self) -> list[bytes]:
        return split(bytes(self.frontier))


class HeadSent(AppendOnlyModel):
    """A head note that left this machine by mail. How many it went to, not whom: that is a setting."""

    at = models.DateTimeField()
    size = models.PositiveBigIntegerField()
    root = models.BinaryField(max_length=HASH_BYTES)
    recipients = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["-pk"]


class Verification(AppendOnlyModel):
    """One check of the whole log, and what came of it."""

    at = models.DateTimeField()
    size = models.PositiveBigIntegerField()
    root = models.BinaryField(max_length=HASH_BYTES)
    heads = models.PositiveSmallIntegerField()  # notes from outside that it was held to
    findings = models.PositiveIntegerField()
    first = models.TextField(blank=True)  # the first finding

    class Meta:
        ordering = ["-pk"]

    @property
    def word(self) -> str:
        return "check_failed" if self.findings else "check_passed"


class Erasure(AppendOnlyModel):
    """An order to forget a person, carried out. It names the person by key only."""

    person = models.CharField(max_length=10, unique=True)
    at = models.DateTimeField()
    by = models.CharField(max_length=10)
    basis = models.CharField(max_length=300)

    @property
    def words(self) -> str:
        return _("erased on {day} under: {basis}").format(
            day=f"{self.at:%Y-%m-%d}", basis=self.basis
        )


class ErasedText(AppendOnlyModel):
    """A place of the log whose text was erased, and by which order."""

    erasure = models.ForeignKey(Erasure, on_delete=models.PROTECT, related_name="texts")
    entry = models.ForeignKey(
        Entry, on_delete=models.DO_NOTHING, db_constraint=False, related_name="erased"
    )
    place = models.CharField(max_length=60)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["entry", "place"], name="one_order_for_each_text")
        ]


class DisposalOrder(PublicModel, AppendOnlyModel):
    """A safety officer's order: what of one retention class goes, up to which day, and why.

    ``content_hash`` stands for the very texts, files and people that were shown.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="disposal_orders")
    kind = models.CharField(max_length=20)  # the class, as ``records.reports.retention`` names it
    until = models.DateField()
    reason = models.CharField(max_length=300)
    texts = models.PositiveIntegerField()
    files = models.PositiveIntegerField()
    people = models.PositiveIntegerField()
    content_hash = models.CharField(max_length=64)
    ordered_at = models.DateTimeField()
    ordered_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-ordered_at", "-id"]

    def __str__(self) -> str:
        return str(_("disposal order {reference}")).format(reference=self.reference)


class Disposal(AppendOnlyModel):
    """An order to dispose, carried out. It names order and people by key only: after a restore it
    may stand in a database older than they."""

    order = models.CharField(max_length=10, unique=True)  # public id
    kind = models.CharField(max_length=20)
    until = models.DateField()
    at = models.DateTimeField()
    by = models.CharField(max_length=10)
    ordered_by = models.CharField(max_length=10)

    @property
    def words(self) -> str:
        return _("disposed of on {day} under order {reference}").format(
            day=f"{self.at:%Y-%m-%d}", reference=spelled_out(self.order)
        )


class DisposedText(AppendOnlyModel):
    """A place of the log whose text was disposed of, and by which order."""

    disposal = models.ForeignKey(Disposal, on_delete=models.PROTECT, related_name="texts")
    entry = models.ForeignKey(
        Entry, on_delete=models.DO_NOTHING, db_constraint=False, related_name="disposed"
    )
    place = models.CharField(max_length=60)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["entry", "place"], name="one_disposal_of_each_text")
        ]


class DisposedFile(AppendOnlyModel):
    """A file whose bytes were disposed of, and by which order; its row and its hash stay."""

    disposal = models.ForeignKey(Disposal, on_delete=models.PROTECT, related_name="files")
    kind = models.CharField(max_length=20)
    public_id = models.CharField(max_length=10)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["kind", "public_id"], name="one_disposal_of_each_file")
        ]
