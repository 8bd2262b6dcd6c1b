"""A backup under work, put back: whole, checked, made to forget, and signed for."""

from __future__ import annotations

import io
import json
import shutil
import sqlite3
import threading
import zipfile
from contextlib import closing
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from facility.people.models import Person
from facility.refusals import NotAllowed, ReadOnly, WrongState
from facility.sites.models import Site
from records.accounts.signing_in import note_sign_in
from records.audit import backups, heads, services
from records.audit.models import Entry, LogHead
from records.audit.notes import HeadNote
from records.audit.verifying import verify
from records.ground import services as ground_services
from tests.audit.files import NAME, build, ground_file


@pytest.fixture(scope="module")
def made(tmp_path_factory, django_db_blocker) -> Path:
    """A folder with a ground in it, and a backup of it."""
    folder = tmp_path_factory.mktemp("ground")
    with django_db_blocker.unblock(), ground_file(folder):
        build(folder)
        call_command(
            "backup", str(folder / "backup.zip"), stdout=io.StringIO(), stderr=io.StringIO()
        )
        (folder / "head.txt").write_text(heads.head_now().text)
    return folder


@pytest.fixture
def place(tmp_path, django_db_blocker):
    """Inside it there is no database yet."""
    with django_db_blocker.unblock(), ground_file(tmp_path):
        yield tmp_path


def restored(place: Path, backup: Path, **options) -> str:
    said = io.StringIO()
    call_command("restore", str(backup), stdout=said, stderr=io.StringIO(), **options)
    return said.getvalue()


def refused(place: Path, backup: Path, name: str, **options) -> str:
    """It is refused by this name with exit code 2, and the place is as empty as it was."""
    with pytest.raises(CommandError) as caught:
        restored(place, backup, **options)
    assert caught.value.returncode == 2
    assert str(caught.value).startswith(name), caught.value
    with closing(sqlite3.connect(place / NAME)) as file:
        assert file.execute("SELECT count(*) FROM sqlite_master").fetchone() == (0,)
    return str(caught.value)


def test_the_manifest_says_what_is_in_the_backup(made, settings):
    with zipfile.ZipFile(made / "backup.zip") as bundle:
        told = json.loads(bundle.read("manifest.json"))
        assert bundle.testzip() is None
        assert len(bundle.read(told["file"])) == told["bytes"]
    assert told["head"].splitlines()[:3] == (made / "head.txt").read_text().splitlines()[:3]
    assert (told["version"], told["format"]) == (settings.VERSION, 1)
    assert (made / "backup.zip").stat().st_mode & 0o077 == 0


def test_a_backup_comes_back_whole_and_waits_for_a_signature(made, place):
    said = restored(place, made / "backup.zip", head=[str(made / "head.txt")])
    before = backups.read_note((made / "head.txt").read_text())
    assert f"{before.size} entries are back" in said
    assert verify([before]) == []
    newest, manager = Entry.objects.first(), Person.objects.get(sign_in="test-manager")
    assert (newest.act, newest.actor, newest.role) == ("audit.restored", "", "program")
    assert newest.after["entries"] == before.size
    site = Site.objects.get()
    with pytest.raises(ReadOnly):
        ground_services.add_bay(site, name="Bay 2", by=Person.objects.get(sign_in="test-stores"))
    note_sign_in(manager, at=timezone.now())
    services.sign_restore(site, checked="the mailed head", by=manager)
    assert Entry.objects.first().act == "audit.restore_signed"
    ground_services.add_bay(site, name="Bay 2", by=Person.objects.get(sign_in="test-stores"))
    with pytest.raises(WrongState):
        services.sign_restore(site, checked="again", by=manager)


def test_only_a_manager_or_administrator_signs_for_it(made, place):
    restored(place, made / "backup.zip")
    with pytest.raises((NotAllowed, ReadOnly)):
        services.sign_restore(
            Site.objects.get(), checked="x", by=Person.objects.get(sign_in="test-auditor")
        )
    assert LogHead.objects.get().restore_unsigned


def spoiled(backup: Path, into: Path, kind: str) -> Path:
    path = into / "spoiled.zip"
    if kind == "cut short":
        path.write_bytes(backup.read_bytes()[:-5000])
    elif kind == "not a zip":
        path.write_bytes(b"nothing of the kind" * 100)
    elif kind == "empty":
        path.write_bytes(b"")
    else:
        with zipfile.ZipFile(backup) as old, zipfile.ZipFile(path, "w") as new:
            told = json.loads(old.read("manifest.json"))
            data = bytearray(old.read(told["file"]))
            CHANGES[kind](told, data)
            if kind != "no database":
                new.writestr(told.get("file", "x"), bytes(data))
            if kind != "no manifest":
                new.writestr("manifest.json", json.dumps(told))
    return path


def other_head(told, _data) -> None:
    origin, size, _root, *_rest = told["head"].splitlines()
    told["head"] = HeadNote(origin, int(size), bytes(32)).text


CHANGES = {
    "one byte of the database": lambda told, data: data.__setitem__(5000, data[5000] ^ 1),
    "hash of something else": lambda told, data: told.update(sha256="0" * 64),
    "head of something else": other_head,
    "another origin": lambda told, data: told.update(
        head=told["head"].replace(told["head"].splitlines()[0], "elsewhere/log")
    ),
    "no head": lambda told, data: told.update(head="nothing"),
    "another format": lambda told, data: told.update(format=2),
    "a path for a file": lambda told, data: told.update(file="../../etc/x"),
    "PostgreSQL's": lambda told, data: told.update(file="database.dump"),
    "a field too many": lambda told, data: told.update(more=1),
    "no manifest": lambda told, data: None,
    "no database": lambda told, data: None,
}
REFUSALS = {
    "cut short": "NotABackup", "not a zip": "NotABackup", "empty": "NotABackup",
    "one byte of the database": "WrongHash", "hash of something else": "WrongHash",
    "head of something else": "DoesNotVerify", "another origin": "OtherOrigin",
    "no head": "NotABackup", "another format": "NotABackup", "a path for a file": "NotABackup",
    "PostgreSQL's": "NotABackup", "a field too many": "NotABackup", "no manifest": "NotABackup",
    "no database": "NotABackup",
}  # fmt: skip


@pytest.mark.parametrize("kind", REFUSALS)
def test_a_spoiled_backup_is_refused_by_name(made, place, kind):
    refused(place, spoiled(made / "backup.zip", place, kind), REFUSALS[kind])


def test_no_such_file_is_refused(made, place):
    refused(place, place / "nowhere.zip", "NotABackup")


def tampered(made: Path, into: Path) -> Path:
    """A backup of a log that somebody had edited: its manifest fits it."""
    copy = into / "tampered.sqlite3"
    with zipfile.ZipFile(made / "backup.zip") as old:
        told = json.loads(old.read("manifest.json"))
        copy.write_bytes(old.read(told["file"]))
    with closing(sqlite3.connect(copy)) as file, file:
        for (name,) in file.execute(
            "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        ).fetchall():
            file.execute(f"DROP TRIGGER {name}")
        file.execute("UPDATE records_audit_entry SET body = replace(body, '1', '2') WHERE seq = 9")
    described = backups._described(copy, backups.read_note(told["head"]))
    path = into / "tampered.zip"
    with zipfile.ZipFile(path, "w") as new:
        new.write(copy, told["file"])
        new.writestr(
            "manifest.json",
            json.dumps(told | {"sha256": described.sha256, "bytes": described.bytes}),
        )
    return path


def test_a_log_that_was_edited_before_the_backup_is_refused(made, place):
    assert "Entry 9" in refused(place, tampered(made, place), "DoesNotVerify")


def newer_head(made: Path, place: Path, more: int, root: bytes = bytes(32)) -> str:
    note = backups.read_note((made / "head.txt").read_text())
    file = place / "newer.txt"
    file.write_text(HeadNote(note.origin, note.size + more, root).text)
    return str(file)


def test_a_backup_older_than_a_head_kept_outside_is_refused_unless_the_loss_is_accepted(
    made, place
):
    newer = newer_head(made, place, 5)
    said = refused(place, made / "backup.zip", "OlderThanKnown", head=[newer])
    assert "5 are not in it" in said
    restored(place, made / "backup.zip", head=[newer], accept_loss=True)
    assert LogHead.objects.get().restore_unsigned


def test_a_head_that_does_not_hold_is_refused(made, place):
    wrong = newer_head(made, place, -3)
    refused(place, made / "backup.zip", "DoesNotVerify", head=[wrong])


def test_a_place_with_something_in_it_is_not_touched(made, place):
    shutil.copy(made / NAME, place / NAME)
    with pytest.raises(CommandError, match="NotEmpty") as caught:
        restored(place, made / "backup.zip")
    assert caught.value.returncode == 2
    assert (place / NAME).read_bytes() == (made / NAME).read_bytes()


def test_a_backup_overwrites_nothing(made, place):
    (place / "there.zip").write_text("mine")
    with pytest.raises(CommandError, match="NotEmpty"):
        call_command("backup", str(place / "there.zip"))
    assert (place / "there.zip").read_text() == "mine"


def test_a_backup_under_work_is_of_one_moment(made, place):
    """Another connection writes all the while; the copy is whole and at its own head."""
    shutil.copy(made / NAME, place / NAME)
    stop = threading.Event()

    def write() -> None:
        with closing(sqlite3.connect(place / NAME, timeout=20)) as file:
            while not stop.is_set():
                with file:
                    file.execute("INSERT INTO django_session VALUES (hex(randomblob(16)), 'x', '')")

    writer = threading.Thread(target=write)
    writer.start()
    try:
        made_now = backups.write_backup(place / "b.zip", lambda *told: None)
    finally:
        stop.set()
        writer.join()
    with zipfile.ZipFile(place / "b.zip") as bundle:
        bundle.extract(made_now.file, place)
    with closing(sqlite3.connect(place / made_now.file)) as copy:
        assert copy.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert copy.execute(backups.HEAD_QUERY).fetchone()[0] == made_now.note.size
