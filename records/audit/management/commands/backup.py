"""Write everything into one file while people work on.

manage.py backup FILE

Keep ``erasures.jsonl`` of the data folder with your backups: an older backup is made to forget by
it. Exits 2 when nothing was written.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from facility.refusals import Refused
from records.audit.backups import write_backup
from records.audit.showing import shown_on


class Command(BaseCommand):
    help = "Write the database and a manifest into one zip."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            made = write_backup(options["file"], shown_on(self.stderr))
        except Refused as refused:
            named = f"{type(refused).__name__}: {refused.sentence}"
            raise CommandError(named, returncode=2) from None
        self.stdout.write(f"{made.note.size} entries and everything else are in {options['file']}")
