"""Print who may do what: acts by roles and addresses by roles, from the tables the program obeys."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from facility.people.matrix import as_markdown


class Command(BaseCommand):
    help = __doc__ or ""

    def handle(self, *args: Any, **options: Any) -> None:
        for line in as_markdown():
            self.stdout.write(line)
