"""Take plans from a JSON file: each is drafted and submitted under one person's name, all or none.

manage.py import_plans FILE.json --by SIGN_IN [--ground NAME] [--dry-run]
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import transaction

from facility.people.models import Person
from facility.refusals import LimitExceeded, Refused
from facility.rules import words
from facility.sites.models import Site
from records.plans import services
from records.plans.importing import content_from, plans_in


class Command(BaseCommand):
    help = __doc__ or ""

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--by", required=True, help="sign-in of the author")
        parser.add_argument("--ground", default="", help="its name; not needed where there is one")
        parser.add_argument("--dry-run", action="store_true", help="say what would be refused")

    def handle(self, *args: Any, **options: Any) -> None:
        site = Site.objects.filter(**({"name": options["ground"]} if options["ground"] else {}))
        author = Person.objects.filter(sign_in=options["by"].lower()).first()
        if site.count() != 1 or author is None:
            raise CommandError("name one ground and a known sign-in", returncode=2)
        try:
            count = self._take(site.get(), author, options["file"], options["dry_run"])
        except LimitExceeded as refused:
            for finding in refused.findings:
                self.stderr.write(f"{finding.rule.code}: {words.sentence(finding)}")
            sys.exit(1)
        except (Refused, OSError) as wrong:
            self.stderr.write(str(wrong))
            sys.exit(2)
        taken = "would be taken" if options["dry_run"] else "drafted and submitted"
        self.stdout.write(f"{count} plans {taken}")

    def _take(self, site: Site, author: Person, path: Path, dry_run: bool) -> int:
        """All plans in one transaction: the first one refused undoes the rest."""
        with transaction.atomic():
            plans = plans_in(path.read_bytes())
            for number, given in enumerate(plans, start=1):
                try:
                    plan = services.draft_plan(site, content_from(given, site), by=author)
                    services.submit_plan(plan, seen_hash=plan.version.content_hash, by=author)
                except Refused:
                    self.stderr.write(f"plan {number} of {len(plans)} is refused; none is taken")
                    raise
            if dry_run:
                transaction.set_rollback(True)
        return len(plans)
