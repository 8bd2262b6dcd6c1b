"""A draft is proposed, given back with a reason, or withdrawn; each from its own state only."""

from __future__ import annotations

import datetime as dt

import pytest

from facility.refusals import WrongState, WrongValue
from facility.rulebook.models import Edition
from records.standard import services
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW
from tests.standard.drafts import chart, draft, proposed, row

TODAY = NOW.date()


def propose(ground, edition, **changes):
    services.propose_edition(edition, **{"by": ground.safety, "at": NOW, **changes})


def give_back(ground, edition, **changes):
    given = {"reason": "F-07 is too high", "by": ground.manager, "at": NOW}
    services.return_edition(edition, **{**given, **changes})


def withdraw(ground, edition, **changes):
    given = {"reason": "no longer needed", "by": ground.safety, "at": NOW}
    services.withdraw_edition(edition, **{**given, **changes})


ACTS = {
    "ground.edition_proposed": (propose, draft),
    "ground.edition_returned": (give_back, proposed),
    "ground.edition_withdrawn": (withdraw, draft),
}
STATES = {"ground.edition_proposed": "proposed", "ground.edition_returned": "draft",
          "ground.edition_withdrawn": "withdrawn"}  # fmt: skip
every_act = pytest.mark.parametrize("act", ACTS)


@every_act
def test_the_act_changes_the_state_and_nothing_else(ground, act):
    do, build = ACTS[act]
    edition = build(ground)
    with writes(act, alters=[Edition]):
        do(ground, edition)
    edition.refresh_from_db()
    assert edition.state_on(TODAY) == STATES[act]


@pytest.mark.parametrize(("act", "role"), [(act, role) for act in ACTS for role in refused_roles(act)])  # fmt: skip
def test_other_roles_may_not(ground, act, role):
    do, build = ACTS[act]
    edition = build(ground)
    with refuses_role():
        do(ground, edition, by=actor(ground, role))


@every_act
def test_no_act_twice_in_a_row(ground, act):
    do, build = ACTS[act]
    edition = build(ground)
    do(ground, edition)
    with refuses(WrongState):
        do(ground, edition)


@every_act
def test_an_edition_in_force_is_past_all_of_them(ground, act):
    do, _build = ACTS[act]
    with refuses(WrongState):
        do(ground, ground.edition)


def test_what_is_proposed_is_given_back_before_it_is_withdrawn(ground):
    edition = proposed(ground)
    with refuses(WrongState):
        withdraw(ground, edition)
    give_back(ground, edition)
    withdraw(ground, edition)
    for act in (propose, give_back, withdraw):
        with refuses(WrongState):
            act(ground, edition)


@pytest.mark.parametrize("act", [give_back, withdraw])
@pytest.mark.parametrize("reason", ["", "  ", "x" * 301])
def test_a_reason_is_given(ground, act, reason):
    edition = proposed(ground) if act is give_back else draft(ground)
    with refuses(WrongValue, "reason"):
        act(ground, edition, reason=reason)


def test_an_edition_without_a_row_that_is_on_or_a_chart_is_not_proposed(ground):
    edition = draft(ground, rows=[row(on=False)])
    with refuses(WrongValue, "rows"):
        propose(ground, edition)
    services.write_chart(edition, ground.unit, **chart(), by=ground.safety, at=NOW)
    with writes("ground.edition_proposed", alters=[Edition]):
        propose(ground, edition)


def test_a_withdrawn_or_returned_edition_is_not_put_in_force(ground):
    returned = proposed(ground)
    give_back(ground, returned)
    gone = draft(ground, code="T-3")
    withdraw(ground, gone)
    for edition in (returned, gone):
        with refuses(WrongState):
            services.adopt_edition(
                edition, in_force_from=TODAY + dt.timedelta(days=7), by=ground.manager, at=NOW
            )
