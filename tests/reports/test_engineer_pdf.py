"""Evidence for the engineer: every burn since the last inspection, recorded or not."""

from __future__ import annotations

import base64
import datetime as dt
import io

import pikepdf
import pytest
from PIL import Image

from records.inspections.looking import Look
from records.pictures.models import Picture
from records.pictures.reading import read_photograph
from records.reports.engineering import evidence_for, photographed
from tests import builders
from tests.builders import NOW
from tests.photographs.drawing import photo

HOUR = dt.timedelta(hours=1)


@pytest.fixture
def burn(ground):
    builders.accepted_lot(ground)
    return builders.closed(ground)


def test_every_burn_is_listed_and_the_unrecorded_are_counted(ground, burn):
    at = burn.ignited_at + 5 * HOUR
    told = evidence_for(ground.unit, at)
    assert (told.burns, told.unrecorded, told.lines[0].heat) == (1, 1, None)
    assert told.lines[0].reference == burn.reference
    assert told.energy_mj == pytest.approx(told.lines[0].used.energy_mj)
    builders.logged(ground, burn)
    told = evidence_for(ground.unit, at)
    assert told.unrecorded == 0
    assert told.lines[0].heat.hottest_c == 620


def test_it_begins_at_the_engineers_last_inspection(ground, burn):
    at = burn.ignited_at + 5 * HOUR
    builders.inspect(ground, ground.unit, at=at)  # structural: not the engineer's
    assert evidence_for(ground.unit, at + HOUR).burns == 1
    builders.inspect(ground, ground.unit, at=at, kind="engineer")
    told = evidence_for(ground.unit, at + HOUR)
    assert (told.burns, told.since) == (0, at)


def test_the_document_says_what_is_not_recorded_and_has_earlier_findings(
    ground, burn, signed_in, monkeypatch
):
    builders.inspect(
        ground,
        ground.unit,
        at=NOW,
        outcome="monitor",
        looks={"roof": Look("monitor", "sags a lot")},
    )
    written = []
    from records.reports import pdf

    printed = pdf.printed
    monkeypatch.setattr(
        pdf, "printed", lambda html, *rest: written.append(html) or printed(html, *rest)
    )
    answer = signed_in(ground.auditor).get(f"/units/{ground.unit.public_id}/engineer.pdf")
    assert answer.status_code == 200
    assert len(pikepdf.open(io.BytesIO(answer.content)).pages) >= 2
    assert "not recorded" in written[0]
    assert "sags a lot" in written[0]
    assert burn.reference in written[0]


def test_photographs_of_the_parts_stand_in_it_and_those_disposed_of_are_named(
    ground, burn, monkeypatch
):
    picture = read_photograph(photo(1600, 800))
    seen = {"roof": Look("monitor", "sags a lot", picture), "floor": Look("good")}
    builders.inspect(ground, ground.unit, at=NOW, outcome="monitor", looks=seen)
    (found,) = photographed(ground.unit, NOW + HOUR)
    image = Image.open(io.BytesIO(base64.b64decode(found.source.partition(",")[2])))
    assert (found.look.note, image.size) == ("sags a lot", (1000, 500))
    assert photographed(ground.unit, NOW - HOUR) == []
    monkeypatch.setattr(Picture, "gone", "disposed of")
    assert [each.source for each in photographed(ground.unit, NOW + HOUR)] == [""]
