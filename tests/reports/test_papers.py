"""A long history is asked for, made by the worker in pieces, kept for a while, and handed out."""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import shutil
import subprocess
import zipfile

import pikepdf
import pytest
from django.core.management import call_command
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from facility.guarded import opened
from facility.refusals import AlreadyDone, NotAllowed, WrongState, WrongValue
from records.audit.models import Entry
from records.reports import long_history, papers
from records.reports.models import Paper, PaperProgress
from records.reports.services import ask_for_history
from records.reports.tasks import make_paper
from tests import builders
from tests.asking import actor, refused_roles, refuses

DAY = dt.timedelta(days=1)


@pytest.fixture(autouse=True)
def folder(settings, tmp_path):
    settings.PAPERS_DIR = tmp_path / "papers"
    return settings.PAPERS_DIR


def today():
    return timezone.now().date()


def asked(ground, **changes):
    given = {"size": "a4", "by": ground.auditor, **changes}
    with opened():
        ground.unit.commissioned_on = today() - 800 * DAY
        ground.unit.save()
    return ask_for_history(ground.unit, today() - 700 * DAY, today(), **given)


def refreshed(paper) -> Paper:
    return papers.paper_here(paper.site, paper.public_id)


def stands(paper, now=None):
    return papers.standing(refreshed(paper), now or timezone.now())


def in_this_process(monkeypatch):
    """Lay out here, one piece after the other: a second process knows nothing of this test."""

    class Here:
        def __enter__(self):
            return self

        def __exit__(self, *_given):
            return None

        def submit(self, work, html):
            from concurrent.futures import Future

            done = Future()
            done.set_result(work(html))
            return done

        def map(self, work, several):
            return map(work, several)

    monkeypatch.setattr(long_history, "_two_processes", Here)


# -- asked for -----------------------------------------------------------------------------------


def test_asking_makes_one_entry_and_one_task(ground, log):
    log.mark()
    paper = asked(ground)
    assert log.acts == ["reports.paper_asked"]
    assert DBTaskResult.objects.get().args_kwargs["args"] == [paper.public_id]
    assert stands(paper).word == papers.WAITING


@pytest.mark.parametrize("role", refused_roles("reports.paper_asked"))
def test_who_may_not_read_exports_may_not_ask(ground, role):
    with refuses(NotAllowed, logged=["audit.refused"]):
        ask_for_history(ground.unit, today(), today(), size="a4", by=actor(ground, role))
    assert not DBTaskResult.objects.exists()


def test_the_same_document_is_not_made_twice_at_once(ground):
    first = asked(ground)
    with pytest.raises(AlreadyDone) as done:
        asked(ground)
    assert done.value.public_id == first.public_id
    assert asked(ground, size="letter") != first


def test_a_queue_has_an_end(ground, monkeypatch):
    monkeypatch.setattr("records.reports.services.MOST_WAITING", 1)
    asked(ground)
    with refuses(WrongState):
        ask_for_history(ground.unit, today(), today(), size="a4", by=ground.auditor)


@pytest.mark.parametrize(
    ("start", "end", "size", "field"),
    [
        (0, -1, "a4", "end"), (0, 0, "a5", "paper"), (-4000, 0, "a4", "start"),
        (0, 400, "a4", "start"),
    ],
)  # fmt: skip
def test_a_period_or_sheet_that_cannot_be_is_refused(ground, start, end, size, field):
    with refuses(WrongValue, field):
        ask_for_history(
            ground.unit, today() + start * DAY, today() + end * DAY, size=size, by=ground.manager
        )


# -- waiting: the page is honest -------------------------------------------------------------------


def test_without_a_worker_the_page_says_that_nothing_starts(ground, signed_in):
    paper = asked(ground)
    assert "nothing has started" not in stands(paper).sentence
    late = stands(paper, paper.asked_at + 2.5 * dt.timedelta(minutes=1))
    assert "nothing has started for 2 min" in late.sentence
    assert "db_worker" in late.sentence
    page = signed_in(ground.auditor).get(f"/papers/{paper.public_id}/").text
    assert 'hx-trigger="every 2s"' in page


def test_behind_another_one_it_waits_for_its_turn(ground):
    first, second = asked(ground), asked(ground, size="letter")
    now = timezone.now()
    PaperProgress.objects.create(paper=first, started_at=now, seen_at=now, done=1, pieces=4)
    assert stands(first).sentence == "1 of 4 pieces are done."
    later = now + dt.timedelta(seconds=100)
    assert "its turn" in stands(second, later).sentence


def test_a_worker_that_fell_silent_is_told_and_the_document_may_be_asked_for_again(ground):
    paper = asked(ground)
    then = timezone.now() - dt.timedelta(minutes=5)
    PaperProgress.objects.create(paper=paper, started_at=then, seen_at=then, done=1, pieces=4)
    assert stands(paper).word == papers.SILENT
    assert asked(ground) != paper


def test_the_polled_part_is_no_whole_page(ground, signed_in):
    paper = asked(ground)
    part = signed_in(ground.auditor).get(
        f"/papers/{paper.public_id}/", headers={"HX-Request": "true"}
    )
    assert part.text.lstrip().startswith('<div id="paper"')
    assert "<html" not in part.text


# -- made ------------------------------------------------------------------------------------------


@pytest.fixture
def made(ground, monkeypatch):
    in_this_process(monkeypatch)
    builders.accepted_lot(ground)
    builders.closed(ground)
    paper = asked(ground)
    make_paper.call(paper.public_id)
    return refreshed(paper)


def test_the_made_document_is_kept_with_its_hash_and_head_in_the_log(ground, made, folder):
    document = (folder / f"{made.public_id}.pdf").read_bytes()
    assert hashlib.sha256(document).hexdigest() == made.sha256
    entry = Entry.objects.get(act="reports.paper_made")
    assert entry.obj == made.named_in_log
    assert made.sha256 in entry.body
    head = papers.head_of(made)
    assert head.size == entry.seq  # the entries before this one: it was the next to be written
    assert (folder / f"{made.public_id}.pdf").stat().st_mode & 0o077 == 0
    assert made.progress.done == made.progress.pieces > 2


def test_pages_are_numbered_through_and_stand_where_the_contents_say(made, folder):
    with pikepdf.open(folder / f"{made.public_id}.pdf") as pdf, pdf.open_outline() as outline:
        assert len(pdf.pages) == made.pages
        titles = [item.title for item in outline.root]
        assert titles[:2] == ["Summary", "Inspections, defects, repairs, returns to service"]
        assert any(title.startswith("Burns in") for title in titles)
    if not shutil.which("pdftotext"):
        pytest.skip("no pdftotext to read the page numbers with")
    text = subprocess.run(
        ["pdftotext", "-layout", folder / f"{made.public_id}.pdf", "-"],
        capture_output=True, text=True, check=True,
    ).stdout  # fmt: skip
    pages = text.split("\f")[: made.pages]
    for number, page in enumerate(pages, 1):
        assert f"page {number} of {made.pages}" in page
        assert papers.head_of(made).root_text in page
        assert "Unit 1" in page  # the running head
    contents = dict(
        line.rsplit(maxsplit=1) for line in pages[0].splitlines() if "Burns in" in line
        and line.split()[-1].isdigit() and line.strip().count(" ") > 3
    )  # fmt: skip
    for title, number in contents.items():
        assert title.strip() in pages[int(number) - 1]


def test_the_worker_makes_it_with_its_two_processes(ground, folder, monkeypatch):
    """Through the queue, by ``db_worker``, as it is really done."""
    monkeypatch.setattr(  # it would close the connection that this test works in
        "django_tasks_db.management.commands.db_worker.close_old_connections", lambda: None
    )
    again = asked(ground)
    call_command("db_worker", "--batch", "--interval=0", "--no-startup-delay", verbosity=0)
    again = refreshed(again)
    assert stands(again).word == papers.READY
    assert again.pages == 3  # summary, inspections and corrections, an empty register


def test_a_year_of_very_many_burns_is_cut_between_months(ground, monkeypatch):
    monkeypatch.setattr(long_history, "MOST_ROWS", 3)
    at = dt.datetime(2025, 1, 31, 12, tzinfo=dt.UTC)
    rows = [
        long_history.HistoryRow(at + month * 31 * DAY, "burn", "", "")
        for month in range(4) for _burn in range(2)
    ]  # fmt: skip
    parts = long_history._cut(rows, 2025)
    assert [len(part.rows) for part in parts] == [2, 2, 2, 2]
    assert [row for part in parts for row in part.rows] == rows
    assert [part.title for part in long_history._cut(rows[:3], 2025)] == ["Burns in 2025"]
    assert long_history._cut([], 2025) == []


def test_what_goes_wrong_is_told(ground, monkeypatch):
    paper = asked(ground)
    monkeypatch.setattr("records.reports.tasks.history_in_pieces", lambda *given, **more: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        make_paper.call(paper.public_id)
    assert stands(paper).word == papers.FAILED
    assert "ZeroDivisionError" in stands(paper).sentence
    assert not Entry.objects.filter(act="reports.paper_made").exists()


# -- handed out, and thrown away ---------------------------------------------------------------------


def test_the_document_is_handed_out_to_those_who_read_exports_here(ground, other, made, signed_in):
    address = f"/papers/{made.public_id}/document.pdf"
    answer = signed_in(ground.stores).get(address)
    assert hashlib.sha256(answer.content).hexdigest() == made.sha256
    assert signed_in(ground.admin).get(address).status_code == 403
    assert signed_in(other.auditor).get(address).status_code == 404


def test_a_copy_that_was_changed_on_the_disk_is_not_handed_out(ground, made, signed_in):
    papers.place_of(made).write_bytes(b"%PDF-1.7 another")
    answer = signed_in(ground.auditor).get(f"/papers/{made.public_id}/document.pdf")
    assert answer.status_code == 409


def test_the_copy_is_thrown_away_after_a_week_and_the_row_stays(ground, made, signed_in):
    now = made.made_at + papers.KEPT + DAY
    assert stands(made, now).word == papers.GONE
    assert papers.throw_away_old(now) == 1
    assert not papers.place_of(made).exists()
    assert stands(made).word == papers.GONE
    answer = signed_in(ground.auditor).get(f"/papers/{made.public_id}/document.pdf")
    assert answer.status_code == 409
    assert Paper.objects.get().sha256 == made.sha256


def test_its_evidence_holds_the_document_and_the_log_up_to_its_head(ground, made, signed_in):
    answer = signed_in(ground.auditor).get(f"/papers/{made.public_id}/evidence.zip")
    with zipfile.ZipFile(io.BytesIO(answer.getvalue())) as bundle:
        (name,) = [each for each in bundle.namelist() if each.endswith(".pdf")]
        assert hashlib.sha256(bundle.read(name)).hexdigest() == made.sha256
        assert len(bundle.read("log.jsonl").splitlines()) == papers.head_of(made).size
        assert bundle.read("head.txt").decode() == papers.head_of(made).text


def test_a_long_history_is_not_printed_while_somebody_waits(ground, signed_in, monkeypatch):
    monkeypatch.setattr(long_history, "IN_REQUEST", 0)
    for page in ("history.pdf", "evidence.zip"):
        answer = signed_in(ground.auditor).get(f"/units/{ground.unit.public_id}/{page}")
        assert answer.status_code == 302
        assert answer["Location"].startswith(f"/units/{ground.unit.public_id}/papers/?start=")
