"""People: one person, one account, never reused.

``Person`` is a pseudonymous key that the records point at; what names the person lies in
``PersonDetails`` and can be erased without touching a record.
"""

from __future__ import annotations

import datetime as dt
from typing import Any, ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.auth.hashers import check_password
from django.db import models
from django.db.models import F, Q
from django.utils.crypto import salted_hmac
from django.utils.translation import gettext_lazy as _

from facility.guarded import GuardedModel, GuardedQuerySet, PublicModel
from facility.people.permissions import Role
from facility.sites.models import Site


class PersonManager(BaseUserManager.from_queryset(GuardedQuerySet)):  # type: ignore[misc]
    def get_by_natural_key(self, username: str | None) -> Any:
        return self.get(sign_in__iexact=username)


class UnitSystem(models.TextChoices):
    SI = "SI", _("metric units")
    US = "US", _("US customary units")


class Person(PublicModel, GuardedModel, AbstractBaseUser):
    """A person as the records know them. Learners have no usable password."""

    last_login: ClassVar[None] = None  # type: ignore[misc]  # the log holds every sign-in
    sign_in = models.CharField(max_length=40, unique=True)
    is_active = models.BooleanField(default=True)
    units = models.CharField(max_length=2, choices=UnitSystem.choices, default=UnitSystem.SI)
    # Until when the password that an administrator chose lets in; null once the person chose one.
    first_password_until = models.DateTimeField(null=True, blank=True)
    sessions_ended = models.PositiveIntegerField(default=0)  # how often; part of a session's proof

    USERNAME_FIELD = "sign_in"
    REQUIRED_FIELDS: ClassVar[list[str]] = []
    objects: ClassVar[Any] = PersonManager()

    def __str__(self) -> str:
        return self.name

    def check_password(self, raw_password: str | None) -> bool:
        """Without Django's re-hash of old passwords at sign-in, which would write past the door."""
        return check_password(raw_password, self.password)

    def _get_session_auth_hash(self, secret: Any = None) -> str:
        """What each session of the person must carry: a new password or ``sessions_ended`` ends it."""
        proof = f"{self.password}:{self.sessions_ended}"
        return salted_hmac("charline session", proof, secret=secret, algorithm="sha256").hexdigest()

    @property
    def must_change_password(self) -> bool:
        return self.first_password_until is not None

    @property
    def name(self) -> str:
        details = getattr(self, "details", None)
        return details.name if details else f"person {self.reference}"


class PersonDetails(GuardedModel):
    """What names a person; erasable."""

    person = models.OneToOneField(Person, on_delete=models.PROTECT, related_name="details")
    name = models.CharField(max_length=80)


class RoleHeld(GuardedModel):
    """A role on one ground, from a day to a day. A learner's row names the course."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="roles")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="roles")
    role = models.CharField(max_length=12, choices=Role.choices)
    course = models.CharField(max_length=40, blank=True)
    since = models.DateField()
    until = models.DateField(null=True, blank=True)
    at_once = models.BooleanField(default=False)  # ended in the course of the last day

    class Meta:
        indexes = [models.Index(fields=["site", "role"])]
        constraints = [
            models.CheckConstraint(
                condition=Q(until__isnull=True) | Q(until__gte=F("since")),
                name="role_ends_after_start",
            )
        ]

    def in_force(self, day: dt.date) -> bool:
        last = self.until is None or day < self.until or (day == self.until and not self.at_once)
        return self.since <= day and last


class CompetenceKind(models.TextChoices):
    LIVE_FIRE = "live_fire", _("live-fire instructor")
    SAFETY = "safety", _("safety officer at live fire")


class Competence(GuardedModel):
    """A qualification with an end."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="competences")
    kind = models.CharField(max_length=20, choices=CompetenceKind.choices)
    issued_on = models.DateField()
    expires_on = models.DateField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(expires_on__gt=F("issued_on")), name="competence_ends_after_issue"
            )
        ]


class SecondFactor(GuardedModel):
    """Codes from an app on the person's phone (RFC 6238). Without a seed it is switched off.

    The key of the codes is worked out from the seed and the program's secret key, so that the
    database alone gives nobody a code.
    """

    person = models.OneToOneField(Person, on_delete=models.PROTECT, related_name="second_factor")
    seed = models.CharField(max_length=40, blank=True)
    last_step = models.BigIntegerField(default=0)  # of the last code used: each works once


class RecoveryCode(GuardedModel):
    """A code that works once in place of one from the phone; kept as a keyed hash."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="recovery_codes")
    code_hash = models.CharField(max_length=64)
    used_at = models.DateTimeField(null=True, blank=True)  # also when newer codes replaced it


class PasswordLink(GuardedModel):
    """A link by which a person chooses a password, kept as the hash of its key. It ends by being
    used, by a newer one, and with the account."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="password_links")
    key_hash = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    until = models.DateTimeField()
    phone_lost = models.BooleanField(default=False)  # its use switches the second factor off
    ended_at = models.DateTimeField(null=True, blank=True)
    used = models.BooleanField(default=False)


class Device(PublicModel, GuardedModel):
    """A tablet that several people of a ground use in turn. Its key stays in its browser; here is
    a keyed hash of it."""

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="devices")
    name = models.CharField(max_length=40)
    key_hash = models.CharField(max_length=64)
    enrolled_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return self.name

    @property
    def state(self) -> str:
        return "ended" if self.revoked_at else "in_force"


class PersonalCode(GuardedModel):
    """Six digits that say who records on a shared tablet; empty when there are none."""

    person = models.OneToOneField(Person, on_delete=models.PROTECT, related_name="personal_code")
    code_hash = models.CharField(max_length=128, blank=True)


class Tries(models.Model):
    """How often a password or code was wrong in a row. A count for a while and no record, so that
    it is the one table written past the door."""

    key = models.CharField(max_length=64, unique=True)
    count = models.PositiveIntegerField(default=0)
    last_at = models.DateTimeField(db_index=True)
    told = models.BooleanField(default=False)  # that the present wait turned someone away
    lasting = models.BooleanField(default=False)  # until the right answer, however long that takes
