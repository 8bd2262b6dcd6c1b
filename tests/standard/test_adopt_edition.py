"""Putting an edition in force."""

from __future__ import annotations

import datetime as dt

import pytest

from facility.guarded import opened
from facility.refusals import OwnWork, WrongState, WrongValue
from facility.rulebook.models import Edition
from records.standard import services
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

ACT = "ground.edition_adopted"
NEXT_WEEK = NOW.date() + dt.timedelta(days=7)


def proposed(ground, **changes):
    given = {"code": "T-2", "title": "Second", "rows": builders.rows(), "by": ground.safety}
    edition = services.draft_edition(ground.site, **{**given, "at": NOW, **changes})
    services.propose_edition(edition, by=changes.get("by", ground.safety), at=NOW)
    return edition


def adopt(ground, edition, **changes):
    given = {"in_force_from": NEXT_WEEK, "by": ground.manager, "at": NOW}
    services.adopt_edition(edition, **{**given, **changes})


def test_the_edition_before_ends_the_day_before(ground):
    edition = proposed(ground)
    with writes(ACT, alters=[Edition]):
        adopt(ground, edition)
    first, second = Edition.objects.order_by("id")
    assert first.in_force_to == NEXT_WEEK - dt.timedelta(days=1)
    assert (second.in_force_from, second.in_force_to) == (NEXT_WEEK, None)
    assert second.adopted_by == ground.manager


def test_the_standard_of_another_ground_goes_on(ground, other):
    adopt(ground, proposed(ground))
    assert Edition.objects.get(site=other.site).in_force_to is None


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_adopt(ground, role):
    edition = proposed(ground, by=ground.manager_two)
    with refuses_role():
        adopt(ground, edition, by=actor(ground, role))


def test_not_by_the_one_who_proposed_it(ground):
    edition = proposed(ground, by=ground.manager)
    with refuses(OwnWork):
        adopt(ground, edition)
    with writes(ACT, alters=[Edition]):
        adopt(ground, edition, by=ground.manager_two)


def test_the_database_itself_refuses_the_proposer_s_signature(ground):
    edition = proposed(ground)
    edition.adopted_by = ground.safety
    with opened(), pytest.raises(Exception, match="edition_adopted_by_another"):
        edition.save()


def test_an_edition_is_put_in_force_once(ground):
    edition = proposed(ground)
    adopt(ground, edition)
    with refuses(WrongState):
        adopt(ground, edition, in_force_from=NEXT_WEEK + dt.timedelta(days=1))


@pytest.mark.parametrize("days", [0, -1])
def test_an_edition_starts_after_the_one_before_it_started(ground, days):
    started = Edition.objects.get(site=ground.site).in_force_from
    edition = proposed(ground)
    with refuses(WrongValue, "in_force_from"):
        adopt(ground, edition, in_force_from=started + dt.timedelta(days=days))
