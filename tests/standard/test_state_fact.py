"""Standing statements: what a person vouches for of the ground, a unit, a person or a lot."""

from __future__ import annotations

import datetime as dt

import pytest

from facility.refusals import LimitExceeded, WrongValue
from facility.rules.facts import Known
from records.plans import services as plans
from records.standard.models import Statement
from records.standard.selectors import statements, statements_on
from records.standard.stating import state_fact
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_own_work, refuses_role, writes
from tests.builders import NOW
from tests.standard.drafts import row

ACT = "ground.fact_stated"
TODAY, DAY = NOW.date(), dt.timedelta(days=1)
EXITS = "unit.exits_clear"


def state(ground, fact=EXITS, target=None, value="yes", **changes):
    given = {"since": TODAY, "until": None, "note": "looked myself", "by": ground.safety, "at": NOW}
    target = ground.unit.public_id if target is None else target
    return state_fact(ground.site, fact=fact, target=target, value=value, **{**given, **changes})


def on(ground, day, fact=EXITS, target=None):
    target = ground.unit.public_id if target is None else target
    return statements_on(ground.site, day).get(target, {}).get(fact)


def test_a_fact_is_stated_with_its_days_and_its_author(ground):
    with writes(ACT, Statement):
        made = state(ground)
    assert (made.value, made.since, made.until, made.stated_by) == ("yes", TODAY, None, ground.safety)  # fmt: skip
    assert on(ground, TODAY) == Known(True)


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_state_a_fact(ground, role):
    with refuses_role():
        state(ground, by=actor(ground, role))


def test_it_holds_from_its_first_day_to_its_last_and_then_says_when_it_lapsed(ground):
    state(ground, since=TODAY + DAY, until=TODAY + 3 * DAY)
    held = {off: on(ground, TODAY + off * DAY) for off in (0, 1, 3, 4)}
    assert held[0] is None
    assert held[1] == held[3] == Known(True)
    assert held[4] == Known(None, "it lapsed on 7 Feb 2026")


def test_the_newest_statement_counts_and_an_empty_one_takes_it_back(ground):
    state(ground)
    state(ground, value="no")
    assert on(ground, TODAY) == Known(False)
    with writes(ACT, Statement):
        state(ground, value=" ")
    assert on(ground, TODAY) == Known(None, "it was taken back")
    assert [each.value for each in statements(ground.site)] == [""]


def test_a_statement_of_one_thing_says_nothing_of_another(ground, other):
    second = builders.commission(ground, "Unit 2")
    state(ground)
    assert on(ground, TODAY, target=second.public_id) is None
    assert on(ground, TODAY, fact="unit.drained") is None
    assert statements_on(other.site, TODAY) == {}


def test_nobody_vouches_for_themselves(ground):
    with refuses_own_work():
        state(ground, "person.fit_today", ground.safety.public_id)
    with writes(ACT, Statement):
        state(ground, "person.fit_today", ground.safety.public_id, by=ground.manager)


@pytest.mark.parametrize(
    ("fact", "value"),
    [(EXITS, "perhaps"), (EXITS, "1"), ("unit.report_sent_on", "05-31"),
     ("unit.report_sent_on", "2027-W22-1"), ("unit.days_since_calibration", "-1"),
     ("unit.days_since_calibration", "soon"), ("unit.days_since_calibration", "0" * 61),
     ("unit.steel_temperature", "nan")],
)  # fmt: skip
def test_a_value_of_the_wrong_kind_is_refused(ground, fact, value):
    with refuses(WrongValue, "value"):
        state(ground, fact, value=value)


@pytest.mark.parametrize(
    "fact",
    ["unit.in_service", "charge.dry_mass", "burn.medic_on_site", "crew.rehab", "unit.colour", ""],
)
def test_what_the_records_tell_or_a_plan_states_is_not_stated_here(ground, fact):
    with refuses(WrongValue, "fact"):
        state(ground, fact)


@pytest.mark.parametrize(
    ("fact", "target"), [(EXITS, ""), ("site.open_complaints", "abcdefghjk"), (EXITS, "x" * 11)]
)
def test_a_fact_is_stated_of_the_thing_it_is_about(ground, fact, target):
    with refuses(WrongValue, "target"):
        state(ground, fact, target, value="yes" if fact == EXITS else "0")


@pytest.mark.parametrize(
    ("changes", "field"),
    [({"until": TODAY - DAY}, "until"), ({"since": TODAY + 367 * DAY}, "since"), ({"note": ""}, "note"),
     ({"note": "x" * 201}, "note")],
)  # fmt: skip
def test_a_statement_out_of_bounds_is_refused_by_its_field(ground, changes, field):
    with refuses(WrongValue, field):
        state(ground, **changes)


# --- what it does to a plan


def asks(ground, fact, comparison="true", **changes):
    """A standard that asks for a stated fact, and nothing else."""
    asked = row(fact=fact, comparison=comparison, limit="", **changes)
    builders.adopt(ground, "T-2", [asked], at=NOW, day=TODAY)
    builders.accepted_lot(ground)
    return builders.drafted(ground)


def submit(ground, plan):
    plans.submit_plan(plan, seen_hash=builders.hash_of(plan), by=ground.instructor, at=NOW)


def refused(ground, plan):
    with refuses(LimitExceeded) as caught:
        submit(ground, plan)
    return [(each.rule.code, each.label, each.verdict) for each in caught.value.findings]


def test_a_plan_waits_for_what_nobody_stated_and_passes_once_it_is(ground):
    plan = asks(ground, EXITS)
    assert refused(ground, plan) == [("N-1", "", "cannot_tell")]
    state(ground, value="no")
    assert refused(ground, plan) == [("N-1", "", "over")]
    state(ground)
    submit(ground, plan)


@pytest.mark.parametrize(("until", "verdict"), [(DAY, None), (0 * DAY, "cannot_tell")])
def test_it_must_still_hold_on_the_day_of_the_burn(ground, until, verdict):
    """The plan is for the 5th; a statement that lapses on the 4th says nothing of it."""
    plan = asks(ground, EXITS)
    state(ground, until=TODAY + until)
    if verdict is None:
        submit(ground, plan)
    else:
        assert refused(ground, plan) == [("N-1", "", verdict)]


def test_of_people_each_is_vouched_for(ground):
    plan = asks(ground, "person.fit_today", duties="learner")
    for learner in ground.learners[:2]:
        state(ground, "person.fit_today", learner.public_id)
    assert refused(ground, plan) == [("N-1", "Learner 3", "cannot_tell")]
    state(ground, "person.fit_today", ground.learners[2].public_id)
    submit(ground, plan)
