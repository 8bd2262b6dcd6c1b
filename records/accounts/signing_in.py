"""Signing in: name and password, then the second factor where there is one.

Whoever is refused gets the same answer for a wrong password, an unknown name, an account that is
switched off and one without a role. Every refusal is an act of the program in the log.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from django.contrib.auth import authenticate
from django.utils.translation import gettext as _

from facility.people import throttle
from facility.people.models import Person
from facility.people.selectors import grounds_of, has_second_factor
from facility.refusals import TooSoon, WrongValue
from facility.sites.models import Site
from records.accounts.second_factor import use_code, watched_codes
from records.audit.door import door


def prove_password(
    name: str, password: str, *, watches: Sequence[throttle.Watched], at: dt.datetime
) -> Person:
    """Who signs in with this name and password; nobody is signed in yet.

    Raises
    ------
    TooSoon
        after several wrong ones, for a while that grows.
    WrongValue
        when there is no such account, it may not come in, or the password is another.
    """
    tried = throttle.take(watches, at)
    if tried.wait_s:
        if tried.untold:
            _note_refused(name, "too soon", at)
        raise TooSoon(tried.wait_s)
    found = authenticate(None, username=name, password=password)
    wrong = _why_not(found, at) if isinstance(found, Person) else "wrong"
    if wrong or not isinstance(found, Person):
        _note_refused(name, wrong, at)
        raise WrongValue(_no_match())
    throttle.forget(watches)
    return found


def _why_not(person: Person, at: dt.datetime) -> str:
    if person.first_password_until is not None and at > person.first_password_until:
        return "first password too old"
    return "" if grounds_of(person, at) else "no role"


def needs_code(person: Person) -> bool:
    return has_second_factor(person)


def note_sign_in(person: Person, *, at: dt.datetime) -> None:
    """Let in a person whose password was proved and who has no second factor."""
    with door("people.signed_in", by=person, site=_first_ground(person, at), on=person, at=at):
        pass


def prove_code(person: Person, code: str, *, at: dt.datetime) -> None:
    """Let in a person whose password was proved, by a code that has not been used.

    Raises
    ------
    TooSoon, WrongValue
        as for a password.
    """
    watches = watched_codes(person)
    tried = throttle.take(watches, at)
    if tried.wait_s:
        if tried.untold:
            _note_refused(person.sign_in, "too soon", at)
        raise TooSoon(tried.wait_s)
    site = _first_ground(person, at)
    try:
        with door("people.signed_in", by=person, site=site, on=person, at=at) as entry:
            entry.changed(kind=use_code(person, code, at))
    except WrongValue:
        _note_refused(person.sign_in, "wrong code", at)
        raise
    throttle.forget(watches)


def _first_ground(person: Person, at: dt.datetime) -> Site:
    for site in grounds_of(person, at):
        return site
    raise WrongValue(_no_match())


def _no_match() -> str:
    return _("Sign-in and password do not match an account.")


def _note_refused(name: str, outcome: str, at: dt.datetime) -> None:
    """Log a refusal with the person's ground; of a name that is nobody's, with the oldest ground,
    and by a keyed hash only, for people type passwords where names belong."""
    person = Person.objects.filter(sign_in__iexact=name.strip()).first()
    held = person.roles.select_related("site").order_by("pk").first() if person else None
    site = held.site if held else Site.objects.order_by("pk").first()
    if site is None:
        return
    with door("people.sign_in_refused", by=None, site=site, on=person, at=at) as entry:
        stranger = "" if person else throttle.code_of("unknown", name.strip().lower())[:12]
        entry.changed(outcome=outcome, code=stranger)
