"""Taking many rows into a draft: all or none; what the file leaves out is switched off."""

from __future__ import annotations

import pytest

from facility.refusals import WrongState, WrongValue
from facility.rulebook.models import LimitRow
from records.standard import services
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW
from tests.standard.drafts import draft, proposed, row

ACT = "ground.rows_imported"


def take(ground, edition, rows, **changes):
    return services.import_rows(edition, rows, **{"by": ground.manager, "at": NOW, **changes})


def on(edition):
    return set(edition.rows.filter(on=True).values_list("code", flat=True))


def test_the_rows_of_the_file_are_on_and_the_others_off_and_kept(ground):
    edition = draft(ground)
    changed = {**builders.rows(F_07="900")[7], "code": " F-07 "}  # blanks around a code are dropped
    with writes(ACT, LimitRow, alters=[LimitRow]):
        assert take(ground, edition, [row(), row(code="N-2"), changed]) == 3
    assert on(edition) == {"N-1", "N-2", "F-07"}
    assert edition.rows.get(code="F-07").limit == 900
    assert edition.rows.count() == len(builders.ROWS) + 2


def test_the_same_file_taken_twice_leaves_the_same_rows(ground):
    edition = draft(ground)
    take(ground, edition, [row()])
    before = list(edition.rows.values())
    with writes(ACT):
        take(ground, edition, [row()])
    assert list(edition.rows.values()) == before


def test_one_fault_refuses_the_whole_file_and_names_row_and_field(ground):
    edition = draft(ground)
    with refuses(WrongValue, "limit") as caught:
        take(ground, edition, [row(), row(code="N-2", limit="some")])
    assert "N-2" in caught.value.sentence
    assert "some" in caught.value.sentence


@pytest.mark.parametrize("second", ["N-1", " N-1"])
def test_a_code_that_stands_twice_is_refused(ground, second):
    edition = draft(ground)
    with refuses(WrongValue, "code"):
        take(ground, edition, [row(), row(code=second)])


def test_an_edition_has_an_end(ground, monkeypatch):
    edition, many = draft(ground), [row(code=f"N-{n}") for n in range(6)]
    monkeypatch.setattr(services, "MOST_ROWS", 5)
    with refuses(WrongValue, "rows"):
        take(ground, edition, many)
    assert take(ground, edition, many[:5]) == 5


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_import(ground, role):
    edition = draft(ground)
    with refuses_role():
        take(ground, edition, [row()], by=actor(ground, role))


def test_only_a_draft_takes_rows(ground):
    for edition in (ground.edition, proposed(ground)):
        with refuses(WrongState):
            take(ground, edition, [row()])
