"""Write an edition to a file, in the form its name ends with: .csv, .xlsx or .json.

manage.py export_edition CODE FILE [--ground NAME]

Only JSON holds the burn-sequence charts and the check list as well.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from facility.rulebook.models import Edition
from facility.rulebook.selectors import chart_values, item_values, row_values
from records.standard.exchange import FORMS, write_rows


class Command(BaseCommand):
    help = "Write an edition to a file: .csv, .xlsx, or .json with its charts."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("code", help="code of the edition")
        parser.add_argument("file", type=Path, help="its ending names the form")
        parser.add_argument("--ground", help="where several grounds have an edition of that code")

    def handle(self, *args: Any, **options: Any) -> None:
        path: Path = options["file"]
        form = path.suffix.lower().removeprefix(".")
        if form not in FORMS:
            raise CommandError(f"{path}: it must end with one of {', '.join(FORMS)}", returncode=2)
        edition = _edition(options["code"], options["ground"])
        rows, charts = row_values(edition), chart_values(edition)
        named = {"code": edition.code, "title": edition.title, "jurisdiction": edition.jurisdiction}
        try:
            path.write_bytes(
                write_rows(rows, form, edition=named, charts=charts, items=item_values(edition))
            )
        except OSError as error:
            raise CommandError(str(error), returncode=2) from None
        self.stdout.write(f"{len(rows)} rows of {edition.code} in {path}")


def _edition(code: str, ground: str | None) -> Edition:
    found = Edition.objects.filter(code=code)
    editions = list(found.filter(site__name=ground) if ground else found)
    if len(editions) != 1:
        wrong = (
            "No such edition." if not editions else "Several grounds have it; name the --ground."
        )
        raise CommandError(wrong, returncode=2)
    return editions[0]
