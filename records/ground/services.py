"""Changes to the ground itself: founding it, its units, bays, people, roles and standard."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext as _

from facility.guarded import door_is_open
from facility.people.models import Competence, CompetenceKind, Person, PersonDetails, RoleHeld
from facility.people.permissions import Role
from facility.people.selectors import held_from
from facility.refusals import (
    OwnWork,
    WrongState,
    WrongValue,
    refuse_if,
    text_within,
)
from facility.sites.models import Bay, Site, Unit, UnitKind, real_time_zone
from records.audit.door import door
from records.ground.building import checked, fit, keep_version
from records.ground.models import ChangeKind, Exposure, UnitUse

FIRST_PASSWORD_LASTS = dt.timedelta(days=7)


def found_ground(
    *, name: str, time_zone: str, admin_name: str, admin_sign_in: str, password: str,
    currency: str = "", at: dt.datetime | None = None,
) -> tuple[Site, Person]:  # fmt: skip
    """Found a ground and its first administrator; an act of the program itself.

    ``currency`` is the code that values at cost are shown with, such as EUR, or empty.
    """
    refuse_if(
        currency and not re.fullmatch("[A-Z]{3}", currency),
        "currency",
        _("{given}: a currency is three capital letters, such as EUR.").format(given=currency),
    )
    site = Site(name=text_within("name", name, 80), time_zone=time_zone, currency=currency)
    try:
        real_time_zone(time_zone)
    except ValidationError as wrong:
        raise WrongValue(wrong.messages[0], field="time_zone") from None
    with door("ground.founded", by=None, site=site, on=site, at=at) as entry:
        site.save()
        admin = _new_person(admin_name, admin_sign_in, password, None)
        _hold_role(site, admin, Role.ADMIN, entry.at.date(), "")
        entry.changed(name=name, administrator=admin)
    return site, admin


def add_person(
    site: Site, *, name: str, sign_in: str = "", password: str = "", role: Role, course: str = "",
    since: dt.date, by: Person, lasting: bool = False, at: dt.datetime | None = None,
    once: str = "",
) -> Person:  # fmt: skip
    """Add a person with a first role. A learner has no sign-in.

    Without a password nobody signs in until one was chosen by a one-time link. One that is given
    is a first one, to be changed at the first sign-in, unless it is ``lasting``.
    """
    refuse_if(
        role == Role.LEARNER and bool(sign_in or password),
        "sign_in",
        _("A learner does not sign in; leave sign-in and password empty."),
    )
    with door("ground.person_added", by=by, site=site, at=at, once=once) as entry:
        until = entry.at + FIRST_PASSWORD_LASTS if password and not lasting else None
        person = _new_person(name, sign_in, password, until)
        _hold_role(site, person, role, since, course)
        entry.on(person)
        entry.changed(role=role, course=course)
    return person


def _new_person(name: str, sign_in: str, password: str, first_until: dt.datetime | None) -> Person:
    name = text_within("name", name, 80)
    sign_in = text_within("sign_in", sign_in, 40, needed=False).lower()
    person = Person(sign_in=sign_in, first_password_until=first_until)
    person.sign_in = person.sign_in or f"-{person.public_id}"  # a learner, who never signs in
    refuse_if(
        Person.objects.filter(sign_in__iexact=person.sign_in).exists(),
        "sign_in",
        _("The sign-in {sign_in} is taken; one is never used twice.").format(sign_in=sign_in),
    )
    person.details = PersonDetails(person=person, name=name)  # whose name the password must not be
    person.set_unusable_password()
    if password:
        set_password(person, password)
    person.save()
    person.details.person = person
    person.details.save()
    return person


def set_password(person: Person, password: str) -> None:
    """Give the row a new password, unless it is easily guessed. Not saved here."""
    try:
        validate_password(password, person)
    except ValidationError as wrong:
        raise WrongValue(" ".join(wrong.messages), field="password") from None
    person.set_password(password)


def give_role(
    site: Site, person: Person, *, role: Role, since: dt.date, by: Person, course: str = "",
    at: dt.datetime | None = None, once: str = "",
) -> RoleHeld:  # fmt: skip
    """Give a role. Nobody gives one to themselves; auditors and administrators hold no other."""
    with door("ground.role_given", by=by, site=site, on=person, at=at, once=once) as entry:
        if person == by:
            raise OwnWork(_("Nobody gives a role to themselves."))
        held = _hold_role(site, person, role, since, course)
        entry.changed(role=role, since=since)
    return held


def _hold_role(site: Site, person: Person, role: Role, since: dt.date, course: str) -> RoleHeld:
    held_rows = RoleHeld.objects.filter(held_from(since), person=person, site=site)
    held = {Role(row.role) for row in held_rows}
    refuse_if(role in held, "role", _("This person holds that role already."))
    alone = {Role.AUDITOR, Role.ADMIN}
    if held and (role in alone or held & alone):
        raise WrongState(_("Auditors and administrators hold no other role."), field="role")
    refuse_if(
        role == Role.LEARNER and not course, "course", _("A learner belongs to a course; name it.")
    )
    course = text_within("course", course, 40, needed=False)
    row = RoleHeld(person=person, site=site, role=role, since=since, course=course)
    row.save()
    return row


def record_competence(
    site: Site, person: Person, *, kind: str, issued_on: dt.date, expires_on: dt.date, by: Person,
    at: dt.datetime | None = None, once: str = "",
) -> Competence:  # fmt: skip
    refuse_if(kind not in CompetenceKind.values, "kind", _("This qualification is not known."))
    refuse_if(expires_on <= issued_on, "expires_on", _("A qualification ends after it is issued."))
    refuse_if(
        not site.roles.filter(person=person).exists(), "person", _("No such person on this ground.")
    )
    with door("ground.competence_recorded", by=by, site=site, on=person, at=at, once=once) as entry:
        if person == by:
            raise OwnWork(_("Nobody records a qualification of their own."))
        competence = Competence(
            person=person, kind=kind, issued_on=issued_on, expires_on=expires_on
        )
        competence.save()
        entry.changed(kind=kind, issued_on=issued_on, expires_on=expires_on)
    return competence


def commission_unit(
    site: Site, *, description: Mapping[str, Any], openings: Sequence[Mapping[str, Any]],
    positions: Sequence[Mapping[str, Any]], sensors: Sequence[Mapping[str, Any]], by: Person,
    compartments: Sequence[Mapping[str, Any]] = (), baffles: Sequence[Mapping[str, Any]] = (),
    linings: Sequence[Mapping[str, Any]] = (), trials: str = "", at: dt.datetime | None = None,
    once: str = "",
) -> Unit:  # fmt: skip
    """Take a unit into service with its make-up; the mappings hold the fields of each part.

    ``trials`` says what the commissioning trials were; the handover's document and limits are in
    the description.
    """
    unit = Unit(site=site, **description)
    parts = {
        "compartments": compartments, "openings": openings, "baffles": baffles,
        "linings": linings, "positions": positions, "sensors": sensors,
    }  # fmt: skip
    made = checked(unit.name, description, parts)
    trials = text_within("trials", trials, 500, needed=False)
    text_within("handover_document", unit.handover_document, 120, needed=False)
    text_within("wall", unit.wall, 80, needed=False)
    text_within("name", unit.name, 40)
    refuse_if(unit.kind not in UnitKind.values, "kind", _("This kind of unit is not known."))
    refuse_if(
        Unit.objects.filter(site=site, name__iexact=unit.name.strip()).exists(),
        "name",
        _("The ground has a unit of that name."),
    )
    now = at or timezone.now()
    refuse_if(
        unit.commissioned_on > now.astimezone(site.zone).date(),
        "commissioned_on",
        _("This day lies ahead; a unit is commissioned when its trials are done."),
    )
    with door("ground.unit_commissioned", by=by, site=site, on=unit, at=at, once=once) as entry:
        unit.save()
        fit(unit, made)
        since = dt.datetime.combine(unit.commissioned_on, dt.time(), tzinfo=site.zone)
        keep_version(
            unit, ChangeKind.COMMISSIONED, made, since=since, what=trials,
            document=unit.handover_document, by=by, at=entry.at,
        )  # fmt: skip
        entry.changed(name=unit.name, kind=unit.kind, max_people=unit.max_people)
    return unit


def add_bay(site: Site, *, name: str, by: Person, at: dt.datetime | None = None) -> Bay:
    bay = Bay(site=site, name=text_within("name", name, 40))
    refuse_if(
        Bay.objects.filter(site=site, name__iexact=bay.name).exists(),
        "name",
        _("The store has a bay of that name."),
    )
    with door("ground.bay_added", by=by, site=site, on=bay, at=at) as entry:
        bay.save()
        entry.changed(name=bay.name)
    return bay


def choose_units(site: Site, person: Person, *, system: str) -> None:
    """Choose in which units the person reads."""
    refuse_if(system not in ("SI", "US"), "units", _("SI or US is allowed."))
    with door("people.units_chosen", by=person, site=site, on=person) as entry:
        entry.changed({"units": person.units}, units=system)
        person.units = system
        person.save(update_fields=["units"])


def post_use(
    unit: Unit, *, burn: str, ignited_at: dt.datetime, ended_at: dt.datetime, burns: int,
    dry_mass_kg: Decimal, energy_mj: Decimal,
) -> UnitUse:  # fmt: skip
    """Add to a unit's ledger of use. Called by the burn services, behind their open door."""
    assert door_is_open()
    row = UnitUse(
        unit=unit, burn=burn, ignited_at=ignited_at, ended_at=ended_at, burns=burns,
        dry_mass_kg=dry_mass_kg, energy_mj=energy_mj, recorded_at=timezone.now(),
    )  # fmt: skip
    row.save()
    return row


def post_exposures(
    people: Iterable[Person], *, site: Site, burn: str, ignited_at: dt.datetime,
    ended_at: dt.datetime, at: dt.datetime,
) -> None:  # fmt: skip
    """Add to the ledger of exposure. Called by the burn services, behind their open door."""
    assert door_is_open()
    Exposure.objects.bulk_create(
        Exposure(
            site=site, person=person, burn=burn, ignited_at=ignited_at, ended_at=ended_at,
            recorded_at=at,
        )
        for person in people
    )  # fmt: skip
