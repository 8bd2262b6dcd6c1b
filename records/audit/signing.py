"""Signatures: who signs says so again with the password, and what is signed stands in the log.

Two halves. ``re_authenticate`` is asked before the act, by ``records.audit.forms.SignatureForm``;
``signed`` is called by the service behind its open door, after it has compared the hash that was
shown with the hash of what is stored. The entry then binds person, meaning, content and time.
"""

from __future__ import annotations

import datetime as dt

from django.utils import timezone
from django.utils.translation import gettext as _

from facility.guarded import PublicModel, door_is_open
from facility.people import throttle
from facility.people.entrance import entrance
from facility.people.models import Person
from facility.refusals import NotAllowed, TooSoon, WrongValue, text_within
from facility.sites.models import Site
from records.audit import door
from records.audit.door import EntryDraft, log_refusal


def re_authenticate(
    person: Person, password: str, *, act: str, site: Site, on: PublicModel | None = None,
    at: dt.datetime | None = None,
) -> None:  # fmt: skip
    """Check that whoever acts is the person signed in; a wrong password is logged and slows down.

    Raises
    ------
    WrongValue
        when it is not the password.
    TooSoon
        after several wrong ones, for a while that grows.
    """
    at = at or timezone.now()
    watches = [throttle.watched("signature", person.public_id)]
    tried = throttle.take(watches, at)
    if tried.wait_s:
        if tried.untold:
            log_refusal(act, by=person, site=site, on=on, at=at, kind="too many wrong passwords")
        raise TooSoon(tried.wait_s)
    if not person.check_password(password):
        log_refusal(act, by=person, site=site, on=on, at=at, kind="wrong password")
        raise WrongValue(
            _("This is not your password; nothing was signed."),
            field="password",
        )
    throttle.forget(watches)
    entrance().proved = True


def code_refused(person: Person, *, act: str, site: Site, on: PublicModel | None) -> NotAllowed:
    """A signature without the password, by whoever was let in by six digits: kept and refused."""
    return door.code_refused(person, act=act, site=site, on=on, at=timezone.now())


def signed(entry: EntryDraft, *, meaning: str, content_hash: str) -> str:
    """Bind the signature to its entry, and give the meaning as it is kept."""
    assert door_is_open()
    meaning = text_within("meaning", meaning, 120)
    entry.changed(hash=content_hash, meaning=meaning)
    return meaning
