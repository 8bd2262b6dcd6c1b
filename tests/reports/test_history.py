"""The history of a unit: what its page lists, and how its life is summed up."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from facility.look.timeline import Bar, Span, Timeline, svg
from records.burns import services as burns
from records.inspections import services as inspections
from records.inspections.looking import Look
from records.reports import history
from records.reports.history import history_page, rows_between
from records.reports.life import life_of, period_of
from tests import builders
from tests.builders import NOW

DAY = dt.timedelta(days=1)
LATER = NOW + 40 * DAY


def stopped(ground, at, place="door"):
    return inspections.stop_unit(
        ground.unit, place=place, description="jams", by=ground.instructor, at=at
    )


def returned(ground, defect, at):
    inspections.record_repair(
        defect, what="new hinge", done_by=ground.inspector_two, done_at=at,
        by=ground.inspector_two, at=at,
    )  # fmt: skip
    builders.verify(ground, defect, at=at)
    from records.inspections.content import content_hash

    inspections.release_unit(
        defect, statement="sound", meaning=inspections.RETURN, shown_hash=content_hash(defect),
        by=ground.inspector, at=at,
    )  # fmt: skip


@pytest.fixture
def lived(ground):
    """A burn, its correction, two overlapping outages and a later one that is still open."""
    builders.accepted_lot(ground)
    burn = builders.closed(ground)
    first = stopped(ground, NOW + 5 * DAY)
    second = stopped(ground, NOW + 7 * DAY, "vent")
    returned(ground, first, NOW + 8 * DAY)
    returned(ground, second, NOW + 10 * DAY)
    stopped(ground, NOW + 30 * DAY)
    return burn


def days():
    return (NOW - 30 * DAY).date(), LATER.date()


def test_the_pages_list_the_same_as_the_whole(ground, lived, monkeypatch):
    whole = rows_between(ground.unit, *days())
    assert {row.kind for row in whole} == {"burn", "inspection", "defect", "repair", "release"}
    monkeypatch.setattr(history, "ROWS", 3)
    first = history_page(ground.unit, *days())
    pages = [history_page(ground.unit, *days(), number=n) for n in range(1, first.pages + 1)]
    listed = [row for page in pages for row in page.rows]
    assert sorted(map(repr, listed)) == sorted(map(repr, whole))
    assert [row.when for row in listed] == sorted((row.when for row in whole), reverse=True)
    assert first.count == len(whole)
    assert history_page(ground.unit, *days(), number=99).number == first.pages


@pytest.mark.parametrize("kind", ["burn", "inspection", "defect", "repair", "release"])
def test_one_kind_alone(ground, lived, kind):
    page = history_page(ground.unit, *days(), kind=kind)
    assert {row.kind for row in page.rows} == {kind}


def test_an_inspection_names_the_parts_that_were_not_good(ground):
    at = NOW + DAY
    looks = {"roof": Look("monitor", "sags"), "floor": Look("good", "")}
    builders.inspect(ground, ground.unit, at=at, outcome="monitor", note="dry.", looks=looks)
    row = rows_between(ground.unit, *days())[-1]
    assert row.what.endswith(": monitor. Dry. Roof: monitor, sags; 1 part good")


def test_times_out_of_service_that_overlap_are_one(ground, lived):
    life = life_of(ground.unit, period_of(ground.unit, *days()), LATER)
    first, second = life.out_of_service
    assert (first.start, first.end, first.open) == (NOW + 5 * DAY, NOW + 10 * DAY, False)
    assert first.places == ("door", "vent")
    assert (second.start, second.end, second.open) == (NOW + 30 * DAY, LATER, True)
    assert life.total.days_out == pytest.approx(5 + 10)


def test_sums_by_year_count_corrections_in(ground, lived):
    """75 kg of dry wood burned; the correction says 50 kg: two boards of 25 kg."""
    lot = ground.site.lots.get()
    burns.correct_burn(
        lived, ended_at=lived.ignited_at + dt.timedelta(minutes=30), used={lot.public_id: Decimal(2)},
        why="counted again", note="", seen_report=1, by=ground.instructor, at=NOW + 3 * DAY,
    )  # fmt: skip
    life = life_of(ground.unit, period_of(ground.unit, *days()), LATER)
    assert life.total.burns == 1
    assert life.total.dry_mass_kg == pytest.approx(50)
    assert sum(bar.count for bar in life.bars) == 1


def test_a_longer_period_costs_no_more_queries(ground, lived):
    def queries(start: dt.date) -> int:
        with CaptureQueriesContext(connection) as captured:
            life_of(ground.unit, period_of(ground.unit, start, LATER.date()), LATER)
            history_page(ground.unit, start, LATER.date())
        return len(captured)

    assert queries(days()[0]) == queries(dt.date(2006, 1, 1))


def test_the_picture_escapes_what_people_wrote_and_is_the_same_each_time():
    start, end = NOW - 400 * DAY, NOW
    names = {"burns": "<b>", "out": "out", "restricted": "r", "inspected": "i"}
    line = Timeline(
        start, end, [Bar(start.date(), end.date(), 3)], [Span("out", start, end)], [NOW], names
    )
    assert svg(line) == svg(line)
    assert "&lt;b&gt;" in svg(line)
