"""Reading people, roles and competences."""

from __future__ import annotations

import datetime as dt

from django.db.models import Prefetch, Q, QuerySet

from facility.people.models import (
    Competence,
    Device,
    PasswordLink,
    Person,
    PersonalCode,
    RecoveryCode,
    RoleHeld,
    SecondFactor,
)
from facility.people.permissions import OPERATIONAL, Role
from facility.refusals import NotHere
from facility.sites.models import Site


def held_on(day: dt.date) -> Q:
    """Roles in force on a day; one that ended at once does not count on its last day."""
    return Q(since__lte=day) & held_from(day)


def held_from(day: dt.date) -> Q:
    """Roles in force on a day or later, those that start later included."""
    return Q(until__isnull=True) | Q(until__gt=day) | Q(until=day, at_once=False)


def roles_of(person: Person, site: Site, day: dt.date) -> frozenset[Role]:
    held = RoleHeld.objects.filter(held_on(day), person=person, site=site)
    return frozenset(Role(role) for role in held.values_list("role", flat=True))


def grounds_of(person: Person, now: dt.datetime) -> dict[Site, frozenset[Role]]:
    """The grounds where the person holds a role today, by each ground's own calendar, by name."""
    held: dict[Site, set[Role]] = {}
    rows = RoleHeld.objects.filter(person=person).select_related("site").order_by("site__name")
    for row in rows:
        if row.in_force(now.astimezone(row.site.zone).date()):
            held.setdefault(row.site, set()).add(Role(row.role))
    return {site: frozenset(roles) for site, roles in held.items()}


def people_on(site: Site, day: dt.date) -> QuerySet[Person]:
    """Everyone with a role on the ground, names and roles fetched along."""
    held = RoleHeld.objects.filter(held_on(day), site=site).order_by("role")
    found: QuerySet[Person] = (
        Person.objects.filter(pk__in=held.values("person"))
        .select_related("details")
        .prefetch_related(
            Prefetch("roles", queryset=held, to_attr="roles_here"),
            Prefetch("competences", queryset=Competence.objects.order_by("kind", "expires_on")),
        )
        .order_by("details__name")
    )
    return found


def staff_on(site: Site, day: dt.date) -> QuerySet[Person]:
    learners = RoleHeld.objects.filter(held_on(day), site=site, role=Role.LEARNER)
    return people_on(site, day).exclude(pk__in=learners.values("person"))


def crew_on(site: Site, day: dt.date) -> QuerySet[Person]:
    """Those who may stand in a crew: whoever holds a working role, auditors and administrators not."""
    working = RoleHeld.objects.filter(held_on(day), site=site, role__in=OPERATIONAL)
    return people_on(site, day).filter(pk__in=working.values("person"))


def learners_on(site: Site, day: dt.date) -> list[tuple[str, list[Person]]]:
    """Learners by course, for a form."""
    held = RoleHeld.objects.filter(held_on(day), site=site, role=Role.LEARNER)
    courses: dict[str, list[Person]] = {}
    rows = held.select_related("person__details").order_by("course", "person__details__name")
    for row in rows:
        courses.setdefault(row.course, []).append(row.person)
    return list(courses.items())


def former_on(site: Site, day: dt.date) -> QuerySet[Person]:
    """Who worked here once, and holds no role any more."""
    here = RoleHeld.objects.filter(held_from(day), site=site)
    worked = RoleHeld.objects.filter(site=site).exclude(role=Role.LEARNER)
    found: QuerySet[Person] = (
        Person.objects.filter(pk__in=worked.values("person"))
        .exclude(pk__in=here.values("person"))
        .select_related("details")
        .order_by("details__name")
    )
    return found


def roles_held(site: Site, person: Person, day: dt.date) -> list[RoleHeld]:
    """Roles of a person here that are in force or still to come."""
    return list(RoleHeld.objects.filter(held_from(day), person=person, site=site).order_by("since"))


def works_elsewhere(site: Site, person: Person, day: dt.date) -> bool:
    """Whether another ground counts on this account as well."""
    return bool(RoleHeld.objects.filter(held_from(day), person=person).exclude(site=site).exists())


def has_second_factor(person: Person) -> bool:
    return bool(SecondFactor.objects.filter(person=person).exclude(seed="").exists())


def recovery_codes_left(person: Person) -> int:
    return int(RecoveryCode.objects.filter(person=person, used_at__isnull=True).count())


def has_personal_code(person: Person) -> bool:
    return bool(PersonalCode.objects.filter(person=person).exclude(code_hash="").exists())


def people_with_code(site: Site, day: dt.date) -> list[Person]:
    """Who may be chosen on the lock page of a tablet, by name."""
    coded = PersonalCode.objects.exclude(code_hash="").values("person")
    return list(staff_on(site, day).filter(pk__in=coded, is_active=True))


def tablets_of(site: Site) -> list[Device]:
    """Enrolled ones first."""
    return list(Device.objects.filter(site=site).order_by("revoked_at", "name"))


def tablet_here(site: Site, public_id: str) -> Device:
    found: Device | None = Device.objects.filter(site=site, public_id=public_id).first()
    if found is None:
        raise NotHere(f"No tablet {public_id} on this ground.")
    return found


def link_waiting(person: Person, now: dt.datetime) -> PasswordLink | None:
    """The link by which the person can choose a password now."""
    links = PasswordLink.objects.filter(person=person, ended_at__isnull=True, until__gt=now)
    found: PasswordLink | None = links.first()
    return found


def account_to_sign_in(public_id: str) -> Person | None:
    found: Person | None = Person.objects.filter(public_id=public_id, is_active=True).first()
    return found


def person_here(site: Site, public_id: str) -> Person:
    found = Person.objects.filter(public_id=public_id, roles__site=site).distinct()
    person: Person | None = found.first()
    if person is None:
        raise NotHere(f"No person {public_id} on this ground.")
    return person
