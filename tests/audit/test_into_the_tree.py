"""A log from before the tree: its entries get bodies in their order, and nothing else changes."""

from __future__ import annotations

import uuid

import pytest
from django.core.management import call_command
from django.db.migrations.executor import MigrationExecutor

from records.audit.models import Disclosed, Entry, LogHead
from records.audit.verifying import verify
from tests.audit.logs import sqlite_file, write_entries
from tests.builders import NOW

COUNT = 600


@pytest.fixture
def old_log(tmp_path, django_db_blocker, settings):
    """600 entries in the tables as the first migration left them."""
    settings.MIGRATION_MODULES = {}
    with django_db_blocker.unblock(), sqlite_file(tmp_path / "db.sqlite3") as file:
        call_command("migrate", "records_audit", "0001", verbosity=0)
        apps = MigrationExecutor(file).loader.project_state(("records_audit", "0001_initial")).apps
        old = apps.get_model("records_audit", "Entry")
        old.objects.bulk_create(
            old(
                seq=seq, entry_id=uuid.UUID(int=seq), at=NOW, site="g", actor="someone", role="stores",
                act="stock.lot_held", obj=f"lot:{seq}", before={"used": {"L-1": "3"}},
                after={"what": "typed", "n": seq, "verdict": "held"}, why="wet" if seq % 2 else "",
                once=f"form-{seq}" if seq == 7 else None,
            )
            for seq in range(COUNT)
        )  # fmt: skip
        yield file, apps.get_model("records_audit", "LogHead")


def test_entries_of_before_grow_the_tree_in_order(old_log):
    _file, head = old_log
    head.objects.create(pk=1, size=COUNT)
    call_command("migrate", "records_audit", verbosity=0)
    assert verify() == []
    entry = Entry.objects.get(pk=7)
    assert (entry.entry_id, entry.at, entry.once) == (uuid.UUID(int=7), NOW, "form-7")
    assert (entry.before, entry.why) == ({"used": [["L-1", "3"]]}, "wet")
    assert entry.after == {"what": "typed", "n": 7, "verdict": "held"}
    assert Entry.objects.get(pk=8).why == ""
    assert "typed" not in entry.body
    assert Disclosed.objects.count() == COUNT + COUNT // 2
    assert LogHead.objects.get().size == COUNT
    write_entries(300, first=COUNT)
    assert verify() == []


@pytest.mark.parametrize("size", [COUNT - 1, COUNT + 1])
def test_a_log_that_is_not_whole_is_not_turned_into_a_tree(old_log, size):
    _file, head = old_log
    head.objects.create(pk=1, size=size)
    with pytest.raises(RuntimeError, match="The head says"):
        call_command("migrate", "records_audit", verbosity=0)


def test_a_log_with_a_gap_is_not_turned_into_a_tree(old_log):
    file, head = old_log
    head.objects.create(pk=1, size=COUNT)
    with file.cursor() as cursor:
        cursor.execute("DELETE FROM records_audit_entry WHERE seq = 5")
    with pytest.raises(RuntimeError, match="no entry 5"):
        call_command("migrate", "records_audit", verbosity=0)
