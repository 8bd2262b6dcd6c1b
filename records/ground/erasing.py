"""Forgetting a person who asked for it, or whose time is over."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db import transaction
from django.utils.translation import gettext as _

from facility.people.models import Person, RoleHeld
from facility.people.permissions import Role
from facility.people.selectors import held_from
from facility.refusals import OwnWork, WrongState, text_within
from facility.sites.models import Site
from records.audit.door import door
from records.audit.erasing import forget, keep_order, signed_something
from records.audit.models import Erasure


@dataclass(frozen=True, slots=True)
class Erased:
    """The order, and where the name still stands in words typed into records of the work."""

    order: Erasure
    still_named: tuple[str, ...]


def erase_person(
    site: Site, person: Person, *, basis: str, by: Person, at: dt.datetime | None = None
) -> Erased:
    """Erase what names a person. The key stays, and so does every record that rests on it.

    Raises
    ------
    WrongState
        when the person was erased before, still holds a role other than learner, or signed
        something: signers are named as long as what they signed.
    """
    if person == by:
        raise OwnWork(_("Nobody erases themselves."))
    basis = text_within("basis", basis, 300)
    with door("ground.person_erased", by=by, site=site, on=person, at=at, why=basis) as entry:
        erased, ended = erase_behind_door(site, person, basis=basis, by=by, at=entry.at)
        entry.changed(roles_ended=ended)
    return erased


def erase_behind_door(
    site: Site, person: Person, *, basis: str, by: Person, at: dt.datetime
) -> tuple[Erased, int]:
    """Erase a person as part of an act, behind its door; also how many roles that ended."""
    person = person.fresh()
    _refuse_signer(person, at)
    order = Erasure(person=person.public_id, at=at, by=by.public_id, basis=basis)
    still_named = forget(person, order)
    ended = _end_roles(person, at.astimezone(site.zone).date())
    _close_account(person)
    transaction.on_commit(lambda: keep_order(order))
    return Erased(order, tuple(still_named)), ended


def _refuse_signer(person: Person, at: dt.datetime) -> None:
    if Erasure.objects.filter(person=person.public_id).exists():
        raise WrongState(_("This person was erased before."))
    if signed_something(person):
        raise WrongState(
            _("This person signed records; signers are named as long as what they signed is kept.")
        )
    held = RoleHeld.objects.filter(held_from(at.date()), person=person).exclude(role=Role.LEARNER)
    if held.exists():
        raise WrongState(_("This person still holds a role; end it first."))


def _end_roles(person: Person, today: dt.date) -> int:
    rows = RoleHeld.objects.filter(held_from(today), person=person)
    for row in (ended := list(rows)):
        row.until = max(row.since, today)
        row.save(update_fields=["until"])
    return len(ended)


def _close_account(person: Person) -> None:
    """A sign-in may name its owner as well; no one gets it again, for it is the key now."""
    person.sign_in, person.is_active = f"-{person.public_id}", False
    person.set_unusable_password()
    person.save(update_fields=["sign_in", "is_active", "password"])
