"""What the database refuses by itself, on both vendors, and what happens when a trigger is gone."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys

import pytest
from django.core.management import call_command
from django.db import IntegrityError, connection, models, transaction

from records.audit import triggers
from records.audit.models import Disclosed, Entry, LogHead, Tile
from records.audit.verifying import verify
from tests.audit.logs import PRAGMAS, new_log, sqlite_file, write_entries

E, T, D = triggers.ENTRY, triggers.TILE, triggers.DISCLOSED
COPY = (
    f"INTO {E} (seq, entry_id, at, site, actor, role, act, obj, body, leaf) "
    f"SELECT {{}}, '00000000000000000000000000000000', at, site, actor, role, act, obj, body, leaf "
    f"FROM {E} WHERE seq = 3"
)
COPY_TILE = f'INTO {T} (level, "index", root, data) SELECT level, "index", root, data FROM {T}'
COPY_TEXT = f"INTO {D} (entry_id, place, salt, value) SELECT entry_id, place, salt, 'x' FROM {D}"

REFUSED = {
    "entry changed": f"UPDATE {E} SET body = 'x' WHERE seq = 3",
    "column of the list changed": f"UPDATE {E} SET actor = 'x' WHERE seq = 3",
    "entry renumbered": f"UPDATE {E} SET seq = 100000 WHERE seq = 3",
    "entry removed": f"DELETE FROM {E} WHERE seq = 3",
    "number left out": f"INSERT {COPY.format(100000)}",
    "number taken": f"INSERT {COPY.format(3)}",
    "number below nought": f"INSERT {COPY.format(-1)}",
    "tile changed": f"UPDATE {T} SET root = data",
    "tile removed": f"DELETE FROM {T}",
    "tile written twice": f"INSERT {COPY_TILE}",
    "text changed": f"UPDATE {D} SET value = 'x'",
    "text told twice": f"INSERT {COPY_TEXT}",
}
ON_SQLITE = {
    "entry replaced": f"INSERT OR REPLACE {COPY.format(3)}",
    "entry updated by upsert": f"INSERT {COPY.format(3)} ON CONFLICT (seq) DO UPDATE SET obj = 'x'",
    "tile replaced": f"INSERT OR REPLACE {COPY_TILE}",
    "text replaced": f"INSERT OR REPLACE {COPY_TEXT}",
    "entry changed by UPDATE OR REPLACE": f"UPDATE OR REPLACE {E} SET seq = 4 WHERE seq = 3",
}
ON_POSTGRESQL = {f"{table} emptied": f"TRUNCATE {table} CASCADE" for table in triggers.TABLES}


@pytest.fixture
def log_of_300(db):
    write_entries(300)
    assert (Tile.objects.count(), Disclosed.objects.count()) == (1, 300)


def refused(statement: str) -> None:
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)
    assert verify() == []


@pytest.mark.parametrize("kind", REFUSED)
def test_the_database_refuses(log_of_300, kind):
    refused(REFUSED[kind])


@pytest.mark.parametrize("kind", ON_SQLITE)
def test_sqlite_refuses(log_of_300, kind):
    if connection.vendor != "sqlite":
        pytest.skip("a statement of SQLite")
    refused(ON_SQLITE[kind])


@pytest.mark.parametrize("kind", ON_POSTGRESQL)
def test_postgresql_refuses(log_of_300, kind):
    if connection.vendor != "postgresql":
        pytest.skip("a statement of PostgreSQL")
    refused(ON_POSTGRESQL[kind])


def test_the_statements_above_fail_for_no_other_reason(log_of_300):
    """The control: without triggers they go through, but for the keys that are taken."""
    triggers.drop_triggers(connection)
    for kind, statement in (REFUSED | (ON_SQLITE if connection.vendor == "sqlite" else {})).items():
        if kind in ("number taken", "number below nought", "tile written twice", "text told twice"):
            continue  # refused by a key or a check of the column as well
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement)
            transaction.set_rollback(True)


def test_a_text_may_be_erased_and_nothing_else(log_of_300):
    with connection.cursor() as cursor:
        cursor.execute(f"DELETE FROM {D} WHERE entry_id = 3")
    assert Disclosed.objects.count() == 299
    assert [(each.kind, each.seq) for each in verify()] == [("text", 3)]  # there is no order for it


def test_the_next_number_is_taken_and_changing_nothing_is_harmless(log_of_300):
    write_entries(3, first=300)
    with connection.cursor() as cursor:
        cursor.execute(f"UPDATE {E} SET obj = 'x' WHERE seq = 5000")
    assert (LogHead.objects.get().size, verify()) == (303, [])


def test_every_trigger_is_there_after_all_migrations(db):
    assert triggers.missing_triggers(connection) == []
    assert triggers.check_guarded(databases=["default"]) == []


@pytest.mark.parametrize(
    "trigger", triggers.TRIGGERS + triggers.NO_TRUNCATE, ids=lambda each: each.name
)
def test_a_missing_trigger_is_named_by_the_system_check(db, trigger):
    if trigger not in triggers.triggers_of(connection.vendor):
        pytest.skip("SQLite knows no TRUNCATE")
    on = "" if connection.vendor == "sqlite" else f" ON {trigger.table}"
    with connection.cursor() as cursor:
        cursor.execute(f"DROP TRIGGER {trigger.name}{on}")
    (found,) = triggers.check_guarded(databases=["default"])
    assert found.is_serious()
    assert trigger.name in found.msg
    triggers.make_triggers(connection)
    assert triggers.check_guarded(databases=["default"]) == []


def test_a_trigger_that_no_longer_refuses_is_as_good_as_missing(db):
    name = "log_entry_no_delete"
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute(f"DROP TRIGGER {name}")
            cursor.execute(f"CREATE TRIGGER {name} BEFORE DELETE ON {E} BEGIN SELECT 1; END")
        else:
            cursor.execute(f"ALTER TABLE {E} DISABLE TRIGGER {name}")
    assert triggers.missing_triggers(connection) == [name]


@pytest.fixture(scope="module")
def made_log(tmp_path_factory, django_db_blocker):
    path = tmp_path_factory.mktemp("log") / "db.sqlite3"
    with django_db_blocker.unblock(), sqlite_file(path):
        new_log()
        write_entries(5)
    return path


@pytest.fixture
def log_file(made_log, tmp_path, django_db_blocker):
    """A copy of a small log in the folder of the test."""
    shutil.copy(made_log, tmp_path / "db.sqlite3")
    with django_db_blocker.unblock():
        yield tmp_path / "db.sqlite3"


def test_a_migration_that_rebuilds_a_table_loses_triggers_and_migrate_makes_them_again(log_file):
    """The reason for the receiver of post_migrate, kept here so that it is noticed if it ends."""
    with sqlite_file(log_file) as opened_file:
        field = models.CharField(max_length=41)
        field.set_attributes_from_name("obj")
        field.model = Entry
        with opened_file.schema_editor() as editor:
            editor.alter_field(Entry, Entry._meta.get_field("obj"), field)
        assert set(triggers.missing_triggers(opened_file)) == {
            each.name for each in triggers.TRIGGERS if each.table == E
        }
        call_command("migrate", run_syncdb=True, verbosity=0)
        assert triggers.missing_triggers(opened_file) == []


@pytest.mark.parametrize(("pragma", "name"), [("journal_mode=DELETE", "journal_mode"),
                         ("synchronous=NORMAL", "synchronous"), ("recursive_triggers=OFF", "recursive")])  # fmt: skip
def test_settings_of_sqlite_that_did_not_take_are_found(log_file, pragma, name):
    with sqlite_file(log_file, f"{PRAGMAS};PRAGMA {pragma}"):
        (found,) = triggers.check_guarded(databases=["default"])
    assert name in found.msg


def started(folder) -> subprocess.CompletedProcess[str]:
    environment = {key: value for key, value in os.environ.items() if key != "DATABASE_URL"}
    return subprocess.run(
        [sys.executable, "-c", "import facility.project.wsgi"], capture_output=True, text=True,
        env={**environment, "CHARLINE_DATA": str(folder), "DJANGO_SETTINGS_MODULE": "tests.settings"},
        check=False,
    )  # fmt: skip


def test_the_server_does_not_start_without_a_trigger(log_file):
    assert started(log_file.parent).returncode == 0
    with sqlite3.connect(log_file) as file:
        file.execute("DROP TRIGGER log_tile_no_update")
    file.close()
    refusal = started(log_file.parent)
    assert refusal.returncode != 0
    assert "Not started" in refusal.stderr
    assert "log_tile_no_update" in refusal.stderr
