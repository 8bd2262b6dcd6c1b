"""Say what an import of a logger's file would understand of it; nothing is stored.

manage.py read_logger FILE
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from facility.loggers.layout import NotUnderstood
from facility.loggers.reading import said, understand


class Command(BaseCommand):
    help = "Print channels, units, span, rate and gaps of a logger's file; exit 2 if it is none."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)

    def handle(self, *args: Any, **options: Any) -> None:
        file: Path = options["file"]
        try:
            found = understand(file.read_bytes(), file.name)
        except (NotUnderstood, OSError) as refused:
            self.stderr.write(f"{file.name}: {refused}")
            sys.exit(2)
        for line in said(found):
            self.stdout.write(line)
