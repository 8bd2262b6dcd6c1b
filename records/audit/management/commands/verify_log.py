"""Check the whole log, and hold it to head notes kept outside.

manage.py verify_log [--head FILE ...]

Exits 0 when nothing is wrong and 1 when something is, one line for each finding. The result is
kept: the day sheet shows it, and after a failed check nothing is recorded until one passes.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandParser

from records.audit.notes import HeadNote, NotANote, read_note
from records.audit.services import check_log

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
        progress = self._progress if options["verbosity"] > 1 else None
        made, findings = check_log(heads, progress=progress)
        for finding in findings:
            self.stdout.write(f"FAIL {finding.sentence}")
        if findings:
            sys.exit(1)
        root = HeadNote(settings.LOG_ORIGIN, made.size, bytes(made.root)).root_text
        self.stdout.write(f"OK {made.size} entries, {made.heads} head notes; root {root}")

    def _progress(self, done: int, size: int) -> None:
        if done % EVERY < 256:
            self.stdout.write(f"{done} of {size}")


def _read(path: str) -> HeadNote:
    """A note of another log says nothing about this one, so it is no failed check either."""
    try:
        note = read_note(Path(path).read_text(encoding="utf-8"))
    except NotANote as wrong:
        raise NotANote(f"{path}: {wrong}") from None
    if note.origin != settings.LOG_ORIGIN:
        raise NotANote(f"{path}: the head note is of another log: {note.origin}")
    return note
