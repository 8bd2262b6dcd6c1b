"""Erase what names a person, on an order.

manage.py erase_person PUBLIC_ID --basis TEXT --by SIGN_IN

``--by`` is the administrator who carries it out. The names of people who signed stay as long as
what they signed. Exits 2 when it is refused.
"""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from facility.people.models import Person
from facility.refusals import Refused
from facility.sites.models import Site
from records.audit.erasing import orders_file, wipe_free_space
from records.ground.erasing import erase_person


class Command(BaseCommand):
    help = "Erase what names a person; the records stay, by key."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("public_id", help="the key of the person, as in the log: person:KEY")
        parser.add_argument("--basis", required=True, help="on what order, in a few words")
        parser.add_argument("--by", required=True, help="sign-in of the administrator")

    def handle(self, *args: Any, **options: Any) -> None:
        person = _found(public_id=options["public_id"].lower().replace("-", ""))
        site = Site.objects.filter(roles__person=person).first()
        by = _found(sign_in__iexact=options["by"])
        if site is None:
            raise CommandError("This person never held a role.", returncode=2)
        try:
            erased = erase_person(site, person, basis=options["basis"], by=by)
        except Refused as refused:
            raise CommandError(refused.sentence, returncode=2) from None
        wipe_free_space()
        self.stdout.write(
            f"{person.public_id} is erased; the order is kept in {orders_file()} too."
        )
        for place in erased.still_named:
            self.stdout.write(f"The name still stands in what somebody wrote: {place}")
        self.stdout.write("Backups made before hold the name until they are thrown away.")


def _found(**key: str) -> Person:
    person: Person | None = Person.objects.filter(**key).first()
    if person is None:
        raise CommandError(f"Nobody here has {' '.join(key.values())}.", returncode=2)
    return person
