"""The check list of an edition: written, copied, compared, and carried by a file."""

from __future__ import annotations

import json

import pytest

from facility.refusals import WrongState, WrongValue
from facility.rulebook.diff import Turn, compare
from facility.rulebook.models import CheckItem
from facility.rulebook.selectors import fingerprint, item_values, row_values
from facility.rulebook.starters import starter_items
from records.standard import services
from records.standard.exchange import read_rows, write_rows
from records.standard.listing import write_item
from records.standard.selectors import wrote_in
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW
from tests.standard.drafts import draft, proposed, row

ACT = "ground.check_written"


def item(**changes):
    return {"code": "B-01", "stage": "walk_through", "text": "Exits clear", "clause": "1",
            "basis": "local", **changes}  # fmt: skip


def write(ground, edition, given=None, **changes):
    return write_item(edition, given or item(), **{"by": ground.manager, "at": NOW, **changes})


def test_an_item_is_written_and_written_anew_under_its_code(ground):
    edition = draft(ground)
    with writes(ACT, CheckItem):
        assert write(ground, edition).blocks
    with writes(ACT, alters=[CheckItem]):
        write(ground, edition, item(blocks="no"))
    assert not edition.checks.get().blocks


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_write_no_item(ground, role):
    edition = draft(ground)
    with refuses_role():
        write(ground, edition, by=actor(ground, role))


@pytest.mark.parametrize("changes", [
    {"code": ""}, {"code": "B 1"}, {"stage": "later"}, {"text": ""}, {"text": "x" * 121},
    {"clause": ""}, {"basis": "hearsay"}, {"basis": "memory"}, {"blocks": "perhaps"},
    {"weight": "2"},
])  # fmt: skip
def test_what_is_no_item_is_refused(ground, changes):
    edition = draft(ground)
    with refuses(WrongValue):
        write(ground, edition, item(**changes))


def test_the_same_words_do_not_stand_twice_nor_a_code_that_is_new(ground):
    edition = draft(ground, items=[item()])
    with refuses(WrongValue, "text"):
        write(ground, edition, item(code="B-02", text="EXITS CLEAR"))
    with refuses(WrongValue, "code"):
        write(ground, edition, item(text="Vents move"), new=True)


def test_an_item_in_force_or_proposed_is_not_edited(ground):
    edition = proposed(ground, items=[item()])
    with refuses(WrongState):
        write(ground, edition)


def test_whoever_wrote_an_item_wrote_in_the_edition(ground):
    edition = draft(ground)
    assert not wrote_in(edition, ground.manager)
    write(ground, edition)
    assert wrote_in(edition, ground.manager)


def test_a_copy_has_the_items_and_what_was_shown_covers_them(ground):
    edition = draft(ground, items=[item()])
    copy = draft(ground, code="T-3", rows=(), copy_of=edition)
    assert item_values(copy) == item_values(edition)
    before = fingerprint(edition)
    write(ground, edition, item(blocks="no"))
    assert fingerprint(edition) != before


def test_items_travel_in_json_and_those_the_file_leaves_out_are_switched_off(ground):
    edition = draft(ground, items=[item(), item(code="B-02", text="Vents move")])
    told = write_rows(row_values(edition), "json", items=item_values(edition))
    sheet = read_rows(told, "standard.json")
    assert sheet.items == item_values(edition)
    services.import_rows(edition, sheet.rows, items=sheet.items[:1], by=ground.manager, at=NOW)
    assert [(each.code, each.on) for each in edition.checks.all()] == [("B-01", True), ("B-02", False)]  # fmt: skip
    services.import_rows(edition, sheet.rows, by=ground.manager, at=NOW)
    assert edition.checks.get(code="B-01").on


@pytest.mark.parametrize("items", [
    "list", [1], [item(stage="later")], [item(), item()], [item(), item(code="B-02")],
    [item(code=f"B-{n}", text=f"item {n}") for n in range(101)],
])  # fmt: skip
def test_a_file_with_a_bad_list_is_refused_whole_with_its_fault(items):
    data = json.dumps({"rows": [row()], "checks": items}).encode()
    sheet = read_rows(data, "rows.json")
    assert sheet.faults
    with pytest.raises(WrongValue):
        assert sheet.items


def test_a_comparison_tells_items_added_dropped_and_which_way_they_went():
    old = [item(blocks=True, on=True), item(code="B-02", text="Vents move", blocks=True, on=True)]
    new = [item(blocks=False, on=True), item(code="B-03", text="Radios", blocks=True, on=True)]
    found = compare([], [], (), (), old, new).items
    assert [each["code"] for each in found.added] == ["B-03"]
    assert [each["code"] for each in found.dropped] == ["B-02"]
    (change,) = found.changed[0].fields
    assert (change.field, change.turn) == ("blocks", Turn.LOOSER)


def test_the_starter_list_is_sound_and_none_of_it_is_from_memory(ground):
    edition = draft(ground, items=starter_items("starter"))
    assert edition.checks.count() == len(starter_items("starter")) > 10
    assert not edition.checks.filter(basis="memory").exists()
