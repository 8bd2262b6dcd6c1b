"""Judge by the standard: past burns of a ground under any edition, or plans from a file.

manage.py judge --ground NAME --edition KM-3 --from 2026-03-01 --to 2026-10-31
manage.py judge --ground NAME --plans FILE.json [--edition KM-3]
"""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from facility.refusals import Refused
from facility.rulebook.models import Edition
from facility.rules import words
from facility.sites.models import Site
from records.plans.importing import content_from, plans_in
from records.plans.judging import judge_plan
from records.plans.rejudging import rejudge
from records.plans.services import check_content


class Command(BaseCommand):
    help = __doc__ or ""

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--ground", default="", help="its name; not needed where there is one")
        parser.add_argument("--edition", default="", help="its code; else what is in force")
        parser.add_argument("--from", dest="first", type=dt.date.fromisoformat)
        parser.add_argument("--to", dest="last", type=dt.date.fromisoformat)
        parser.add_argument("--plans", type=Path, help="a JSON file of plans to judge")

    def handle(self, *args: Any, **options: Any) -> None:
        site = self._site(options["ground"])
        edition = self._edition(site, options["edition"])
        if options["plans"] is not None:
            self._judge_plans(site, edition, options["plans"])
            return
        if edition is None or not options["first"] or not options["last"]:
            raise CommandError("past burns need --edition, --from and --to", returncode=2)
        self._judge_past(site, edition, options["first"], options["last"])

    def _site(self, name: str) -> Site:
        found = list(Site.objects.filter(name=name) if name else Site.objects.all()[:2])
        if len(found) != 1:
            raise CommandError("name one ground with --ground", returncode=2)
        return found[0]

    def _edition(self, site: Site, code: str) -> Edition | None:
        if not code:
            return None
        edition = Edition.objects.filter(site=site, code=code).select_related("site").first()
        if edition is None:
            raise CommandError(f"no edition {code} on this ground", returncode=2)
        return edition

    def _judge_past(self, site: Site, edition: Edition, first: dt.date, last: dt.date) -> None:
        if last < first:
            raise CommandError("the period ends before it begins", returncode=2)
        found = rejudge(site, [edition], first, last, progress=self._bar)
        self.stderr.write("")
        self.stdout.write(
            f"{edition.code}, {first} to {last}: {found.burns} burns judged, {found.refused} would "
            f"have been refused, {found.cautioned} more cautioned, {found.untold} without facts"
        )
        for (code, title), count in found.by_row.most_common():
            self.stdout.write(f"  {code:<8} {count:>6}  {title}")
        for each in found.listed:
            when = each.ignited_at.astimezone(site.zone)
            self.stdout.write(f"{when:%Y-%m-%d %H:%M}  {each.unit}, plan {each.plan}")
            for finding in each.findings:
                self.stdout.write(f"    {finding.rule.code}: {words.sentence(finding)}")
        if found.refused > len(found.listed):
            self.stdout.write(f"... and {found.refused - len(found.listed)} more")

    def _bar(self, done: int, total: int) -> None:
        if self.stderr.isatty():
            share = done / total if total else 1.0
            self.stderr.write(f"\r[{'#' * int(30 * share):<30}] {done} of {total}", ending="")

    def _judge_plans(self, site: Site, edition: Edition | None, path: Path) -> None:
        """Judge each plan of a file; exit status 1 when one of them could not pass."""
        refused = 0
        try:
            plans = plans_in(path.read_bytes())
            for number, given in enumerate(plans, start=1):
                content, now = content_from(given, site), timezone.now()
                check_content(content, site, now)
                judgement = judge_plan(
                    content, site=site, at=now, editions=[edition] if edition else None
                )
                refused += bool(judgement.blocking)
                verdict = "refused" if judgement.blocking else "could pass"
                self.stdout.write(f"plan {number}: {verdict}")
                for finding in judgement.blocking:
                    self.stdout.write(f"    {finding.rule.code}: {words.sentence(finding)}")
        except (Refused, OSError) as wrong:
            self.stderr.write(str(wrong))
            sys.exit(2)
        if refused:
            sys.exit(1)
