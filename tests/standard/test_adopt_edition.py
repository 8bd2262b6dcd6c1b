"""Putting an edition in force."""

from __future__ import annotations

import datetime as dt

import pytest

from facility.guarded import opened
from facility.refusals import StaleVersion, WrongState, WrongValue
from facility.rulebook.models import Edition
from facility.rulebook.selectors import editions_in_force, fingerprint
from records.standard import services
from tests.asking import actor, refused_roles, refuses, refuses_own_work, refuses_role, writes
from tests.builders import NOW
from tests.standard.drafts import chart, draft, proposed, row

ACT = "ground.edition_adopted"
NEXT_WEEK = NOW.date() + dt.timedelta(days=7)


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
    with refuses_own_work():
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


# --- not by anyone who wrote in it


def written_by(ground, edition, author):
    services.write_row(edition, row(), by=author, at=NOW)


def charted_by(ground, edition, author):
    services.write_chart(edition, ground.unit, **chart(), by=author, at=NOW)


def imported_by(ground, edition, author):
    services.import_rows(edition, [row()], by=author, at=NOW)


def mended_by_another(ground, edition, author):
    """The limit stays the author's; the last to write the row is the safety officer."""
    written_by(ground, edition, author)
    services.write_row(edition, row(title="Water on the site"), by=ground.safety, at=NOW)


def charted_over(ground, edition, author):
    charted_by(ground, edition, author)
    services.write_chart(edition, ground.unit, **chart(wait_min=40), by=ground.safety, at=NOW)


@pytest.mark.parametrize(
    "wrote", [written_by, charted_by, imported_by, mended_by_another, charted_over]
)
def test_not_by_anyone_who_ever_wrote_a_row_or_chart_in_it(ground, wrote):
    edition = draft(ground)
    wrote(ground, edition, ground.manager)
    services.propose_edition(edition, by=ground.safety, at=NOW)
    with refuses_own_work():
        adopt(ground, edition)
    with writes(ACT, alters=[Edition]):
        adopt(ground, edition, by=ground.manager_two)


def test_not_by_the_one_who_drafted_it_though_another_proposed_it(ground):
    edition = draft(ground, by=ground.manager, copy_of=ground.edition, rows=())
    services.propose_edition(edition, by=ground.safety, at=NOW)
    with refuses_own_work():
        adopt(ground, edition)


def test_who_gave_it_back_or_wrote_in_another_edition_may(ground):
    elsewhere = draft(ground, code="T-9")
    written_by(ground, elsewhere, ground.manager)
    edition = proposed(ground)
    services.return_edition(edition, reason="again", by=ground.manager, at=NOW)
    services.propose_edition(edition, by=ground.safety, at=NOW)
    with writes(ACT, alters=[Edition]):
        adopt(ground, edition)


# --- from when


@pytest.mark.parametrize(("hour", "day", "fits"), [(8, 4, True), (8, 3, False), (12, 5, True), (12, 4, False)])  # fmt: skip
def test_not_for_the_past_of_the_ground_s_own_day(ground, hour, day, fits):
    """At 12:00 UTC on the 4th it is 01:00 on the 5th on the ground."""
    edition, at = proposed(ground), NOW.replace(hour=hour)
    if fits:
        adopt(ground, edition, in_force_from=dt.date(2026, 2, day), at=at)
    else:
        with refuses(WrongValue, "in_force_from"):
            adopt(ground, edition, in_force_from=dt.date(2026, 2, day), at=at)


def test_two_editions_of_one_line_never_hold_on_the_same_day(ground):
    """The first was given an end: until then no other of its line begins."""
    with opened():
        Edition.objects.filter(pk=ground.edition.pk).update(in_force_to=NEXT_WEEK)
    edition = proposed(ground)
    with refuses(WrongValue, "in_force_from"):
        adopt(ground, edition, in_force_from=NEXT_WEEK)
    adopt(ground, edition, in_force_from=NEXT_WEEK + dt.timedelta(days=1))
    assert Edition.objects.get(code="T-1").in_force_to == NEXT_WEEK


def test_an_edition_that_is_coming_is_not_passed_by_another(ground):
    adopt(ground, proposed(ground))
    third = proposed(ground, code="T-3")
    with refuses(WrongValue, "in_force_from"):
        adopt(ground, third, in_force_from=NEXT_WEEK - dt.timedelta(days=1))


def test_the_line_of_a_jurisdiction_runs_beside_the_ground_s_own(ground):
    coast = proposed(ground, code="C-1", jurisdiction="The coast")
    with writes(ACT, alters=[Edition]):
        adopt(ground, coast)
    assert Edition.objects.get(code="T-1").in_force_to is None
    assert [each.code for each in editions_in_force(ground.site, NEXT_WEEK)] == ["T-1", "C-1"]
    second = proposed(ground, code="C-2", jurisdiction="The coast")
    adopt(ground, second, in_force_from=NEXT_WEEK + dt.timedelta(days=7))
    assert Edition.objects.get(code="C-1").in_force_to == NEXT_WEEK + dt.timedelta(days=6)
    assert Edition.objects.get(code="T-1").in_force_to is None
    later = editions_in_force(ground.site, NEXT_WEEK + dt.timedelta(days=7))
    assert [each.code for each in later] == ["T-1", "C-2"]


# --- exactly what was shown


def test_what_was_changed_since_it_was_shown_is_not_put_in_force(ground):
    edition = proposed(ground)
    seen = fingerprint(edition)
    services.return_edition(edition, reason="again", by=ground.manager, at=NOW)
    services.write_row(edition, row(), by=ground.safety, at=NOW)
    services.propose_edition(edition, by=ground.safety, at=NOW)
    with refuses(StaleVersion):
        adopt(ground, edition, shown_hash=seen)
    with writes(ACT, alters=[Edition]):
        adopt(ground, edition, shown_hash=fingerprint(edition))


@pytest.mark.parametrize(
    "changes",
    [{"wait_min": 31}, {"cooling_min": 61}, {"burns_before_cooling": 3}, {"trial_note": "another"},
     {"trial_on": NOW.date() - dt.timedelta(days=1)}, {"caps_dry_kg": [90]}],
)  # fmt: skip
def test_the_fingerprint_covers_every_part_of_a_chart(ground, changes):
    edition = draft(ground)
    services.write_chart(edition, ground.unit, **chart(), by=ground.safety, at=NOW)
    seen = fingerprint(edition)
    services.write_chart(edition, ground.unit, **chart(), by=ground.safety, at=NOW)
    assert fingerprint(edition) == seen
    services.write_chart(edition, ground.unit, **chart(**changes), by=ground.safety, at=NOW)
    assert fingerprint(edition) != seen


@pytest.mark.parametrize("changes", [{"limit": "9001"}, {"title": "Water"}, {"on": False}, {"clause": "9.2"},
                                     {"severity": "caution"}, {"waivable_by": "manager"}])  # fmt: skip
def test_the_fingerprint_covers_every_part_of_a_row(ground, changes):
    edition = draft(ground, rows=[row()])
    seen = fingerprint(edition)
    services.write_row(edition, row(**changes), by=ground.safety, at=NOW)
    assert fingerprint(edition) != seen
