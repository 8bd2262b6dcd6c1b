"""Heads that leave the machine, checks that are kept, and what a failed one does."""

from __future__ import annotations

import io
import json
from pathlib import Path
from urllib.parse import urlencode

import pytest
from django.core import mail
from django.core.management import CommandError, call_command
from django.db import IntegrityError, connection, transaction
from django.template.loader import render_to_string

from facility.guarded import opened
from facility.refusals import ReadOnly
from facility.sites.models import Bay
from records.audit import checker, heads, triggers
from records.audit.models import Entry, HeadSent, LogHead, Verification
from records.audit.notes import HeadNote, read_note
from records.audit.qr import qr_code
from records.audit.services import check_log, sign_restore
from records.ground import services as ground_services
from tests import builders
from tests.asking import refuses
from tests.builders import NOW, PASSWORD

QUIET = {"stdout": io.StringIO()}


def spoil_entry(seq: int = 3) -> None:
    with connection.cursor() as cursor:
        triggers.drop_triggers(connection)
        cursor.execute("UPDATE records_audit_entry SET actor = 'someone' WHERE seq = %s", [seq])
        triggers.make_triggers(connection)


def mend_entry(actor: str, seq: int = 3) -> None:
    triggers.drop_triggers(connection)
    with connection.cursor() as cursor:
        cursor.execute("UPDATE records_audit_entry SET actor = %s WHERE seq = %s", [actor, seq])
    triggers.make_triggers(connection)


def test_a_check_is_kept_with_its_head_and_time(ground):
    call_command("verify_log", **QUIET)
    made, head = Verification.objects.get(), heads.head_now()
    assert (made.size, bytes(made.root), made.findings, made.heads) == (head.size, head.root, 0, 0)
    assert made.word == "check_passed"


def test_after_a_failed_check_nothing_is_recorded_until_one_passes(ground, signed_in):
    actor = Entry.objects.get(pk=3).actor
    spoil_entry()
    with pytest.raises(SystemExit):
        call_command("verify_log", **QUIET)
    assert Verification.objects.first().first.startswith("Entry 3: actor in the list")
    with refuses(ReadOnly):
        ground_services.add_bay(ground.site, name="Bay 2", by=ground.stores, at=NOW)
    with refuses(ReadOnly):  # a role that does not cover it gets no other answer
        ground_services.add_bay(ground.site, name="Bay 2", by=ground.auditor, at=NOW)
    page = signed_in(ground.stores)
    answer = page.post("/choose-units/", {"units": "US"})
    assert answer.status_code == 503
    assert "did not pass its newest check" in answer.text
    for address in ("/", "/store/", "/people/"):
        assert "Nothing can be recorded now." in page.get(address).text
    mend_entry(actor)
    call_command("verify_log", **QUIET)
    ground_services.add_bay(ground.site, name="Bay 2", by=ground.stores, at=NOW)
    assert "Nothing can be recorded now." not in page.get("/").text


def test_one_can_still_sign_in_to_read(ground, client):
    with opened():
        LogHead.objects.update(check_failed=True)
    given = {"sign_in": ground.auditor.sign_in, "password": PASSWORD}
    assert client.post("/sign-in/", given).status_code == 302
    assert Entry.objects.first().act == "people.signed_in"
    assert client.get("/audit/").status_code == 200


def test_a_form_keeps_what_was_typed_while_nothing_is_recorded(ground, signed_in):
    with opened():
        LogHead.objects.update(check_failed=True)
    data = {"place": "door of bay two", "description": "hinge", "once": "k"}
    answer = signed_in(ground.safety).post(f"/units/{ground.unit.public_id}/stop/", data)
    assert answer.status_code == 503
    assert "door of bay two" in answer.text


def test_a_failed_check_is_not_signed_away(ground):
    with opened():
        LogHead.objects.update(check_failed=True, restore_unsigned=True)
    with refuses(ReadOnly):
        sign_restore(ground.site, checked="x", by=ground.manager)


def test_a_note_of_another_log_is_an_error_and_no_failed_check(ground, tmp_path, capsys):
    note = tmp_path / "note.txt"
    note.write_text(HeadNote("elsewhere", 1, bytes(32)).text)
    with pytest.raises(SystemExit):
        call_command("verify_log", head=[str(note)])
    assert "another log" in capsys.readouterr().err
    assert not Verification.objects.exists()


@pytest.mark.parametrize(
    ("role", "shown"),
    [
        ("auditor", True),
        ("manager", True),
        ("admin", True),
        ("stores", False),
        ("inspector", False),
    ],
)
def test_the_day_sheet_says_when_the_log_was_last_checked(ground, signed_in, role, shown):
    page = signed_in(ground.cast[role])
    assert ("never checked" in page.get("/").text) == shown
    check_log()
    text = page.get("/").text
    assert "never checked" not in text
    assert ("nothing wrong" in text) == shown
    assert ("held to no head from outside" in text) == shown


def test_the_head_goes_out_by_mail_and_that_is_kept(ground, settings):
    settings.HEAD_RECIPIENTS = ["auditor@example.org", "box@example.org"]
    call_command("mail_head", **QUIET)
    (sent,) = mail.outbox
    head = heads.head_now()
    assert sent.to == settings.HEAD_RECIPIENTS
    assert read_note(sent.body).checkpoint == head.checkpoint
    assert "never been checked" in sent.body
    kept = HeadSent.objects.get()
    assert (kept.size, bytes(kept.root), kept.recipients) == (head.size, head.root, 2)
    check_log()
    call_command("mail_head", **QUIET)
    assert "found nothing wrong" in mail.outbox[-1].body


def test_with_nobody_to_send_to_nothing_is_said_to_be_sent(ground, settings):
    settings.HEAD_RECIPIENTS = []
    with pytest.raises(CommandError, match="Nobody to send to") as caught:
        call_command("mail_head", **QUIET)
    assert caught.value.returncode == 2
    assert not HeadSent.objects.exists()


def typed(note: HeadNote) -> str:
    return f"/audit/heads/?{urlencode({'note': note.text})}"


def test_a_head_typed_in_is_answered(ground, signed_in):
    page, old = signed_in(ground.auditor), heads.head_now()
    builders.accepted_lot(ground)
    now = heads.head_now()
    assert "is the beginning of" in page.get(typed(old)).text
    assert "is the beginning of" in page.get(typed(now)).text
    zero = HeadNote(old.origin, 0, checker.root_of([]))
    assert "is the beginning of" in page.get(typed(zero)).text
    wrong = {
        "another log": HeadNote("elsewhere", old.size, old.root),
        "cut off": HeadNote(now.origin, now.size + 1, now.root),
        "does not hold": HeadNote(now.origin, old.size, now.root),
        "was changed": HeadNote(now.origin, now.size, old.root),
        "or the head was mistyped": HeadNote(now.origin, 0, now.root),
    }
    for words, note in wrong.items():
        text = page.get(typed(note)).text
        assert words in text
        assert "is the beginning of" not in text


@pytest.mark.parametrize("text", ["", "x", "x\n1\nnot base64", "a\n-1\nAAAA", "x" * 1001])
def test_what_is_no_head_is_refused_and_stays_on_the_page(ground, signed_in, text):
    answer = signed_in(ground.auditor).get(f"/audit/heads/?{urlencode({'note': text})}")
    assert answer.status_code == 400
    assert answer.context["form"].errors


def test_heads_that_were_sent_are_held_to_the_log_of_now(ground, signed_in, settings):
    settings.HEAD_RECIPIENTS = ["auditor@example.org"]
    call_command("mail_head", **QUIET)
    builders.accepted_lot(ground)
    with opened():
        HeadSent(at=NOW, size=5, root=bytes(32), recipients=1).save()
    sent = signed_in(ground.auditor).get("/audit/heads/").context["head_rows"]
    assert [answer.holds for _note, answer in sent] == [False, True]


def test_a_proof_from_the_page_passes_the_checker(ground, signed_in, tmp_path, capsys):
    page = signed_in(ground.auditor)
    seq = Entry.objects.count() - 4
    proof, head, script = tmp_path / "proof.json", tmp_path / "head.txt", tmp_path / "checker.py"
    answer = page.get(f"/audit/{seq}/proof.json")
    proof.write_bytes(answer.content)
    head.write_bytes(page.get("/audit/head.txt").content)
    script.write_bytes(page.get("/audit/checker.py").content)
    assert "attachment" in answer["Content-Disposition"]
    assert f"/audit/{seq}/proof.json" in page.get("/audit/").text
    assert checker.main(["--proof", str(proof), str(head)]) == 0
    assert f"entry {seq} of" in capsys.readouterr().out
    assert script.read_bytes() == Path(checker.__file__).read_bytes()


def test_an_entry_of_another_ground_has_no_proof_here(ground, other, signed_in):
    seq = Entry.objects.filter(site=other.site.public_id).first().seq
    page = signed_in(ground.auditor)
    assert page.get(f"/audit/{seq}/proof.json").status_code == 404
    assert page.get("/audit/999999/proof.json").status_code == 404


def test_a_consistency_proof_leads_from_the_old_root_to_the_new(ground, signed_in):
    old = heads.head_now()
    builders.accepted_lot(ground)
    told = json.loads(
        signed_in(ground.admin).get(f"/audit/consistency.json?size={old.size}").content
    )
    path = [bytes.fromhex(step) for step in told["path"]]
    new = heads.head_now()
    assert heads.merkle.is_consistent(old.size, old.root, told["size"], new.root, path)


@pytest.mark.parametrize("size", ["", "0", "-1", "x", "1.5", "99999", "9" * 400, "٣"])
def test_no_proof_for_a_size_that_never_was(ground, signed_in, size):
    answer = signed_in(ground.auditor).get(f"/audit/consistency.json?{urlencode({'size': size})}")
    assert answer.status_code == 400


@pytest.mark.parametrize("name", ["unit_history_pdf", "plan_pdf", "burn_pdf"])
def test_every_document_carries_the_head_and_its_code(ground, signed_in, monkeypatch, name):
    builders.accepted_lot(ground)
    burn = builders.closed(ground)
    thing = {"plan_pdf": burn.version.plan, "burn_pdf": burn}.get(name, ground.unit)
    folder = {"plan_pdf": "plans", "burn_pdf": "burns"}.get(name, "units")
    file = {"plan_pdf": "plan", "burn_pdf": "burn"}.get(name, "history")
    seen = {}

    def render(template, context):
        seen["html"] = render_to_string(template, context)
        return b"%PDF"

    monkeypatch.setattr("records.reports.pdf.render_pdf", render)
    assert (
        signed_in(ground.manager).get(f"/{folder}/{thing.public_id}/{file}.pdf").status_code == 200
    )
    head = heads.head_now()
    for part in (head.origin, f"{head.size} entries", head.root_text, "UTC", 'class="qr"'):
        assert part in seen["html"]
    assert qr_code(head) in seen["html"]


def test_nothing_known_about_the_log_can_be_changed(ground):
    check_log()
    assert Bay.objects.exists()
    for change in (
        "UPDATE records_audit_verification SET findings = 0",
        "DELETE FROM records_audit_verification",
    ):
        with (
            pytest.raises(IntegrityError, match="append-only"),
            transaction.atomic(), connection.cursor() as cursor,
        ):  # fmt: skip
            cursor.execute(change)
