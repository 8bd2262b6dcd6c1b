"""A defect restricts at once, and says so to those whose approved plans it touches."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.utils import timezone

from facility.refusals import LimitExceeded, WrongValue
from records.ground.selectors import counts_of
from records.inspections.models import Defect
from records.inspections.services import DefectFound
from records.plans.restricting import touched, touched_of
from tests import builders
from tests.asking import refuses
from tests.builders import NOW

HOUR = dt.timedelta(hours=1)


def find(ground, at=NOW, **given):
    found = DefectFound(
        **{"severity": "restricts", "place": "roof", "description": "bent", **given}
    )
    builders.inspect(ground, ground.unit, at=at, outcome="defect", defect=found)
    return ground.unit.defects.latest("pk")


def test_a_part_names_the_place_where_no_words_are_given(ground):
    door = ground.unit.openings.get()
    assert find(ground, place="", part=door.public_id).place == "door"
    assert find(ground, place="left leaf", part=door.public_id).place == "left leaf"


@pytest.mark.parametrize(
    ("field", "given"),
    [("part", {"part": "no-such"}), ("place", {"place": ""}), ("severity", {"severity": "monitor", "no_entry": True}),
     ("most_boards", {"most_boards": -1}), ("most_dry_kg", {"most_dry_kg": Decimal(5001)})],
)  # fmt: skip
def test_a_defect_is_at_a_real_part_and_forbids_what_makes_sense(ground, field, given):
    place = {"place": ""} if field == "part" else {}
    with refuses(WrongValue, field):
        find(ground, **{**place, **given})
    assert not Defect.objects.exists()


def test_the_author_and_the_approver_are_told_and_nobody_else(ground):
    builders.accepted_lot(ground)
    plan = builders.approved(ground)
    assert touched([plan], NOW + HOUR) == []
    defect = find(ground, at=NOW + HOUR, most_boards=1)
    for person in (ground.instructor, ground.manager):
        (told,) = touched_of(person, ground.site, NOW + HOUR)
        assert (told.plan, told.defects) == (plan, (defect,))
    for person in (ground.stores, ground.manager_two):
        assert touched_of(person, ground.site, NOW + HOUR) == []


def test_a_defect_known_at_the_approval_is_no_news(ground):
    builders.accepted_lot(ground)
    find(ground, most_boards=3)
    plan = builders.approved(ground, at=NOW + HOUR)
    assert touched([plan], NOW + 2 * HOUR) == []


def test_the_charge_of_a_plan_restricted_since_is_not_issued(ground):
    builders.accepted_lot(ground)
    plan = builders.approved(ground)
    find(ground, at=NOW + HOUR, no_entry=True)
    with refuses(LimitExceeded) as caught:
        builders.issue(ground, plan, at=NOW + HOUR)
    assert {each.rule.code for each in caught.value.findings} == {"D-1"}


def test_the_pages_say_restricted_since_approval(db, signed_in):
    now = timezone.now().replace(second=0, microsecond=0)
    ground = builders.found_ground(at=now - 24 * HOUR)
    builders.accepted_lot(ground, at=now - 24 * HOUR)
    plan = builders.approved(
        ground, builders.content(ground, starts_at=now + 24 * HOUR), at=now - 3 * HOUR
    )
    find(ground, at=now - HOUR, most_boards=1)
    for person in (ground.instructor, ground.manager):
        assert "restricted since approval" in signed_in(person).get("/").text
    assert "restricted since approval" not in signed_in(ground.stores).get("/").text
    page = signed_in(ground.instructor).get(f"/plans/{plan.public_id}/").text
    assert "Restricted since approval" in page
    assert "at most 1 board" in page


def test_counts_follow_a_correction(ground):
    """Three boards of 25 kg, then one of them came back: 75 kg, then 50 kg, and one burn still."""
    from records.burns import services as burns

    lot = builders.accepted_lot(ground)
    burn = builders.closed(ground)
    marks = [
        ("built", None),
        ("that day", burn.ignited_at - HOUR),
        ("after", burn.ignited_at + HOUR),
    ]

    def told():
        return [(each.burns, round(each.dry_mass_kg), each.corrections) for each in counts_of(ground.unit, marks)]  # fmt: skip

    assert told() == [(1, 75, 0), (1, 75, 0), (0, 0, 0)]
    burns.correct_burn(
        burn, seen_report=1, ended_at=burn.current.ended_at, used={lot.public_id: Decimal(2)},
        note="", why="one came back", by=ground.instructor, at=burn.current.ended_at + 5 * HOUR,
    )  # fmt: skip
    assert told() == [(1, 50, 1), (1, 50, 1), (0, 0, 0)]
