"""Small logs in SQLite files of their own, on whichever database the tests run."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.core.management import call_command
from django.db import connections, transaction
from django.db.backends.sqlite3.base import DatabaseWrapper

from facility.guarded import opened
from facility.sites.models import Site
from records.audit.door import EntryDraft, _append
from tests.builders import NOW

SETTINGS = {
    "ENGINE": "django.db.backends.sqlite3", "HOST": "", "PORT": "", "USER": "", "PASSWORD": "",
    "ATOMIC_REQUESTS": False, "AUTOCOMMIT": True, "CONN_MAX_AGE": None,
    "CONN_HEALTH_CHECKS": False, "TIME_ZONE": None,
    "TEST": {"CHARSET": None, "COLLATION": None, "MIGRATE": True, "MIRROR": None, "NAME": None},
}  # fmt: skip
PRAGMAS = "PRAGMA journal_mode=WAL;PRAGMA synchronous=FULL;PRAGMA recursive_triggers=ON"


@contextmanager
def sqlite_file(path: Path, pragmas: str = PRAGMAS) -> Iterator[DatabaseWrapper]:
    """Inside the block the file is the database."""
    options = {"transaction_mode": "IMMEDIATE", "timeout": 20, "init_command": pragmas}
    before = connections["default"]
    connections["default"] = DatabaseWrapper(
        {**SETTINGS, "NAME": str(path), "OPTIONS": options}, "default"
    )
    try:
        yield connections["default"]
    finally:
        connections["default"].close()
        connections["default"] = before


def new_log() -> None:
    """The tables, and nothing in them."""
    call_command("migrate", run_syncdb=True, verbosity=0)


def write_entries(count: int, *, first: int = 0) -> None:
    """Entries as the door writes them, each with a number and a reason that was typed."""
    site = Site(public_id="testground")
    for number in range(first, first + count):
        draft = EntryDraft("ground.bay_added", NOW + dt.timedelta(seconds=number))
        draft.changed(number=number)
        draft.why = f"reason {number}"
        with transaction.atomic(), opened():
            _append(draft, by=None, site=site, role="program", once="")
