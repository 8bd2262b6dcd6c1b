"""Writing one row of a draft: added, or written anew under its code."""

from __future__ import annotations

from decimal import Decimal

import pytest

from facility.refusals import AlreadyDone, WrongState, WrongValue
from facility.rulebook.models import LimitRow
from records.audit.models import Entry
from records.standard import services
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW
from tests.standard.drafts import draft, proposed, row

ACT = "ground.row_written"


def write(ground, edition, given=None, **changes):
    return services.write_row(
        edition, given or row(), **{"by": ground.manager, "at": NOW, **changes}
    )


def test_a_row_is_added(ground):
    edition = draft(ground)
    with writes(ACT, LimitRow):
        added = write(ground, edition)
    assert (added.limit, added.unit, added.on) == (Decimal(9000), "L", True)
    assert added.changed_by == ground.manager
    assert edition.rows.count() == len(builders.ROWS) + 1


def test_the_row_of_that_code_is_written_anew_and_the_log_tells_both(ground):
    edition = draft(ground)
    write(ground, edition)
    with writes(ACT, alters=[LimitRow]):
        write(ground, edition, row(limit="8000"))
    assert edition.rows.get(code="N-1").limit == 8000
    entry = Entry.objects.first()
    assert set(entry.before) == {"limit"}
    assert set(entry.after) == {"row", "limit"}


def test_a_row_is_switched_off_and_kept(ground):
    edition = draft(ground)
    write(ground, edition)
    write(ground, edition, row(on="no"))
    assert edition.rows.get(code="N-1").on is False


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_write_a_row(ground, role):
    edition = draft(ground)
    with refuses_role():
        write(ground, edition, by=actor(ground, role))


def test_the_manager_of_another_ground_may_not(ground, other):
    edition = draft(ground)
    with refuses_role():
        write(ground, edition, by=other.manager)


@pytest.mark.parametrize(
    ("changes", "field"),
    [({"limit": "many"}, "limit"), ({"fact": "water.colour"}, "fact"), ({"clause": ""}, "clause"),
     ({"unit": "kg"}, "unit"), ({"comparison": "true"}, "comparison"), ({"colour": "x"}, "colour")],
)  # fmt: skip
def test_a_row_with_a_fault_is_refused_by_its_field(ground, changes, field):
    edition = draft(ground)
    with refuses(WrongValue, field):
        write(ground, edition, row(**changes))


def test_a_row_in_force_is_never_edited(ground):
    with refuses(WrongState):
        write(ground, ground.edition, row(code="F-07"))


def test_a_proposed_or_withdrawn_edition_is_not_changed(ground):
    edition = proposed(ground)
    with refuses(WrongState):
        write(ground, edition)
    services.return_edition(edition, reason="F-07 is missing", by=ground.manager, at=NOW)
    services.withdraw_edition(edition, reason="given up", by=ground.safety, at=NOW)
    with refuses(WrongState):
        write(ground, edition)


def test_a_draft_judges_nothing_until_it_is_in_force(ground):
    builders.accepted_lot(ground)
    write(ground, draft(ground), row(limit="999999"))
    builders.submitted(ground)  # 12 000 L on site


def test_the_same_form_sent_twice_writes_once(ground):
    edition = draft(ground)
    write(ground, edition, once="form-1")
    with refuses(AlreadyDone):
        write(ground, edition, once="form-1")
