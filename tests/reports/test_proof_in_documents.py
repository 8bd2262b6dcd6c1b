"""A signed document carries the proof of its signature, which the stand-alone checker takes."""

from __future__ import annotations

import io
import json
import subprocess
import sys

import pikepdf
import pytest

from records.audit import checker, heads
from records.audit.models import Entry
from tests.pages import Things


@pytest.fixture
def things(db) -> Things:
    return Things()


def attached(answer) -> dict[str, bytes]:
    with pikepdf.open(io.BytesIO(answer.content)) as document:
        return {name: each.get_file().read_bytes() for name, each in document.attachments.items()}


def judged(folder, proof: bytes) -> int:
    (folder / "proof.json").write_bytes(proof)
    run = subprocess.run(
        [sys.executable, "-I", "-S", checker.__file__, "--proof", "proof.json", "head.txt"],
        cwd=folder, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert run.stderr == ""
    return run.returncode


def test_the_proof_in_a_plan_holds_against_the_head_at_its_foot(things, signed_in, tmp_path):
    address = things.address("reports:plan_pdf")
    answer = signed_in(things.ground.auditor).get(address)
    (tmp_path / "head.txt").write_text(heads.head_now().text)
    proof = attached(answer)["proof.json"]
    told = json.loads(proof)
    said = json.loads(told["body"])
    assert (said["act"], said["obj"]) == ("plans.plan_approved", things.approved.named_in_log)
    assert judged(tmp_path, proof) == 0
    other = Entry.objects.get(seq=told["index"] - 1).body
    for wrong in ({"body": other}, {"index": told["index"] - 1}, {"path": told["path"][1:]}):
        assert judged(tmp_path, json.dumps(told | wrong).encode()) == 1


def test_a_plan_that_nobody_signed_carries_none(things, signed_in):
    address = things.address("reports:plan_pdf").replace(
        things.approved.public_id, things.draft.public_id
    )
    assert attached(signed_in(things.ground.auditor).get(address)) == {}
