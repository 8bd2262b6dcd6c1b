"""Take the rows of a file into a draft edition, all or none.

manage.py import_edition FILE --ground NAME --edition CODE --by SIGN_IN [--dry-run]

FILE is CSV, a workbook (xlsx) or JSON. Exits 2 when anything is wrong or refused, with one line
for each bad row; a dry run reads, says what would change and writes nothing.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from itertools import groupby
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from facility.people.models import Person
from facility.refusals import Refused
from facility.rulebook.diff import compare
from facility.rulebook.models import Edition
from facility.rulebook.selectors import chart_values, item_values, row_values
from records.standard.exchange import RowFault, Sheet, read_rows, sentence
from records.standard.selectors import with_units
from records.standard.services import import_rows


class Command(BaseCommand):
    help = "Take the rows of a file into a draft edition, all or none."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="CSV, xlsx or JSON")
        parser.add_argument("--ground", required=True, help="name of the ground")
        parser.add_argument("--edition", required=True, help="code of the draft")
        parser.add_argument("--by", required=True, help="sign-in of the person who imports")
        parser.add_argument("--dry-run", action="store_true", help="read only, write nothing")

    def handle(self, *args: Any, **options: Any) -> None:
        path: Path = options["file"]
        edition = Edition.objects.filter(
            site__name=options["ground"], code=options["edition"]
        ).first()
        by = Person.objects.filter(sign_in__iexact=options["by"]).first()
        if edition is None:
            raise CommandError("No such edition on a ground of that name.", returncode=2)
        if by is None:
            raise CommandError("Nobody signs in by that name.", returncode=2)
        sheet = _read(path)
        if sheet.faults:
            self._list(sheet.faults)
        try:
            charts = with_units(edition.site, sheet.charts)
            if options["dry_run"]:
                self._tell_changes(edition, sheet)
                return
            count = import_rows(edition, sheet.rows, charts=charts, items=sheet.items, by=by)
        except Refused as refused:
            raise CommandError(refused.sentence, returncode=2) from None
        self.stdout.write(f"{count} rows and {len(charts)} charts taken into {edition.code}.")

    def _list(self, faults: Iterable[RowFault]) -> None:
        for _row, wrong in groupby(faults, key=lambda fault: fault.row):
            self.stderr.write(sentence(list(wrong)))
        sys.exit(2)

    def _tell_changes(self, edition: Edition, sheet: Sheet) -> None:
        """A chart that the file does not name would stay as it is."""
        named = {chart["unit"] for chart in sheet.charts}
        charts = [chart for chart in chart_values(edition) if chart["unit"] in named]
        items = item_values(edition)
        found = compare(
            row_values(edition), sheet.rows, charts, sheet.charts, items, sheet.items or items
        )
        for what, told in (("rows", found.rows), ("charts", found.charts), ("items", found.items)):
            self.stdout.write(
                f"{what}: {len(told.added)} added, {len(told.dropped)} dropped, "
                f"{len(told.changed)} changed"
            )
        self.stdout.write("Nothing was written.")


def _read(path: Path) -> Sheet:
    try:
        return read_rows(path.read_bytes(), path.name)
    except OSError as error:
        raise CommandError(str(error), returncode=2) from None
