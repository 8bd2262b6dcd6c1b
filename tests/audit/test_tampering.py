"""Eleven ways of tampering with a log of 1,000 entries, heads kept at 700 and at 1,000.

Each is done as an owner of the file would: triggers dropped, rows changed, triggers put back. The
table says what the database shows by itself and what each head shows; what it cannot show is
asserted as well, for that is why heads have to be kept elsewhere.
"""

from __future__ import annotations

import json
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from records.audit import checker, heads, merkle, triggers
from records.audit.verifying import verify
from tests.audit.logs import new_log, sqlite_file, write_entries

OLD, NEW = 700, 1000
CHECKER = Path(checker.__file__)


@pytest.fixture(scope="module")
def whole_log(tmp_path_factory, django_db_blocker):
    """The log, and the notes written at 700 and at 1,000 entries."""
    folder = tmp_path_factory.mktemp("log")
    with django_db_blocker.unblock(), sqlite_file(folder / "db.sqlite3"):
        new_log()
        notes = {}
        for first, size in ((0, OLD), (OLD, NEW)):
            write_entries(size - first, first=first)
            notes[size] = heads.head_now()
            (folder / f"{size}.txt").write_text(notes[size].text)
    return folder, notes


@pytest.fixture
def copy(whole_log, tmp_path, django_db_blocker):
    shutil.copy(whole_log[0] / "db.sqlite3", tmp_path)
    with django_db_blocker.unblock():
        yield tmp_path / "db.sqlite3"


def rewrite(file, bodies: list[str]) -> None:
    """Everything worked out anew, with the columns and the erasable texts to match."""
    texts = {
        key: rest
        for key, *rest in file.execute(
            "SELECT e.entry_id, d.place, d.salt, d.value FROM records_audit_disclosed d "
            "JOIN records_audit_entry e ON e.seq = d.entry_id"
        )
    }
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
        if key in texts:
            file.execute(
                "INSERT INTO records_audit_disclosed (entry_id, place, salt, value) VALUES (?,?,?,?)",
                (seq, *texts[key]),
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


def other(text: str) -> str:
    """The same entry with another figure: still a proper body."""
    return text.replace('"number":', '"number":9')


def edit(file) -> None:
    (text,) = file.execute("SELECT body FROM records_audit_entry WHERE seq = 333").fetchone()
    file.execute("UPDATE records_audit_entry SET body = ? WHERE seq = 333", (other(text),))


def edit_with_leaf(file) -> None:
    edit(file)
    (text,) = file.execute("SELECT body FROM records_audit_entry WHERE seq = 333").fetchone()
    file.execute(
        "UPDATE records_audit_entry SET leaf = ? WHERE seq = 333",
        (merkle.leaf_hash(text.encode()),),
    )


def delete(file) -> None:
    file.execute("DELETE FROM records_audit_entry WHERE seq = 333")


def swap(file) -> None:
    for seq, into in ((10, 10**6), (11, 10), (10**6, 11)):
        file.execute("UPDATE records_audit_entry SET seq = ? WHERE seq = ?", (into, seq))
        file.execute(
            "UPDATE records_audit_disclosed SET entry_id = ? WHERE entry_id = ?", (into, seq)
        )


def cut(file) -> None:
    file.execute("DELETE FROM records_audit_entry WHERE seq >= 950")


def cut_and_rebuild(size: int):
    return lambda file: rewrite(file, bodies_of(file)[:size])


def edit_and_rebuild(seq: int):
    def tamper(file) -> None:
        bodies = bodies_of(file)
        rewrite(file, [*bodies[:seq], other(bodies[seq]), *bodies[seq + 1 :]])

    return tamper


def insert_and_rebuild(file) -> None:
    bodies = bodies_of(file)
    new = json.loads(bodies[333]) | {"id": "00000000-0000-4000-8000-000000000000", "why": ""}
    text = json.dumps(new, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    rewrite(file, [*bodies[:334], text, *bodies[334:]])


# What is done; kinds of finding in the database alone; seen by the head at 700, at 1,000.
TAMPERINGS = {
    "edit body of 333": (edit, {"leaf", "tile", "frontier"}, True, True),
    "edit body and its leaf": (edit_with_leaf, {"tile", "frontier"}, True, True),
    "delete 333": (delete, {"gap", "text"}, True, True),
    "swap 10 and 11": (swap, {"tile", "frontier"}, True, True),
    "cut the tail at 950": (cut, {"size", "text"}, False, True),
    "cut at 950, rebuild": (cut_and_rebuild(950), set(), False, True),
    "cut at 690, rebuild": (cut_and_rebuild(690), set(), True, True),
    "edit 333, rebuild all": (edit_and_rebuild(333), set(), True, True),
    "edit 800, rebuild all": (edit_and_rebuild(800), set(), False, True),
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
    with closing(sqlite3.connect(path)) as file:
        lines = bodies_of(file)
    exported = path.with_name("export.jsonl")
    exported.write_text("".join(f"{line}\n" for line in lines))
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
def test_what_is_seen_and_by_whom(copy, whole_log, kind):
    tamper, alone, by_old, by_new = TAMPERINGS[kind]
    folder, notes = whole_log
    tamper_with(copy, tamper)
    with sqlite_file(copy) as opened_file:
        assert triggers.missing_triggers(opened_file) == []
        assert {each.kind for each in verify()} == alone
        for size, seen in ((OLD, by_old), (NEW, by_new)):
            kinds = {each.kind for each in verify([notes[size]])}
            assert kinds == alone | ({"head"} if seen else set())
    exported = export(copy)
    for size, seen in ((OLD, by_old), (NEW, by_new)):
        code, lines = checked(exported, folder / f"{size}.txt")
        assert code == seen, lines
        assert lines[-1].startswith("FAIL" if seen else "OK")
        assert f"{size}.txt" in lines[-1]


def test_two_heads_say_between_which_entries_it_was(copy, whole_log):
    folder, _notes = whole_log
    tamper_with(copy, edit_and_rebuild(800))
    code, lines = checked(export(copy), folder / "1000.txt", folder / "700.txt")
    assert code == 1
    assert lines[0].startswith("OK")
    assert "among entries 700 to 999" in lines[1]


@pytest.mark.parametrize("kind", [name for name, row in TAMPERINGS.items() if row[1] != set()])
def test_no_tampering_gets_past_the_triggers(copy, kind):
    """The same acts, without dropping the triggers first."""
    with closing(sqlite3.connect(copy)) as file, pytest.raises(sqlite3.IntegrityError):
        TAMPERINGS[kind][0](file)
    with sqlite_file(copy):
        assert verify() == []


def test_the_untouched_log_holds(copy, whole_log):
    """The control."""
    folder, notes = whole_log
    with sqlite_file(copy):
        assert verify(notes.values()) == []
    code, lines = checked(export(copy), folder / "700.txt", folder / "1000.txt")
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
