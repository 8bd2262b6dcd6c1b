"""Heads, proofs, the commands, and what an auditor does with them."""

from __future__ import annotations

import base64
import io
import json

import pytest
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext

from facility.guarded import DoorClosed, opened
from records.audit import checker, heads, merkle
from records.audit.erasing import erase_texts
from records.audit.models import Disclosed, Entry, Erasure, LogHead, Tile
from records.audit.notes import HeadNote, NotANote, read_note
from records.audit.verifying import verify
from records.inspections import services as inspections
from records.stock import services as stock
from tests import builders
from tests.audit.logs import write_entries
from tests.builders import NOW


def test_the_note_is_a_checkpoint_of_three_lines_and_a_time(db, settings):
    """Lines as C2SP tlog-checkpoint orders them: origin, size, root in base64."""
    write_entries(3)
    lines = heads.head_now().text.splitlines()
    leaves = [bytes(leaf) for leaf in Entry.objects.order_by("seq").values_list("leaf", flat=True)]
    root = base64.b64encode(merkle.root_of(leaves)).decode()
    assert lines[:3] == [settings.LOG_ORIGIN, "3", root]
    assert lines[3].startswith("written ")
    assert lines[3].endswith(" UTC")


def test_a_note_is_read_back(db):
    write_entries(2)
    note = heads.head_now()
    again = read_note(note.text)
    assert (again.origin, again.size, again.root) == (note.origin, note.size, note.root)


GOOD_ROOT = base64.b64encode(bytes(32)).decode()


@pytest.mark.parametrize(
    "text",
    ["", "x", "x\n1\n", f"\n1\n{GOOD_ROOT}\n", f"x\n-1\n{GOOD_ROOT}\n", f"x\n1.0\n{GOOD_ROOT}\n", f"x\n01\n{GOOD_ROOT}\n",
     f"x\n٣\n{GOOD_ROOT}\n", "x\n1\n!!!\n", "x\n1\nAAAA\n", "x\n1\né\n"],
)  # fmt: skip
def test_what_is_no_note_is_refused(text, tmp_path, capsys):
    with pytest.raises(NotANote):
        read_note(text)
    file = tmp_path / "head.txt"
    file.write_text(text)
    with pytest.raises(SystemExit) as stopped:
        call_command("verify_log", head=[str(file)])
    assert stopped.value.code == 1
    assert "FAIL" in capsys.readouterr().err


def test_an_empty_log_has_the_root_of_nothing(db):
    assert heads.head_now().root == merkle.EMPTY_ROOT
    assert verify([heads.head_now()]) == []


@pytest.mark.parametrize("size", [1, 2, 255, 256, 257, 600])
def test_proofs_from_what_is_stored_hold(db, size):
    write_entries(size)
    head = heads.head_now()
    leaves = [bytes(leaf) for leaf in Entry.objects.order_by("seq").values_list("leaf", flat=True)]
    for seq in {0, size // 2, size - 1}:
        proof = heads.inclusion(Entry.objects.get(pk=seq))
        assert merkle.includes(leaves[seq], seq, size, proof.path, head.root)
        grown = heads.consistency(seq + 1)
        old_root = merkle.root_of(leaves[: seq + 1])
        assert merkle.is_consistent(seq + 1, old_root, size, head.root, grown.path)
    for wrong in (0, size + 1):
        with pytest.raises(ValueError, match="no beginning"):
            heads.consistency(wrong)


def test_a_proof_reads_few_rows(db):
    write_entries(600)
    entry = Entry.objects.get(pk=3)
    with CaptureQueriesContext(connection) as asked:
        heads.inclusion(entry)
    assert len(asked) <= 6


@pytest.fixture
def proof_files(db, tmp_path):
    write_entries(20)
    proof, head = tmp_path / "proof.json", tmp_path / "head.txt"
    made = heads.inclusion(Entry.objects.get(pk=7))
    proof.write_text(json.dumps(made.as_json()))
    head.write_text(made.head.text)
    return proof, head


def asked(*arguments: object) -> int:
    return checker.main([str(each) for each in arguments])


def test_the_checker_checks_one_proof(proof_files, capsys):
    assert asked("--proof", *proof_files) == 0
    assert "entry 7 of 20" in capsys.readouterr().out


SPOILED_PROOFS = {
    "another body": lambda proof: proof | {"body": proof["body"].replace("7", "8")},
    "a neighbour": lambda proof: proof | {"index": 8},
    "one step short": lambda proof: proof | {"path": proof["path"][:-1]},
    "one step long": lambda proof: proof | {"path": [*proof["path"], "00" * 32]},
    "index is size": lambda proof: proof | {"index": 20},
    "index below nought": lambda proof: proof | {"index": -1},
    "another size": lambda proof: proof | {"size": 21},
    "another log": lambda proof: proof | {"origin": "elsewhere"},
    "size as text": lambda proof: proof | {"size": "20"},
    "half a hash": lambda proof: proof | {"path": [step[:32] for step in proof["path"]]},
    "no path": lambda proof: {key: value for key, value in proof.items() if key != "path"},
    "a list": lambda proof: [proof],
}


@pytest.mark.parametrize("kind", SPOILED_PROOFS)
def test_the_checker_refuses_a_spoiled_proof_in_one_line(proof_files, kind, capsys):
    proof, head = proof_files
    proof.write_text(json.dumps(SPOILED_PROOFS[kind](json.loads(proof.read_text()))))
    assert asked("--proof", proof, head) == 1
    (line,) = capsys.readouterr().out.splitlines()
    assert line.startswith("FAIL")


@pytest.fixture
def exported(db, tmp_path):
    write_entries(20)
    call_command("export_log", str(tmp_path / "log.jsonl"), stdout=io.StringIO())
    return tmp_path / "log.jsonl", tmp_path / "log.jsonl.head.txt"


def test_an_export_and_its_head_are_checked(exported, capsys):
    log, head = exported
    assert asked(*exported) == 0
    assert log.read_text().splitlines() == list(
        Entry.objects.order_by("seq").values_list("body", flat=True)
    )
    assert read_note(head.read_text()).size == 20
    call_command("verify_log", head=[str(head)])
    assert "OK 20 entries" in capsys.readouterr().out


SPOILED_EXPORTS = {
    "last line cut short": lambda text: text[:-2],
    "a line missing": lambda text: text.partition("\n")[2],
    "a line twice": lambda text: text + text.splitlines()[0] + "\n",
    "re-ordered": lambda text: "".join(sorted(text.splitlines(keepends=True))[::-1]),
    "printed prettily": lambda text: text.replace('":', '": '),
    "other line ends": lambda text: text.replace("\n", "\r\n"),
    "empty": lambda text: "",
    "re-encoded": lambda text: text.encode("utf-16").decode("latin-1"),
}


@pytest.mark.parametrize("kind", SPOILED_EXPORTS)
def test_the_checker_refuses_a_spoiled_export(exported, kind, capsys):
    log, head = exported
    log.write_bytes(SPOILED_EXPORTS[kind](log.read_text()).encode())
    assert asked(log, head) == 1
    assert "FAIL" in capsys.readouterr().out


def test_heads_of_another_log_larger_ones_and_no_heads_at_all_are_refused(exported, tmp_path):
    log, head = exported
    strange = tmp_path / "strange.txt"
    note = read_note(head.read_text())
    for other in (
        HeadNote("elsewhere", 20, note.root),
        HeadNote(note.origin, 21, note.root),
        HeadNote(note.origin, 20, bytes(32)),
    ):
        strange.write_text(other.text)
        assert asked(log, head, strange) == 1
        assert [each.kind for each in verify([other])] == ["head"]
        with pytest.raises(SystemExit):
            call_command("verify_log", head=[str(strange)])
    for arguments in ((), (log,), (log, tmp_path / "none.txt"), (tmp_path / "none", head)):
        assert asked(*arguments) == 1


def whole_log() -> str:
    """Every row of every table of the log, as text."""
    tables = [Entry, Disclosed, LogHead, Tile]
    return repr([list(table.objects.values_list()) for table in tables])


def test_what_people_typed_is_erasable_and_the_log_still_holds(ground, signed_in, tmp_path):
    secret = "the gate, seen by neighbour Example"
    inspections.stop_unit(
        ground.unit, place=secret, description="hinge torn", by=ground.safety, at=NOW
    )
    entry, page = Entry.objects.first(), signed_in(ground.auditor)
    assert entry.after["place"] == secret
    assert secret not in entry.body
    assert secret in page.get("/audit/").text
    with opened():
        order = Erasure(person="nobody", at=NOW, by="", basis="asked for")
        order.save()
        erase_texts(Disclosed.objects.filter(entry=entry, place="after.place"), order)
    assert secret not in whole_log()
    said = "erased on 2026-02-04 under: asked for"
    assert said in page.get("/audit/").text
    assert Entry.objects.first().after["place"] == said
    assert verify([heads.head_now()]) == []


def test_the_page_of_the_log_asks_once_for_all_texts(ground, signed_in):
    page = signed_in(ground.auditor)
    page.get("/audit/")
    with CaptureQueriesContext(connection) as asked:
        page.get("/audit/")
    assert len([each for each in asked if "records_audit_disclosed" in each["sql"]]) == 1


def test_only_these_places_of_a_whole_burn_are_erasable(ground):
    """Codes, figures and choices stay in the body; whatever a person typed is committed to.

    So is how long each person was exposed, which is told of persons.
    """
    lot = builders.accepted_lot(ground)
    builders.closed(ground)
    stock.hold_lot(lot, reason="wet corner", by=ground.stores, at=NOW)
    places = set(Disclosed.objects.values_list("entry__act", "place"))
    assert places == {
        ("ground.founded", "after.name"), ("ground.person_added", "after.course"),
        ("ground.bay_added", "after.name"), ("ground.unit_commissioned", "after.name"),
        ("ground.edition_drafted", "after.title"), ("ground.edition_adopted", "after.meaning"), ("stock.product_added", "after.name"),
        ("stock.delivery_received", "after.supplier"), ("stock.delivery_received", "after.docket"),
        ("stock.reading_recorded", "after.meter"), ("plans.plan_approved", "after.meaning"),
        ("stock.lot_held", "why"), ("stock.lot_accepted", "after.meaning"),
        ("stock.meter_added", "after.name"), ("stock.meter_added", "after.mark"),
        ("burns.burn_closed", "after.exposed"), ("burns.burn_closed", "after.meaning"),
    }  # fmt: skip
    bodies = "".join(Entry.objects.values_list("body", flat=True))
    for row in Disclosed.objects.all():
        assert json.loads(row.value)
        assert f":{row.value}" not in bodies


def test_progress_is_told_and_the_findings_end_at_the_limit(db):
    write_entries(600)
    told = []
    assert verify(progress=lambda done, size: told.append((done, size))) == []
    assert told == [(256, 600), (512, 600), (600, 600)]
    strange = [HeadNote("elsewhere", size, bytes(32)) for size in range(1, 50)]
    assert len(verify(strange, limit=7)) == 7


def test_tiles_and_frontier_are_what_the_entries_give(db):
    write_entries(513)
    tree = merkle.GrowingTree()
    full = [
        tile
        for leaf in Entry.objects.order_by("seq").values_list("leaf", flat=True)
        for tile in tree.add(bytes(leaf))
    ]
    kept = Tile.objects.order_by("level", "index").values_list("level", "index", "root", "data")
    assert [(a, b, bytes(c), bytes(d)) for a, b, c, d in kept] == [
        (tile.level, tile.index, tile.root, tile.data) for tile in full
    ]
    assert LogHead.objects.get().peaks == tree.peaks


def test_erasing_needs_the_door(db):
    write_entries(2)
    with pytest.raises(DoorClosed):
        Disclosed.objects.filter(entry=1).erase()
    with opened():
        assert Disclosed.objects.filter(entry=1).erase() == 1
    assert [entry.why for entry in Entry.objects.order_by("seq")] == [
        "reason 0", "missing, with no order to erase",
    ]  # fmt: skip
    assert [each.kind for each in verify()] == ["text"]
