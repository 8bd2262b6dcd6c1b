"""A ground in a SQLite file, a writer that never stops by itself, and what must hold afterwards."""

from __future__ import annotations

import os
import sqlite3
import sys
from contextlib import closing
from pathlib import Path

FOLDER = Path(sys.argv[1] if len(sys.argv) > 1 else ".").resolve()
os.environ.pop("DATABASE_URL", None)
os.environ["CHARLINE_DATA"] = str(FOLDER)
os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"

import django  # noqa: E402

django.setup()

from django.core.management import call_command  # noqa: E402
from django.db import connection, connections  # noqa: E402

from facility.people.models import Person  # noqa: E402
from facility.sites.models import Bay, Site  # noqa: E402
from records.audit.door import door  # noqa: E402
from records.audit.models import Entry  # noqa: E402
from records.audit.verifying import verify  # noqa: E402
from records.ground import services as ground  # noqa: E402

ACT = "ground.bay_added"


def found() -> None:
    """A ground with an administrator, in a file that is closed with nothing left in its WAL."""
    call_command("migrate", run_syncdb=True, verbosity=0)
    ground.found_ground(
        name="Ground", time_zone="UTC", admin_name="A", admin_sign_in="admin",
        password="a long enough password",
    )  # fmt: skip
    connections.close_all()


def write_bays(acknowledged: int, first: int, count: int) -> None:
    """Each bay is one act; once the door has closed, its number is written to the descriptor."""
    site, admin = Site.objects.get(), Person.objects.get()
    for number in range(first, first + count):
        with door(ACT, by=admin, site=site, why=f"bay {number}") as entry:
            bay = Bay(site=site, name=f"Bay {number}")
            bay.save()
            entry.on(bay)
        os.write(acknowledged, f"{number}\n".encode())


def numbers_in(text: str) -> list[int]:
    """The acknowledged numbers; one whose line is cut short does not count."""
    return [int(line) for line in text[: text.rfind("\n") + 1].split()]


def kept() -> list[int]:
    """Numbers of the bays in the file, in order."""
    return sorted(
        int(name.partition(" ")[2]) for name in Bay.objects.values_list("name", flat=True)
    )


def broken(path: Path) -> list[str]:
    """What SQLite itself finds wrong with the file, and what the log finds."""
    try:
        with closing(sqlite3.connect(path)) as file:
            (found,) = file.execute("PRAGMA integrity_check").fetchone()
    except sqlite3.DatabaseError as error:
        return [str(error)]
    if found != "ok":
        return [found]
    bays, entries = Bay.objects.count(), Entry.objects.filter(act=ACT).count()
    apart = [f"{bays} bays, {entries} entries"] if bays != entries else []
    return [each.sentence for each in verify()] + apart


def look_at(path: Path) -> None:
    """Make the file the database from here on."""
    connection.close()
    connection.settings_dict["NAME"] = str(path)
