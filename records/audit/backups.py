"""A backup in one file, and putting it back where nothing is.

A backup is a zip of the database as it was at one moment and a manifest: the head of the log in
it, the version of the program, the SHA-256 of the database file, the time. On SQLite the copy is
made by its online backup, on PostgreSQL by pg_dump; people work on meanwhile.

Putting it back checks all of that, goes through the whole log, and forgets again whoever was
erased since. Then the program only shows what it has until somebody has signed for it.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import os
import shutil
import sqlite3
import subprocess
import tempfile
import zipfile
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import IO, Any

from django.apps import apps
from django.conf import settings
from django.core.management import call_command
from django.db import connection, transaction
from django.utils import timezone

from facility.guarded import opened
from facility.refusals import Refused
from facility.sites.models import Site
from records.audit import merkle
from records.audit.disposing import KeptDisposal, dispose_again
from records.audit.door import door
from records.audit.erasing import carry_out_again, orders_in, wipe_free_space
from records.audit.heads import head_now
from records.audit.models import Erasure, LogHead
from records.audit.notes import HeadNote, NotANote, read_note
from records.audit.verifying import verify

FORMAT = 1
MANIFEST = "manifest.json"
FILES = {"sqlite": "database.sqlite3", "postgresql": "database.dump"}
CHUNK = 2**20
PAGES_AT_ONCE = 2000
HEAD_QUERY = "SELECT size, frontier FROM records_audit_loghead WHERE id = 1"

type Progress = Callable[[str, int, int], None]


class NotABackup(Refused):
    """The file is cut short, or none of ours."""


class WrongHash(Refused):
    """The database in the backup is not the one that was written."""


class OtherOrigin(Refused):
    """The backup or a head note is of another log."""


class NotEmpty(Refused):
    """There is something already where this should go."""


class OlderThanKnown(Refused):
    """Heads kept outside are newer than the backup: what was recorded since is not in it."""


class DoesNotVerify(Refused):
    """The log in the backup is not whole, or is not that of the heads."""


class NoTool(Refused):
    """A program of PostgreSQL is missing or failed."""


@dataclass(frozen=True, slots=True)
class Manifest:
    """What a backup says about itself. ``head`` is a head note."""

    format: int
    written_at: str
    version: str
    file: str
    bytes: int
    sha256: str
    head: str

    @property
    def note(self) -> HeadNote:
        return read_note(self.head)


def write_backup(path: Path, progress: Progress) -> Manifest:
    """Write a backup; an existing file is not overwritten."""
    if path.exists():
        raise NotEmpty(f"{path} exists already; nothing was written.")
    beside = path.parent if path.parent.is_dir() else None
    if beside is None:
        raise NotEmpty(f"There is no folder {path.parent}.")
    with tempfile.TemporaryDirectory(prefix=".backup-", dir=beside) as folder:
        copy = Path(folder) / FILES[connection.vendor]
        head = (_copy_sqlite if connection.vendor == "sqlite" else _dump)(copy, progress)
        made, packed = _described(copy, head), Path(folder) / "backup.zip"
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as bundle:
            with copy.open("rb") as source, bundle.open(made.file, "w", force_zip64=True) as into:
                _pour(source, into, made.bytes, lambda at, all_: progress("packing", at, all_))
            bundle.writestr(MANIFEST, json.dumps(asdict(made), indent=1))
        packed.chmod(0o600)
        packed.replace(path)
    return made


def _described(copy: Path, head: HeadNote) -> Manifest:
    with copy.open("rb") as file:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
    now = timezone.now().astimezone(dt.UTC)
    return Manifest(
        FORMAT, now.isoformat(), settings.VERSION, copy.name, copy.stat().st_size, digest, head.text
    )


def _pour(
    source: IO[bytes], into: IO[bytes], size: int, progress: Callable[[int, int], None]
) -> str:
    """Copy piece by piece; gives the SHA-256 of what went through."""
    digest, done = hashlib.sha256(), 0
    while piece := source.read(CHUNK):
        digest.update(piece)
        into.write(piece)
        done += len(piece)
        progress(done, size)
    return digest.hexdigest()


def _copy_sqlite(copy: Path, progress: Progress) -> HeadNote:
    """A copy of the file as it is when this starts, without stopping whoever writes to it."""
    name = str(connection.settings_dict["NAME"])
    with (
        closing(sqlite3.connect(name, uri=name.startswith("file:"))) as source,
        closing(sqlite3.connect(copy)) as target,
    ):
        source.execute("BEGIN")
        source.execute("SELECT count(*) FROM sqlite_master").fetchone()  # now it sees one moment
        source.backup(
            target, pages=PAGES_AT_ONCE,
            progress=lambda _state, left, pages: progress("copying", pages - left, pages),
        )  # fmt: skip
        target.execute("PRAGMA journal_mode=DELETE")  # one file, without a log of writes beside it
        return _head_in(target.execute(HEAD_QUERY).fetchone())


def _head_in(row: tuple[int, bytes] | None) -> HeadNote:
    size, frontier = row or (0, b"")
    root = merkle.root_of_frontier(merkle.split(bytes(frontier)))
    return HeadNote(settings.LOG_ORIGIN, size, root, timezone.now())


def _dump(copy: Path, progress: Progress) -> HeadNote:
    """pg_dump of the very moment at which the head is read."""
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
        cursor.execute("SELECT pg_export_snapshot()")
        (snapshot,) = cursor.fetchone()
        cursor.execute(HEAD_QUERY)
        head = _head_in(cursor.fetchone())
        progress("copying", 0, 1)
        _run("pg_dump", "--format=custom", f"--snapshot={snapshot}", f"--file={copy}")
        progress("copying", 1, 1)
    return head


def _run(tool: str, *arguments: str) -> None:
    """Run a program of PostgreSQL on our database; the password goes by the environment."""
    told = connection.settings_dict
    if shutil.which(tool) is None:
        raise NoTool(f"{tool} is not on this machine: install the PostgreSQL client programs.")
    given = {
        "PGHOST": told["HOST"], "PGPORT": str(told["PORT"] or ""), "PGUSER": told["USER"],
        "PGPASSWORD": told["PASSWORD"],
    }  # fmt: skip
    run = subprocess.run(
        [tool, *arguments, f"--dbname={told['NAME']}"], capture_output=True, text=True, check=False,
        env=os.environ | {key: value for key, value in given.items() if value},
    )  # fmt: skip
    if run.returncode:
        raise NoTool(f"{tool} failed: {run.stderr.strip()[-500:]}")


@dataclass(frozen=True, slots=True)
class Restored:
    """What came back: from when, up to which head, and who was forgotten again."""

    manifest: Manifest
    erased: tuple[str, ...]


def restore(
    path: Path, progress: Progress, *, heads: Sequence[HeadNote] = (), accept_loss: bool = False,
    orders: str = "",
) -> Restored:  # fmt: skip
    """Put a backup back where there is no database yet; nothing is left behind by a refusal.

    ``heads`` are notes kept outside; one that is newer than the backup is refused, unless
    ``accept_loss`` says that what is not in it is known to be lost. ``orders`` are the orders to
    erase, as they were kept beside the database.
    """
    erasures = _read_orders(orders)
    try:
        with zipfile.ZipFile(path) as bundle:
            manifest = _manifest_of(bundle)
            _refuse_other(manifest, heads, accept_loss=accept_loss)
            _refuse_occupied()
            with tempfile.TemporaryDirectory(prefix=".restore-", dir=settings.DATA_DIR) as folder:
                copy = Path(folder) / manifest.file
                _unpack(bundle, manifest, copy, progress)
                _put_in_place(copy, manifest, progress)
    except (zipfile.BadZipFile, EOFError, OSError, KeyError) as error:
        raise NotABackup(f"{path} is no whole backup: {error}") from None
    try:
        _check(manifest, heads, progress)
    except Refused:
        _take_away()
        raise
    return Restored(manifest, _take_up(manifest, erasures))


def _read_orders(orders: str) -> list[Any]:
    try:
        return orders_in(orders)
    except ValueError as error:
        raise NotABackup(f"The list of erasures cannot be read: {error}") from None


def _manifest_of(bundle: zipfile.ZipFile) -> Manifest:
    try:
        told = Manifest(**json.loads(bundle.read(MANIFEST)))
        if told.format != FORMAT or told.note.size < 0:
            raise ValueError(f"format {told.format}")
    except (KeyError, ValueError, TypeError, NotANote) as error:
        raise NotABackup(f"Its manifest cannot be read: {error}") from None
    if told.file != FILES[connection.vendor]:
        raise NotABackup(
            f"It holds {told.file}; this place keeps its records in {connection.vendor}."
        )
    return told


def _refuse_other(manifest: Manifest, heads: Sequence[HeadNote], *, accept_loss: bool) -> None:
    for note in (manifest.note, *heads):
        if note.origin != settings.LOG_ORIGIN:
            raise OtherOrigin(
                f"It is of the log {note.origin}, this place is {settings.LOG_ORIGIN}."
            )
    newest = max((note.size for note in heads), default=0)
    if newest > manifest.note.size and not accept_loss:
        raise OlderThanKnown(
            f"A head counts {newest} entries, the backup holds {manifest.note.size}: "
            f"{newest - manifest.note.size} are not in it. Find a newer backup; if there is none, "
            "say --accept-loss."
        )


def _refuse_occupied() -> None:
    tables = connection.introspection.table_names()
    if tables:
        raise NotEmpty(f"The database here holds {len(tables)} tables; nothing was touched.")


def _unpack(bundle: zipfile.ZipFile, manifest: Manifest, copy: Path, progress: Progress) -> None:
    with bundle.open(manifest.file) as source, copy.open("wb") as into:
        found = _pour(
            source, into, manifest.bytes, lambda at, all_: progress("unpacking", at, all_)
        )
    if found != manifest.sha256:
        raise WrongHash(f"SHA-256 is {found}, the manifest says {manifest.sha256}.")


def _put_in_place(copy: Path, manifest: Manifest, progress: Progress) -> None:
    progress("putting in place", 0, 1)
    if connection.vendor == "sqlite":
        name = Path(connection.settings_dict["NAME"])
        connection.close()
        for stray in (name, *_beside(name)):
            stray.unlink(missing_ok=True)  # an empty file, as connecting makes one
        copy.chmod(0o600)
        copy.replace(name)
    else:
        _run("pg_restore", "--no-owner", "--exit-on-error", str(copy))
    progress("putting in place", 1, 1)


def _beside(name: Path) -> list[Path]:
    return [name.with_name(f"{name.name}{end}") for end in ("-wal", "-shm", "-journal")]


def _take_away() -> None:
    """Leave the place as empty as it was."""
    if connection.vendor == "sqlite":
        name = Path(connection.settings_dict["NAME"])
        connection.close()
        for each in (name, *_beside(name)):
            each.unlink(missing_ok=True)
    else:
        with connection.cursor() as cursor:
            cursor.execute("DROP SCHEMA public CASCADE")
            cursor.execute("CREATE SCHEMA public")


def _check(manifest: Manifest, heads: Sequence[HeadNote], progress: Progress) -> None:
    """The head of the database is that of the manifest, and the log is whole up to it."""
    call_command("migrate", verbosity=0, skip_checks=True)  # a backup of an older program
    head, note = head_now(), manifest.note
    if (head.size, head.root) != (note.size, note.root):
        raise DoesNotVerify("The database is not at the head that the manifest names.")
    within = [each for each in heads if each.size <= head.size]
    found = verify(within, progress=lambda at, all_: progress("checking the log", at, all_))
    if found:
        raise DoesNotVerify(f"{found[0].sentence} ({len(found)} findings)")


def _take_up(manifest: Manifest, orders: list[Any]) -> tuple[str, ...]:
    """Forget and dispose again, say in the log what happened, end all sessions, and wait for a signature."""
    with transaction.atomic(), opened():
        erased = tuple(carry_out_again([row for row in orders if isinstance(row, Erasure)]))
        disposed = dispose_again(row for row in orders if isinstance(row, KeptDisposal))
        for site in Site.objects.all():
            with door("audit.restored", by=None, site=site) as entry:
                entry.changed(
                    entries=manifest.note.size, hash=manifest.sha256, written_at=manifest.written_at,
                    erased=list(erased), disposed=disposed,
                )  # fmt: skip
        LogHead.objects.update(restore_unsigned=True)
        apps.get_model("sessions", "Session").objects.all().delete()
    if erased or disposed:
        wipe_free_space()
    return erased
