"""Check the whole log, and hold it to head notes kept outside.

manage.py verify_log [--head FILE ...]

Exits 0 when nothing is wrong and 1 when something is, one line for each finding.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from records.audit.heads import head_now
from records.audit.notes import HeadNote, NotANote, read_note
from records.audit.verifying import verify

EVERY = 100_000


class Command(BaseCommand):
    help = "Check the log against its tree and against head notes kept outside."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--head", action="append", default=[], metavar="FILE")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            heads = [_read(path) for path in options["head"]]
        except (OSError, UnicodeDecodeError, NotANote) as error:
            self.stderr.write(f"FAIL {error}")
            sys.exit(1)
        findings = verify(heads, progress=self._progress if options["verbosity"] > 1 else None)
        for finding in findings:
            self.stdout.write(f"FAIL {finding.sentence}")
        if findings:
            sys.exit(1)
        head = head_now()
        self.stdout.write(f"OK {head.size} entries, {len(heads)} head notes; root {head.root_text}")

    def _progress(self, done: int, size: int) -> None:
        if done % EVERY < 256:
            self.stdout.write(f"{done} of {size}")


def _read(path: str) -> HeadNote:
    try:
        return read_note(Path(path).read_text(encoding="utf-8"))
    except NotANote as wrong:
        raise NotANote(f"{path}: {wrong}") from None
