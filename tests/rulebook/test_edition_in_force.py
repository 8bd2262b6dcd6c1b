"""Which edition of the standard holds on a day, and which rules a burn must meet."""

from __future__ import annotations

import datetime as dt

import pytest

from facility.guarded import opened
from facility.rulebook.models import Edition, LimitRow
from facility.rulebook.selectors import edition_in_force
from records.plans.judging import Standard
from records.standard import services
from tests import builders
from tests.builders import NOW

TODAY = NOW.date()
DAY = dt.timedelta(days=1)


def test_before_the_first_edition_none_is_in_force(ground):
    first = Edition.objects.get(pk=ground.edition.pk)
    assert edition_in_force(ground.site, first.in_force_from) == first
    assert edition_in_force(ground.site, first.in_force_from - DAY) is None


def test_an_edition_holds_until_the_day_before_the_next(ground):
    builders.adopt(ground, "T-2", builders.rows(), at=NOW, day=TODAY + 10 * DAY)
    days = {9: "T-1", 10: "T-2", 11: "T-2"}
    found = {off: edition_in_force(ground.site, TODAY + off * DAY).code for off in days}
    assert found == days


def test_a_proposed_edition_judges_nothing(ground):
    edition = services.draft_edition(
        ground.site, code="T-2", title="Two", rows=builders.rows(), by=ground.safety, at=NOW
    )
    services.propose_edition(edition, by=ground.safety, at=NOW)
    assert edition_in_force(ground.site, TODAY + 900 * DAY).code == "T-1"


def test_the_edition_of_another_ground_does_not_hold_here(ground, other):
    builders.adopt(other, "T-9", builders.rows(), at=NOW, day=TODAY)
    assert edition_in_force(ground.site, TODAY).code == "T-1"


def rules(ground, nth=1, unit=None):
    edition, unit = Edition.objects.get(code="T-1", site=ground.site), unit or ground.unit
    return {rule.code: rule for rule in Standard([edition], [unit]).rules(unit.public_id, nth)}


@pytest.mark.parametrize(("nth", "cap"), [(1, 100.0), (2, 75.0), (3, None)])
def test_the_cap_is_the_chart_s_for_the_nth_burn_and_never_guessed_beyond(ground, nth, cap):
    found = rules(ground, nth)["Q-1"]
    assert found.limit == cap
    assert "no value for burn" in found.missing


def test_a_unit_without_a_chart_has_no_caps(ground):
    bare = builders.commission(ground, "Unit 2")
    found = rules(ground, unit=bare)
    assert [found[code].limit for code in ("Q-1", "Q-2", "Q-3")] == [None, None, None]
    assert all(found[code].severity == "block" for code in ("Q-1", "Q-2", "Q-3"))


def test_the_handover_sheet_limits_the_people(ground):
    assert (rules(ground)["H-1"].limit, rules(ground)["H-1"].severity) == (10.0, "block")


def test_a_row_for_other_exercises_does_not_apply(ground):
    with opened():
        LimitRow.objects.filter(code="P-01").update(exercises="attack multi")
    assert rules(ground)["P-01"].applies.exercises == {"attack", "multi"}


def test_a_clause_names_its_edition(ground):
    assert rules(ground)["F-07"].clause == "T-1, test standard"
    assert rules(ground)["Q-1"].clause == "T-1, burn-sequence chart of Unit 1"
