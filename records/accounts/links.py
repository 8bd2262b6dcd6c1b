"""One-time links: whoever opens one chooses the password of the account it was made for.

An administrator makes the link and hands it over, and so never knows a password of anybody else.
The key in it stays with whoever holds the link; here is its hash. It counts for a day and once,
and ends by a newer one, by another password, and when the account is switched off.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import secrets

from django.utils import timezone
from django.utils.translation import gettext as _

from facility.guarded import door_is_open
from facility.people import throttle
from facility.people.models import PasswordLink, Person
from facility.people.selectors import roles_of, works_elsewhere
from facility.refusals import AlreadyDone, NotHere, TooSoon, WrongState, WrongValue, refuse_if
from facility.sites.models import Site
from records.accounts.second_factor import switch_off_behind_door
from records.accounts.tablets import end_code_behind_door
from records.audit.door import door
from records.audit.models import Entry
from records.ground.services import set_password

LASTS = dt.timedelta(hours=24)
KEY_BYTES = 32  # nobody guesses 256 bits, so a plain hash keeps them


def end_links_behind_door(person: Person, at: dt.datetime) -> None:
    assert door_is_open()
    PasswordLink.objects.filter(person=person, ended_at__isnull=True).update(ended_at=at)


def add_link_behind_door(
    site: Site, person: Person, *, phone_lost: bool, at: dt.datetime
) -> tuple[PasswordLink, str]:
    """A new link, which ends those before it, and its key, which is kept nowhere else."""
    end_links_behind_door(person, at)
    key = secrets.token_urlsafe(KEY_BYTES)
    link = PasswordLink(
        site=site, person=person, key_hash=hash_of(key), made_at=at, until=at + LASTS,
        phone_lost=phone_lost,
    )  # fmt: skip
    link.save()
    return link, key


def hash_of(key: str) -> str:
    return hashlib.sha256(key.encode()).hexdigest()


def live_link(key: str, now: dt.datetime) -> PasswordLink | None:
    """The link of this key while it works: made within a day, neither used nor ended, of an
    account that works here and nowhere else."""
    found: PasswordLink | None = (
        PasswordLink.objects.select_related("site", "person__details")
        .filter(key_hash=hash_of(key), ended_at__isnull=True, until__gt=now, made_at__lte=now)
        .filter(person__is_active=True)
        .first()
    )
    if found is None:
        return None
    day = now.astimezone(found.site.zone).date()
    elsewhere = works_elsewhere(found.site, found.person, day)
    return found if roles_of(found.person, found.site, day) and not elsewhere else None


def dead_link() -> NotHere:
    """One answer for every link that does not work, whatever the reason."""
    return NotHere(
        _(
            "This link does not work: it counts for one day and once, and only the newest one does. "
            "Ask an administrator for another."
        )
    )


def choose_password(
    key: str, *, new: str, again: str, address: str, at: dt.datetime | None = None, once: str = ""
) -> Person:  # fmt: skip
    """Choose one's password by a link, without being signed in; every open page of it ends.

    Raises
    ------
    NotHere
        for a link that does not work; the attempt is kept.
    TooSoon
        after many of those from one ``address``, for a while that grows.
    WrongValue
        when the password is easily guessed or typed in two ways; the link still works.
    """
    at = at or timezone.now()
    watch = throttle.watched("password link", address, free=throttle.FREE_FROM_ONE_ADDRESS)
    tried = throttle.take([watch], at)
    if tried.wait_s:
        if tried.untold:
            _note_refused("too soon", at)
        raise TooSoon(tried.wait_s)
    link = live_link(key, at)
    if link is None:
        _refuse_repeat(once)
        _note_refused("link", at)
        raise dead_link()
    throttle.forget([watch])
    person: Person = link.person
    with door(
        "people.password_chosen", by=person, site=link.site, on=person, at=at, once=once
    ) as entry:
        refuse_if(new != again, "again", _("The two passwords differ."))
        person = person.fresh()
        _use(link, at)
        _set_password(person, new)
        person.first_password_until = None
        person.sessions_ended += 1
        person.save(update_fields=["password", "first_password_until", "sessions_ended"])
        end_code_behind_door(person)
        if link.phone_lost:
            switch_off_behind_door(person, at)
        entry.changed(second_factor_off=link.phone_lost)
    return person


def _set_password(person: Person, new: str) -> None:
    try:
        set_password(person, new)
    except WrongValue as refused:
        raise WrongValue(refused.sentence, field="new") from None


def _refuse_repeat(once: str) -> None:
    """A form sent twice finds its link used up by itself, and leads where the first one led."""
    done = Entry.objects.filter(once=once, act="people.password_chosen") if once else ()
    for entry in done:
        raise AlreadyDone(entry.obj)


def _use(link: PasswordLink, at: dt.datetime) -> None:
    """Use the link up; of two who race with it, one is refused."""
    waiting = PasswordLink.objects.filter(pk=link.pk, ended_at__isnull=True)
    if not waiting.update(ended_at=at, used=True):
        raise WrongState(_("This link was used at this very moment; sign in."))


def _note_refused(outcome: str, at: dt.datetime) -> None:
    """In the log of the oldest ground, for a key that is nobody's belongs to none."""
    site = Site.objects.order_by("pk").first()
    if site is not None:
        with door("people.link_refused", by=None, site=site, at=at) as entry:
            entry.changed(outcome=outcome)
