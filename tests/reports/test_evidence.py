"""What an auditor takes away is enough to check a unit's history elsewhere."""

from __future__ import annotations

import hashlib
import io
import subprocess
import sys
import zipfile

import pytest

from records.audit import checker
from records.audit.models import Entry
from records.audit.notes import read_note
from tests import builders


@pytest.fixture
def bundle(ground, other, signed_in, tmp_path, monkeypatch):
    """The bundle, unpacked; its document is made elsewhere."""
    monkeypatch.setattr(
        "records.reports.pdf.render_pdf", lambda *given, **more: b"%PDF-1.7 history"
    )
    builders.accepted_lot(ground)
    answer = signed_in(ground.auditor).get(f"/units/{ground.unit.public_id}/evidence.zip")
    assert answer.streaming
    with zipfile.ZipFile(io.BytesIO(answer.getvalue())) as opened_zip:
        assert opened_zip.testzip() is None
        opened_zip.extractall(tmp_path)
    return tmp_path


def run(folder, *arguments: str) -> tuple[int, str]:
    """As the readme says, with an interpreter without any of our packages."""
    done = subprocess.run(
        [sys.executable, "-I", "-S", "checker.py", *arguments],
        cwd=folder, capture_output=True, text=True, check=False,
    )  # fmt: skip
    return done.returncode, done.stdout + done.stderr


def test_the_log_in_it_passes_the_checker_in_it(bundle):
    code, said = run(bundle, "log.jsonl", "head.txt")
    assert code == 0, said
    assert "were withheld" in said
    assert read_note((bundle / "head.txt").read_text()).size == Entry.objects.count()


def test_entries_of_other_grounds_are_in_it_by_their_hash_alone(bundle, ground, other):
    lines = (bundle / "log.jsonl").read_text().splitlines()
    rows = Entry.objects.order_by("seq").values_list("site", "body", "leaf")
    assert len(lines) == len(rows)
    for line, (site, body, leaf) in zip(lines, rows, strict=True):
        ours = site == ground.site.public_id
        assert line == (body if ours else f'{{"leaf":"{bytes(leaf).hex()}"}}')
    assert other.site.public_id not in "".join(lines)


@pytest.mark.parametrize("kind", ["withheld changed", "ours withheld by another", "ours changed"])
def test_a_changed_line_is_seen(bundle, ground, kind):
    path = bundle / "log.jsonl"
    lines = path.read_text().splitlines()
    at = next(
        number for number, line in enumerate(lines)
        if line.startswith('{"leaf"') == (kind == "withheld changed")
    )  # fmt: skip
    lines[at] = {
        "withheld changed": f'{{"leaf":"{"0" * 64}"}}',
        "ours withheld by another": f'{{"leaf":"{"0" * 64}"}}',
        "ours changed": lines[at].replace('"v":2', '"v":1'),
    }[kind]
    path.write_text("".join(f"{line}\n" for line in lines))
    code, said = run(bundle, "log.jsonl", "head.txt")
    assert code == 1, said


def test_the_readme_names_the_hash_of_the_checker(bundle):
    digest = hashlib.sha256((bundle / "checker.py").read_bytes()).hexdigest()
    assert digest in (bundle / "README.txt").read_text()
    assert digest == checker.own_sha256()


def test_the_document_is_in_it(bundle):
    (document,) = bundle.glob("*.pdf")
    assert document.read_bytes().startswith(b"%PDF-1.7 history")
    assert document.name in (bundle / "README.txt").read_text()


def test_a_unit_of_another_ground_gives_nothing(ground, other, signed_in):
    address = f"/units/{other.unit.public_id}/evidence.zip"
    assert signed_in(ground.auditor).get(address).status_code == 404
