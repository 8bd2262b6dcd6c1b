"""Write the log for an auditor: one body a line, and the head note beside it.

manage.py export_log FILE

The note stands in FILE with ``.head.txt`` at its end; ``records/audit/checker.py`` checks the two
without this program.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from records.audit.heads import head_now
from records.audit.models import Entry

AT_ONCE = 2000


class Command(BaseCommand):
    help = "Export the bodies of all entries as JSON lines, with the head note beside them."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)

    def handle(self, *args: Any, **options: Any) -> None:
        path: Path = options["file"]
        head = head_now()
        bodies = Entry.objects.filter(seq__lt=head.size).order_by("seq")
        with path.open("w", encoding="utf-8", newline="\n") as file:
            for body in bodies.values_list("body", flat=True).iterator(chunk_size=AT_ONCE):
                file.write(f"{body}\n")
        note = path.with_name(f"{path.name}.head.txt")
        note.write_text(head.text, encoding="utf-8")
        self.stdout.write(f"{head.size} entries in {path}, head in {note}")
