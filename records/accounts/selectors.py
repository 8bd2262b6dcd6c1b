"""What the pages of accounts show."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from facility.people import selectors as people
from facility.people.models import CompetenceKind, Person
from facility.sites.models import Site

COMPETENCES = CompetenceKind.choices


@dataclass(frozen=True, slots=True)
class Account:
    """A person of the ground as the page shows them."""

    person: Person
    roles: list[Any]
    competences: list[Any]
    signs_in: bool


def account_of(site: Site, person: Person, day: dt.date) -> Account:
    return Account(
        person,
        people.roles_held(site, person, day),
        list(person.competences.order_by("kind", "expires_on")),
        not person.sign_in.startswith("-"),
    )
