"""Eleven ways of tampering with a copy of the demo ground's database, and what shows them.

Each is done as an owner of the file would: triggers dropped, rows changed, triggers put back. Two
heads were kept outside, an older one at seven tenths of the log and the newest. The table says
what the database shows by itself and what each head shows, to ``verify`` and to the stand-alone
checker; what it cannot show is asserted as well, for that is why heads have to be kept elsewhere.
"""

from __future__ import annotations

import json
import re
import shutil
import sqlite3
import subprocess
import sys
from collections import defaultdict
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import pytest

from records.audit import checker, heads, merkle, triggers
from records.audit.notes import HeadNote
from records.audit.verifying import verify
from tests.audit import demo_log
from tests.audit.logs import new_log, sqlite_file, write_entries

CHECKER = Path(checker.__file__)


@dataclass(frozen=True)
class Kept:
    """A log before anybody tampered, and the two heads that were kept elsewhere."""

    path: Path
    size: int
    old: HeadNote
    new: HeadNote

    @property
    def notes(self) -> dict[str, HeadNote]:
        return {"old.txt": self.old, "new.txt": self.new}


@pytest.fixture(scope="module")
def demo(tmp_path_factory) -> Kept:
    path = demo_log.demo_file(tmp_path_factory)
    bodies = bodies_in(path)
    size = len(bodies)
    old, new = (demo_log.head_at(bodies, each) for each in (size * 7 // 10, size))
    return Kept(path, size, old, new)


def tables_in(file: sqlite3.Connection) -> dict[str, dict[str, object]]:
    """Columns, keys, constraints and indexes by table, whatever the order they were made in."""
    made: dict[str, dict[str, object]] = {}
    for name, text in file.execute("SELECT name, sql FROM sqlite_master WHERE type = 'table'"):
        indexes = file.execute(
            "SELECT sql FROM sqlite_master WHERE type = 'index' AND tbl_name = ?", (name,)
        )
        made[name] = {
            "columns": {row[1]: row[2:] for row in file.execute(f'PRAGMA table_info("{name}")')},
            "keys": sorted(row[2:7] for row in file.execute(f'PRAGMA foreign_key_list("{name}")')),
            "constraints": sorted(re.findall(r'CONSTRAINT "\w+"[^,]*', text)),
            "indexes": sorted(sql for (sql,) in indexes if sql),
        }
    return made


def test_the_migrations_make_the_tables_of_the_models(demo, tmp_path, django_db_blocker):
    """The tests lay their tables straight from the models; the demo came by the migrations."""
    with django_db_blocker.unblock(), sqlite_file(tmp_path / "db.sqlite3"):
        new_log()
    with sqlite3.connect(tmp_path / "db.sqlite3") as new, sqlite3.connect(demo.path) as migrated:
        expected, found = tables_in(new), tables_in(migrated)
    assert set(found) - set(expected) == {"django_migrations"}
    assert {name: found[name] for name in expected} == expected
    new.close()
    migrated.close()


@pytest.fixture
def demo_copy(demo, tmp_path, django_db_blocker):
    """A copy of the demo's database with the notes beside it."""
    shutil.copy(demo.path, tmp_path / "db.sqlite3")
    for name, note in demo.notes.items():
        (tmp_path / name).write_text(note.text)
    with django_db_blocker.unblock():
        yield tmp_path / "db.sqlite3"


@pytest.fixture(scope="module")
def small_log(tmp_path_factory, django_db_blocker):
    """A log of 1,000 entries, each with one reason typed."""
    path = tmp_path_factory.mktemp("log") / "db.sqlite3"
    with django_db_blocker.unblock(), sqlite_file(path):
        new_log()
        write_entries(1000)
    return path


@pytest.fixture
def copy(small_log, tmp_path, django_db_blocker):
    shutil.copy(small_log, tmp_path / "db.sqlite3")
    with django_db_blocker.unblock():
        yield tmp_path / "db.sqlite3"


def rewrite(file, bodies: list[str]) -> None:
    """Everything worked out anew, with the columns and the erasable texts to match."""
    texts = defaultdict(list)
    for key, *text in file.execute(
        "SELECT e.entry_id, d.place, d.salt, d.value FROM records_audit_disclosed d "
        "JOIN records_audit_entry e ON e.seq = d.entry_id"
    ):
        texts[key].append(text)
    for table in triggers.TABLES:
        file.execute(f"DELETE FROM {table}")
    tree = merkle.GrowingTree()
    for seq, text in enumerate(bodies):
        body, leaf = json.loads(text), merkle.leaf_hash(text.encode())
        key, at = body["id"].replace("-", ""), body["at"].replace("T", " ").rstrip("Z")
        file.execute(
            "INSERT INTO records_audit_entry (seq, entry_id, at, site, actor, role, act, obj, once, "
            "body, leaf) VALUES (?,?,?,?,?,?,?,?,?,?,?)",
            (seq, key, at, *(body[name] for name in ("site", "actor", "role", "act", "obj")),
             body.get("once"), text, leaf),
        )  # fmt: skip
        file.executemany(
            "INSERT INTO records_audit_disclosed (entry_id, place, salt, value) VALUES (?,?,?,?)",
            [(seq, *text) for text in texts[key]],
        )
        for tile in tree.add(leaf):
            file.execute(
                'INSERT INTO records_audit_tile (level, "index", root, data) VALUES (?,?,?,?)',
                (tile.level, tile.index, tile.root, tile.data),
            )
    file.execute(
        "UPDATE records_audit_loghead SET size = ?, frontier = ?", (tree.size, b"".join(tree.peaks))
    )


def bodies_of(file) -> list[str]:
    return [row[0] for row in file.execute("SELECT body FROM records_audit_entry ORDER BY seq")]


def bodies_in(path: Path) -> list[str]:
    with closing(sqlite3.connect(path)) as file:
        return bodies_of(file)


def spelt(body: dict) -> str:
    return json.dumps(body, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def other(text: str) -> str:
    """The same entry with another figure: still a proper body."""
    body = json.loads(text)
    return spelt(body | {"after": body["after"] | {"version": 99}})


def third(file, size: int) -> int:
    """An entry a third of the way in, to which somebody typed a text."""
    read = "SELECT min(entry_id) FROM records_audit_disclosed WHERE entry_id >= ?"
    return file.execute(read, (size // 3,)).fetchone()[0]


def edit(file, size: int) -> int:
    seq = third(file, size)
    (text,) = file.execute("SELECT body FROM records_audit_entry WHERE seq = ?", (seq,)).fetchone()
    file.execute("UPDATE records_audit_entry SET body = ? WHERE seq = ?", (other(text), seq))
    return seq


def edit_with_leaf(file, size: int) -> None:
    seq = edit(file, size)
    (text,) = file.execute("SELECT body FROM records_audit_entry WHERE seq = ?", (seq,)).fetchone()
    leaf = merkle.leaf_hash(text.encode())
    file.execute("UPDATE records_audit_entry SET leaf = ? WHERE seq = ?", (leaf, seq))


def delete(file, size: int) -> None:
    file.execute("DELETE FROM records_audit_entry WHERE seq = ?", (third(file, size),))


def swap(file, _size: int) -> None:
    for seq, into in ((10, 10**6), (11, 10), (10**6, 11)):
        file.execute("UPDATE records_audit_entry SET seq = ? WHERE seq = ?", (into, seq))
        file.execute(
            "UPDATE records_audit_disclosed SET entry_id = ? WHERE entry_id = ?", (into, seq)
        )


def cut(file, size: int) -> None:
    file.execute("DELETE FROM records_audit_entry WHERE seq >= ?", (int(0.95 * size),))


def cut_and_rebuild(share: float):
    return lambda file, size: rewrite(file, bodies_of(file)[: int(share * size)])


def edit_and_rebuild(share: float):
    def tamper(file, size: int) -> None:
        bodies, seq = bodies_of(file), int(share * size)
        rewrite(file, [*bodies[:seq], other(bodies[seq]), *bodies[seq + 1 :]])

    return tamper


def insert_and_rebuild(file, size: int) -> None:
    bodies, seq = bodies_of(file), third(file, size)
    body = json.loads(bodies[seq])
    plain = {part: {} for part in ("before", "after")}
    new = body | plain | {"id": "00000000-0000-4000-8000-000000000000", "why": ""}
    new.pop("once", None)
    rewrite(file, [*bodies[: seq + 1], spelt(new), *bodies[seq + 1 :]])


# What is done; kinds of finding in the database alone; seen by the older head, by the newest.
TAMPERINGS = {
    "edit the body of an entry a third in": (edit, {"leaf", "tile", "frontier"}, True, True),
    "edit body and its leaf": (edit_with_leaf, {"tile", "frontier"}, True, True),
    "delete an entry a third in": (delete, {"gap", "text"}, True, True),
    "swap 10 and 11": (swap, {"tile", "frontier"}, True, True),
    "cut the tail at 95 %": (cut, {"size", "text"}, False, True),
    "cut at 95 %, rebuild": (cut_and_rebuild(0.95), set(), False, True),
    "cut at 69 %, rebuild": (cut_and_rebuild(0.69), set(), True, True),
    "edit a third in, rebuild all": (edit_and_rebuild(1 / 3), set(), True, True),
    "edit at 80 %, rebuild all": (edit_and_rebuild(0.8), set(), False, True),
    "insert in the middle, rebuild": (insert_and_rebuild, set(), True, True),
    "wipe, rebuild": (cut_and_rebuild(0), set(), True, True),
}


def tamper_with(path: Path, tamper) -> None:
    with closing(sqlite3.connect(path)) as file, file:
        held = file.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _sql in held:
            file.execute(f"DROP TRIGGER {name}")
        tamper(file)
        for _name, sql in held:
            file.execute(sql)


def export(path: Path) -> Path:
    exported = path.with_name("export.jsonl")
    exported.write_text("".join(f"{line}\n" for line in bodies_in(path)))
    return exported


def checked(*arguments: Path) -> tuple[int, list[str]]:
    """The checker as an auditor runs it: one file, an interpreter without any of our packages."""
    run = subprocess.run(
        [sys.executable, "-I", "-S", str(CHECKER), *map(str, arguments)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert run.stderr == ""
    return run.returncode, run.stdout.splitlines()


@pytest.mark.parametrize("kind", TAMPERINGS)
def test_what_is_seen_and_by_whom(demo, demo_copy, kind):
    tamper, alone, by_old, by_new = TAMPERINGS[kind]
    tamper_with(demo_copy, lambda file: tamper(file, demo.size))
    seen_by = {"old.txt": by_old, "new.txt": by_new}
    with sqlite_file(demo_copy) as opened_file:
        assert triggers.missing_triggers(opened_file) == []
        assert {each.kind for each in verify()} == alone
        for name, seen in seen_by.items():
            kinds = {each.kind for each in verify([demo.notes[name]])}
            assert kinds == alone | ({"head"} if seen else set())
    exported = export(demo_copy)
    for name, seen in seen_by.items():
        code, lines = checked(exported, demo_copy.with_name(name))
        assert code == seen, lines
        assert lines[-1].startswith("FAIL" if seen else "OK")
        assert name in lines[-1]


def test_two_heads_say_between_which_entries_it_was(demo, demo_copy):
    tamper_with(demo_copy, lambda file: edit_and_rebuild(0.8)(file, demo.size))
    notes = [demo_copy.with_name(name) for name in ("new.txt", "old.txt")]
    code, lines = checked(export(demo_copy), *notes)
    assert code == 1
    assert lines[0].startswith("OK")
    assert f"among entries {demo.old.size} to {demo.size - 1}" in lines[1]


@pytest.mark.parametrize("kind", [name for name, row in TAMPERINGS.items() if row[1] != set()])
def test_no_tampering_gets_past_the_triggers(demo, demo_copy, kind):
    """The same acts, without dropping the triggers first."""
    with closing(sqlite3.connect(demo_copy)) as file, pytest.raises(sqlite3.IntegrityError):
        TAMPERINGS[kind][0](file, demo.size)
    with sqlite_file(demo_copy):
        assert verify() == []


def test_the_untouched_log_holds(demo, demo_copy):
    """The control, and that the notes are those the program itself gives."""
    with sqlite_file(demo_copy):
        assert verify(demo.notes.values()) == []
        assert heads.head_now().checkpoint == demo.new.checkpoint
    code, lines = checked(export(demo_copy), *map(demo_copy.with_name, demo.notes))
    assert (code, [line[:2] for line in lines]) == (0, ["OK", "OK"])


COLUMNS = {
    "id": "0" * 32, "at": "2026-02-04 08:00:00.000001", "site": "x", "actor": "x", "role": "x",
    "act": "x", "obj": "x", "once": "x",
}  # fmt: skip


@pytest.mark.parametrize("column", COLUMNS)
def test_a_column_of_the_list_that_disagrees_with_the_body_is_found(copy, column):
    tamper_with(
        copy,
        lambda file: file.execute(
            f"UPDATE records_audit_entry SET {'entry_id' if column == 'id' else column} = ? WHERE seq = 333",
            (COLUMNS[column],),
        ),
    )
    with sqlite_file(copy):
        (found,) = verify()
    assert (found.kind, found.seq) == ("projection", 333)
    assert column in found.sentence


TEXTS = {
    "another text": "UPDATE records_audit_disclosed SET value = '\"x\"' WHERE entry_id = 333",
    "another salt": "UPDATE records_audit_disclosed SET salt = x'00' WHERE entry_id = 333",
    "another place": "UPDATE records_audit_disclosed SET place = 'after.x' WHERE entry_id = 333",
    "of another entry": "UPDATE records_audit_disclosed SET place = 'before.x', entry_id = 333 WHERE entry_id = 334",
}


@pytest.mark.parametrize("kind", TEXTS)
def test_a_text_that_is_not_the_one_committed_to_is_found(copy, kind):
    tamper_with(copy, lambda file: file.execute(TEXTS[kind]))
    with sqlite_file(copy):
        found = verify()
    assert {each.kind for each in found} == {"text"}
    assert found[0].seq == 333


@pytest.mark.parametrize("entry", [-1, 5000])
def test_a_text_of_no_entry_is_found(copy, entry):
    tamper_with(
        copy,
        lambda file: file.execute(
            "UPDATE records_audit_disclosed SET entry_id = ? WHERE entry_id = 333", (entry,)
        ),
    )
    with sqlite_file(copy):
        assert {each.kind for each in verify()} == {"text"}


def test_a_body_that_is_no_json_and_tiles_beyond_the_end_are_found(copy):
    def tamper(file):
        file.execute("UPDATE records_audit_entry SET body = '[1]' WHERE seq = 5")
        file.execute(
            'INSERT INTO records_audit_tile (level, "index", root, data) VALUES (0, 3, ?, ?), (1, 0, ?, ?)',
            (b"", b"", b"", b""),
        )

    tamper_with(copy, tamper)
    with sqlite_file(copy):
        found = [each.kind for each in verify()]
    assert found == ["leaf", "tile", "frontier", "tile", "tile", "body"]
