"""What can happen to an account: a role ends, it is switched off and on, its password changes."""

from __future__ import annotations

import datetime as dt

from django.utils.translation import gettext as _

from facility.people.models import Person, RoleHeld
from facility.people.permissions import Role
from facility.people.selectors import held_from, works_elsewhere
from facility.refusals import OwnWork, WrongState, WrongValue, refuse_if, text_within
from facility.sites.models import Site
from records.accounts.links import add_link_behind_door, end_links_behind_door
from records.audit.door import EntryDraft, door
from records.audit.signing import re_authenticate
from records.ground.services import set_password


def end_role(
    site: Site, person: Person, *, role: Role, by: Person, last_day: dt.date | None = None,
    at: dt.datetime | None = None, once: str = "",
) -> RoleHeld:  # fmt: skip
    """End a role after ``last_day``, or at once when there is none. Never one's own."""
    with door("ground.role_ended", by=by, site=site, on=person, at=at, once=once) as entry:
        _refuse_self(person, by)
        today = entry.at.astimezone(site.zone).date()
        rows = RoleHeld.objects.select_for_update().filter(
            held_from(today), person=person, site=site, role=role
        )
        held: RoleHeld | None = rows.order_by("since").first()
        if held is None:
            raise WrongValue(_("This person does not hold that role."), field="role")
        refuse_if(
            last_day is not None and last_day < max(today, held.since),
            "last_day",
            _("A role does not end in the past, nor before it began."),
        )
        before = held.until
        held.until, held.at_once = last_day or max(today, held.since), last_day is None
        held.save()
        entry.changed({"until": before}, role=role, until=held.until, at_once=held.at_once)
    return held


def disable_person(
    site: Site, person: Person, *, reason: str, by: Person, at: dt.datetime | None = None,
    once: str = "",
) -> None:  # fmt: skip
    """Switch an account off: every open page of the person ends at its next request."""
    reason = text_within("reason", reason, 300)
    with door(
        "ground.person_disabled", by=by, site=site, on=person, at=at, why=reason, once=once
    ) as entry:
        person = _account(site, person, by, entry)
        if not person.is_active:
            raise WrongState(_("This account is switched off already."))
        person.is_active = False
        _end_sessions(person, "is_active")
        end_links_behind_door(person, entry.at)


def enable_person(
    site: Site, person: Person, *, reason: str, by: Person, at: dt.datetime | None = None,
    once: str = "",
) -> None:  # fmt: skip
    reason = text_within("reason", reason, 300)
    with door(
        "ground.person_enabled", by=by, site=site, on=person, at=at, why=reason, once=once
    ) as entry:
        person = _account(site, person, by, entry)
        if person.is_active:
            raise WrongState(_("This account is not switched off."))
        person.is_active = True
        person.save(update_fields=["is_active"])


def make_password_link(
    site: Site, person: Person, *, reason: str, by: Person, phone_lost: bool = False,
    at: dt.datetime | None = None, once: str = "",
) -> str:  # fmt: skip
    """The key of a one-time link by which the person chooses a password; given once, kept hashed.

    Until it is used, the password and the open pages of the person stay as they are.
    ``phone_lost``: its use switches the second factor off as well.
    """
    act, reason = "ground.password_link_made", text_within("reason", reason, 300)
    with door(act, by=by, site=site, on=person, at=at, why=reason, once=once) as entry:
        person = _account(site, person, by, entry)
        if not person.is_active:
            raise WrongState(_("This account is switched off; switch it on first."))
        link, key = add_link_behind_door(site, person, phone_lost=phone_lost, at=entry.at)
        entry.changed(until=link.until, second_factor_off=phone_lost)
    return key


def change_password(
    site: Site, person: Person, *, old: str, new: str, at: dt.datetime | None = None,
    once: str = "",
) -> None:  # fmt: skip
    """Change one's own password; every session of the person ends, but for the page it came from."""
    act = "people.password_changed"
    re_authenticate(person, old, act=act, site=site, on=person, at=at)
    with door(act, by=person, site=site, on=person, at=at, once=once) as entry:
        refuse_if(new == old, "new", _("This is the password you have."))
        try:
            set_password(person, new)
        except WrongValue as refused:
            raise WrongValue(refused.sentence, field="new") from None
        person.first_password_until = None
        _end_sessions(person, "password", "first_password_until")
        end_links_behind_door(person, entry.at)


def end_sessions(site: Site, person: Person, *, once: str = "") -> None:
    """End every session of one's own, on every device."""
    with door("people.sessions_ended", by=person, site=site, on=person, once=once):
        _end_sessions(person)


def _end_sessions(person: Person, *changed: str) -> None:
    person.sessions_ended += 1
    person.save(update_fields=["sessions_ended", *changed])


def _refuse_self(person: Person, by: Person) -> None:
    if person == by:
        raise OwnWork(_("Nobody does this to their own account; another administrator does."))


def _account(site: Site, person: Person, by: Person, entry: EntryDraft) -> Person:
    """The account, locked; refused when it is not this administrator's to change."""
    _refuse_self(person, by)
    person = person.fresh()
    if person.sign_in.startswith("-"):
        raise WrongState(_("A learner does not sign in; there is no account."))
    if works_elsewhere(site, person, entry.at.astimezone(site.zone).date()):
        raise WrongState(
            _("This person works on another ground as well; here you can only end their roles.")
        )
    return person
