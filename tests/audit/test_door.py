"""The door: one transaction, the role check, the change, one entry."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from facility.guarded import door_is_open
from facility.people.models import Person, RoleHeld
from facility.people.permissions import ACTS, Role
from facility.refusals import AlreadyDone, NotAllowed
from facility.sites.models import Bay
from records.audit.door import door, opened
from records.audit.models import Entry, LogHead
from tests import builders
from tests.asking import acts_after, refuses, refuses_role, writes
from tests.builders import NOW

ACT = "ground.bay_added"


def add(ground, name="Bay 9", **changes):
    given = {"by": ground.stores, "site": ground.site, "at": NOW, **changes}
    with door(ACT, **given) as entry:
        bay = Bay(site=ground.site, name=name)
        bay.save()
        entry.on(bay)
        entry.changed({"bays": 1}, bays=2)
    return bay


def test_a_change_and_its_entry_are_written_together(ground):
    with writes(ACT, Bay):
        bay = add(ground, why="more room")
    entry = Entry.objects.first()
    assert (entry.act, entry.at, entry.why) == (ACT, NOW, "more room")
    assert (entry.actor, entry.role) == (ground.stores.public_id, "stores")
    assert (entry.site, entry.obj) == (ground.site.public_id, f"bay:{bay.public_id}")
    assert (entry.before, entry.after) == ({"bays": 1}, {"bays": 2})


def test_nothing_is_written_when_the_body_raises(ground):
    before = LogHead.objects.get().size
    with pytest.raises(ZeroDivisionError), door(ACT, by=ground.stores, site=ground.site):
        Bay(site=ground.site, name="Bay 9").save()
        raise ZeroDivisionError
    assert not Bay.objects.filter(name="Bay 9").exists()
    assert LogHead.objects.get().size == before == Entry.objects.count()
    assert not door_is_open()


def test_an_attempt_without_the_role_is_logged_and_the_body_never_runs(ground):
    ran = []
    with refuses_role(), door(ACT, by=ground.auditor, site=ground.site, on=ground.unit, at=NOW):
        ran.append(True)
    entry = Entry.objects.first()
    assert not ran
    assert (entry.act, entry.actor, entry.role) == (
        "audit.refused",
        ground.auditor.public_id,
        "none",
    )
    assert (entry.obj, entry.after) == (ground.unit.named_in_log, {"act": ACT, "kind": "role"})


def test_a_role_on_another_ground_does_not_count(ground, other):
    with refuses_role():
        add(ground, by=other.stores)


def test_a_role_counts_from_its_first_to_its_last_day_on_the_ground_s_own_calendar(ground):
    """Midnight in Auckland in summer is 11:00 UTC of the day before."""
    held = RoleHeld.objects.get(person=ground.stores)
    with opened():
        held.since, held.until = dt.date(2026, 2, 5), dt.date(2026, 2, 5)
        held.save()
    first, last = NOW.replace(hour=11), NOW.replace(hour=10, minute=59) + dt.timedelta(days=1)
    add(ground, "Bay 2", at=first)
    add(ground, "Bay 3", at=last)
    for outside in (first - dt.timedelta(minutes=1), last + dt.timedelta(minutes=1)):
        with refuses_role():
            add(ground, at=outside)


def test_a_person_no_longer_active_may_nothing(ground):
    with opened():
        ground.stores.is_active = False
        ground.stores.save()
    with refuses_role():
        add(ground)


def test_an_act_that_needs_a_person_is_not_the_program_s(ground):
    with refuses(NotAllowed):
        add(ground, by=None)


def test_nobody_holds_the_acts_of_the_program(ground):
    for act in (act for act, row in ACTS.items() if not row.roles):
        with refuses_role(), door(act, by=ground.admin, site=ground.site):
            pass


def test_an_act_that_is_not_in_the_table_cannot_be_logged(ground):
    with pytest.raises(KeyError), door("ground.burnt_down", by=ground.admin, site=ground.site):
        pass


def test_the_sequence_has_no_gaps_after_successes_refusals_and_failures(ground):
    add(ground, "Bay 2")
    with pytest.raises(NotAllowed):
        add(ground, by=ground.auditor)
    with pytest.raises(ZeroDivisionError), door(ACT, by=ground.stores, site=ground.site):
        raise ZeroDivisionError
    add(ground, "Bay 3")
    numbers = list(Entry.objects.order_by("seq").values_list("seq", flat=True))
    assert numbers == list(range(LogHead.objects.get().size))
    assert acts_after(numbers[-3]) == [ACT, "audit.refused", ACT]


def test_the_same_key_is_done_once_and_the_answer_names_the_first(ground):
    first = add(ground, once="form-1")
    with refuses(AlreadyDone) as caught:
        add(ground, "Bay 10", once="form-1")
    assert (caught.value.obj, caught.value.public_id) == (first.named_in_log, first.public_id)


def test_a_key_is_not_used_up_by_a_refusal_or_a_failure(ground):
    with pytest.raises(NotAllowed):
        add(ground, by=ground.auditor, once="form-1")
    keyed = door(ACT, by=ground.stores, site=ground.site, once="form-1")
    with pytest.raises(ZeroDivisionError), keyed:
        raise ZeroDivisionError
    with writes(ACT, Bay):
        add(ground, once="form-1")


def test_all_roles_that_cover_the_act_are_named(ground):
    with opened():
        RoleHeld(
            person=ground.stores, site=ground.site, role=Role.ADMIN, since=dt.date(2026, 1, 1)
        ).save()
    add(ground)
    assert Entry.objects.first().role == "admin,stores"


def test_values_are_kept_as_they_were_written(ground):
    """Decimals without padding, times with their zone, people and things by their public id."""
    with door(ACT, by=ground.stores, site=ground.site, at=NOW) as entry:
        entry.changed(mass=Decimal("25.500"), none=Decimal("0.00"), at=NOW, day=NOW.date(),
                      share=0.1, who=ground.safety, rows=[(1, Decimal("2.0"))])  # fmt: skip
    after = Entry.objects.first().after
    assert after == {
        "mass": "25.5", "none": "0", "at": "2026-02-04T08:00:00+00:00", "day": "2026-02-04",
        "share": "0.1", "who": ground.safety.public_id, "rows": [[1, "2"]],
    }  # fmt: skip


def test_every_role_meets_an_act_it_may_not_do():
    """The table separates duties: no role may do everything."""
    assert all(any(role not in act.roles for act in ACTS.values() if act.roles) for role in Role)


def test_people_are_named_in_the_log_by_key_only(ground):
    builders.accepted_lot(ground)
    names = [person.name for person in Person.objects.all()]
    texts = [f"{row.before} {row.after} {row.why}" for row in Entry.objects.all()]
    assert not [(name, text) for name in names for text in texts if name in text]
