"""A whole ground in a SQLite file of its own: for backups, restoring and erasing."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.conf import settings
from django.core.management import call_command
from django.db.backends.sqlite3.base import DatabaseWrapper

from tests import builders
from tests.audit.logs import PRAGMAS, sqlite_file

NAME = "db.sqlite3"


@contextmanager
def ground_file(folder: Path) -> Iterator[DatabaseWrapper]:
    """Inside the block the data folder is this one, and its file the database."""
    before = settings.DATA_DIR
    settings.DATA_DIR = folder
    try:
        with sqlite_file(folder / NAME, f"{PRAGMAS};PRAGMA secure_delete=ON") as opened_file:
            yield opened_file
    finally:
        settings.DATA_DIR = before


def build(folder: Path) -> builders.Ground:
    """A ground with a cast, seven learners and a closed burn."""
    call_command("migrate", run_syncdb=True, verbosity=0)
    made = builders.found_ground()
    builders.accepted_lot(made)
    builders.closed(made)
    return made
