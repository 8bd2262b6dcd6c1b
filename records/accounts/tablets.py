"""Shared tablets: enrolled by an administrator, opened by six digits of one's own.

Six digits are enough to say who records; what is signed still takes the password. They are worth
something on an enrolled tablet only, and after five wrong ones nothing until the person has signed
in on that tablet with the password.
"""

from __future__ import annotations

import datetime as dt

from django.contrib.auth.hashers import check_password, make_password
from django.utils.crypto import salted_hmac
from django.utils.translation import gettext as _

from facility.guarded import door_is_open
from facility.people import throttle
from facility.people.models import Device, Person, PersonalCode
from facility.people.passwords import is_trivial
from facility.people.selectors import people_with_code
from facility.people.tablets import hash_of_key, new_key
from facility.refusals import NotAllowed, WrongState, WrongValue, refuse_if, text_within
from facility.sites.models import Site
from records.audit.door import door

DIGITS, WRONG_AT_MOST = 6, 5


def enrol_tablet(
    site: Site, *, name: str, by: Person, at: dt.datetime | None = None, once: str = ""
) -> tuple[Device, str]:
    """A tablet of the ground, and the key that its browser is to keep."""
    name, key = text_within("name", name, 40), new_key()
    with door("ground.tablet_enrolled", by=by, site=site, at=at, once=once) as entry:
        taken = Device.objects.filter(site=site, name__iexact=name, revoked_at__isnull=True)
        refuse_if(taken.exists(), "name", _("Another tablet here has this name."))
        device = Device(site=site, name=name, key_hash=hash_of_key(key), enrolled_at=entry.at)
        device.save()
        entry.on(device)
        entry.changed(name=name)
    return device, key


def end_tablet(
    device: Device, *, reason: str, by: Person, at: dt.datetime | None = None, once: str = ""
) -> None:
    """Whoever sits at it is out at the next request."""
    reason = text_within("reason", reason, 300)
    with door(
        "ground.tablet_ended", by=by, site=device.site, on=device, at=at, why=reason, once=once
    ) as entry:
        ended = Device.objects.filter(pk=device.pk, revoked_at__isnull=True)
        if not ended.update(revoked_at=entry.at):
            raise WrongState(_("This tablet is not enrolled any more."))


def set_code(
    site: Site, person: Person, *, code: str, at: dt.datetime | None = None, once: str = ""
) -> None:
    """Choose one's own six digits; the password has been asked for."""
    plain = code.isascii() and code.isdigit() and len(code) == DIGITS
    refuse_if(not plain, "code", _("A personal code is six digits, such as those of no birthday."))
    refuse_if(is_trivial(code), "code", _("These digits are among the first to be guessed."))
    with door("people.code_set", by=person, site=site, on=person, at=at, once=once):
        row = _row_of(person)
        row.code_hash = make_password(_keyed(person, code))
        row.save()


def end_code_behind_door(person: Person) -> None:
    assert door_is_open()
    PersonalCode.objects.filter(person=person).update(code_hash="")


def unlock(device: Device, public_id: str, code: str, *, at: dt.datetime) -> Person:
    """Who records from now on, by their six digits.

    Raises
    ------
    WrongValue
        when the person is not offered here, or these are not their digits.
    NotAllowed
        after five wrong ones.
    """
    person = offered(device, public_id, at)
    watch = watched(device, person)
    if not throttle.take_lasting(watch, at):
        _note_refused(device, person, "needs the password", at)
        raise NotAllowed(
            _("Five wrong codes: sign in once with the password on this tablet."), field="code"
        )
    row = _row_of(person)
    if not check_password(_keyed(person, code), row.code_hash):
        _note_refused(device, person, "wrong code", at)
        raise WrongValue(_("This is not your code."), field="code")
    throttle.forget([watch])
    with door("people.signed_in", by=person, site=device.site, on=person, at=at) as entry:
        entry.changed(kind="personal code")
    return person


def offered(device: Device, public_id: str, at: dt.datetime) -> Person:
    day = at.astimezone(device.site.zone).date()
    for person in people_with_code(device.site, day):
        if person.public_id == public_id:
            return person
    raise WrongValue(_("Choose your name first."))


def watched(device: Device, person: Person) -> throttle.Watched:
    return throttle.watched("personal code", device.public_id, person.public_id, free=WRONG_AT_MOST)


def _note_refused(device: Device, person: Person, outcome: str, at: dt.datetime) -> None:
    with door("people.sign_in_refused", by=None, site=device.site, on=person, at=at) as entry:
        entry.changed(outcome=outcome)


def _row_of(person: Person) -> PersonalCode:
    return PersonalCode.objects.filter(person=person).first() or PersonalCode(person=person)


def _keyed(person: Person, code: str) -> str:
    """So that the database alone, without the secret key, does not give a million guesses."""
    told = f"{person.public_id}:{code}"
    return salted_hmac("charline personal code", told, algorithm="sha256").hexdigest()
