"""Drafting an edition of the standard, with rows and charts at once."""

from __future__ import annotations

from decimal import Decimal

import pytest

from facility.refusals import WrongValue
from facility.rulebook.models import BurnSequence, BurnSequenceStep, Edition, LimitRow
from records.standard import services
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

ACT = "ground.edition_drafted"


def chart(ground, **changes):
    return {"unit": ground.unit, "caps_dry_kg": [Decimal(90), Decimal(60)], "cooling_min": 60,
            "burns_before_cooling": 2, "wait_min": 30, "trial_on": NOW.date(), "trial_note": "t",
            **changes}  # fmt: skip


def draft(ground, **changes):
    given = {"code": "T-2", "title": "Second", "rows": builders.rows(), "charts": [chart(ground)],
             "by": ground.safety, "at": NOW}  # fmt: skip
    return services.draft_edition(ground.site, **{**given, **changes})


def test_an_edition_is_written_with_its_rows_and_charts(ground):
    with writes(ACT, Edition, LimitRow, BurnSequence, BurnSequenceStep):
        edition = draft(ground)
    assert edition.rows.count() == len(builders.ROWS)
    steps = edition.charts.get().steps.values_list("nth", "cap_dry_kg")
    assert list(steps) == [(1, 90), (2, 60)]
    assert edition.rows.get(code="F-07").unit == "MJ"  # the register's, never typed


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_draft(ground, role):
    with refuses_role():
        draft(ground, by=actor(ground, role))


def test_a_row_on_an_unknown_fact_is_refused(ground):
    row = {**builders.rows()[0], "fact": "charge.colour"}
    with refuses(WrongValue, "fact"):
        draft(ground, rows=[row])


@pytest.mark.parametrize(
    ("field", "value"), [("comparison", "!="), ("severity", "maybe"), ("basis", "hearsay")]
)
def test_a_row_speaks_only_words_the_engine_knows(ground, field, value):
    """An unknown severity would silently never block."""
    row = {**builders.rows()[0], field: value}
    with refuses(WrongValue, field):
        draft(ground, rows=[row])


@pytest.mark.parametrize("cap", ["0", "-5"])
def test_a_cap_is_more_than_nothing(ground, cap):
    with refuses(WrongValue, "caps_dry_kg"):
        draft(ground, charts=[chart(ground, caps_dry_kg=[Decimal(cap)])])


def test_the_unit_of_another_ground_gets_no_chart_here(ground, other):
    with refuses(WrongValue, "unit"):
        draft(ground, charts=[chart(ground, unit=other.unit)])


@pytest.mark.parametrize("code", ["", "x" * 21, "\0"])
def test_the_code_is_plain_and_short(ground, code):
    with refuses(WrongValue, "code"):
        draft(ground, code=code)


def test_a_code_is_used_once(ground):
    with refuses(WrongValue, "code"):
        draft(ground, code="T-1")
