"""Found the demo ground and tell its two seasons; does nothing when it is there already."""

from __future__ import annotations

import datetime as dt
import random
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from facility.people.permissions import Role
from facility.sites.models import Site
from records.demo.days import adopt_check_list
from records.demo.earlier import tell_earlier
from records.demo.seasons import Teller, tell
from records.demo.setting import fixture, found
from records.demo.today import tell_today
from records.demo.units import tell_units

FEWEST_WEEKS = 3  # what stands on today's day sheet came within them


class Command(BaseCommand):
    help = __doc__ or ""

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--weeks", type=int, default=0, help="a short story, for tests")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["weeks"] and options["weeks"] < FEWEST_WEEKS:
            raise CommandError(f"--weeks: at least {FEWEST_WEEKS}.")
        told = fixture("demo.json")
        if not Site.objects.filter(name=told["ground"]["name"]).exists():
            self._tell(told, options["weeks"])
        self._print_sign_ins(told)

    def _tell(self, told: dict[str, Any], weeks: int) -> None:
        now = timezone.now().replace(second=0, microsecond=0)
        first = dt.date(now.year - 1, 3, 1)
        if weeks:
            first = now.date() - dt.timedelta(weeks=weeks)
        self.stdout.write("Telling two seasons of the demo ground ...")
        start = dt.datetime.combine(first - dt.timedelta(days=5), dt.time(8), tzinfo=dt.UTC)
        teller = Teller(found(told, start), random.Random(1917))
        adopt_check_list(teller.setting, told, now - dt.timedelta(days=21))
        tell_earlier(teller.setting, start)
        tell(teller, first, now.date())
        tell_today(teller, now)
        tell_units(teller, told, now)
        self.stdout.write(f"{len(teller.burned)} burns told.")

    def _print_sign_ins(self, told: dict[str, Any]) -> None:
        self.stdout.write(f"\nSign in with the password: {told['password']}")
        for person in told["people"]:
            if person["sign_in"][-1].isdigit():
                continue
            roles = ", ".join(str(Role(role).label) for role in person["roles"])
            self.stdout.write(f"  {person['sign_in']:<12} {roles:<16} {person['name']}")
