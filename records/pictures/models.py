"""Photographs, kept in the database so that one backup holds all there is.

What is kept is never the file that was sent, but a picture made anew from it: see ``reading``.
"""

from __future__ import annotations

from functools import cached_property

from django.db import models
from django.utils.translation import gettext_lazy as _

from facility.guarded import AppendOnlyModel, PublicModel
from facility.people.models import Person
from facility.sites.models import Site
from records.audit.disposing import words_of_file


class Picture(PublicModel, AppendOnlyModel):
    """A photograph: its size in pixels, by whom it was added, and the SHA-256 of what was sent
    and of what is kept."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="pictures")
    media_type = models.CharField(max_length=20)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    sent_sha256 = models.CharField(max_length=64)
    kept_sha256 = models.CharField(max_length=64)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    @cached_property
    def gone(self) -> str:
        """By which order its bytes were disposed of; empty while they are kept."""
        return words_of_file("picture", self.public_id)

    def __str__(self) -> str:
        return str(_("picture {reference}")).format(reference=self.reference)


class PictureData(AppendOnlyModel):
    """The bytes, in a table of their own: a list that joins pictures must not read megabytes."""

    picture = models.OneToOneField(Picture, on_delete=models.PROTECT, related_name="data")
    kept = models.BinaryField()
