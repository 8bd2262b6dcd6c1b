"""What people vouch for where no record can tell: standing statements, with dates."""

from __future__ import annotations

from django.db import models

from facility.guarded import AppendOnlyModel, PublicModel
from facility.people.models import Person
from facility.sites.models import Site


class Statement(PublicModel, AppendOnlyModel):
    """One fact stated of the ground, a unit, a person, a lot or a product, from a day on.

    The newest statement of a fact counts, until it lapses; an empty value takes it back.
    """

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="statements")
    fact = models.CharField(max_length=60)
    target = models.CharField(max_length=10, blank=True)  # public id; empty: the ground itself
    value = models.CharField(max_length=60, blank=True)
    since = models.DateField()
    until = models.DateField(null=True)
    note = models.CharField(max_length=200)
    stated_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    stated_at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["site", "fact", "target"])]
