"""Files of plans that cannot be taken, and that of several plans all are taken or none."""

from __future__ import annotations

import json

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from facility.guarded import opened
from facility.people.models import PersonDetails
from facility.refusals import WrongValue
from records.audit.models import Entry
from records.plans.importing import LARGEST, content_from, plans_in
from records.plans.models import Plan, PlanState
from tests import builders
from tests.asking import acts_after, whole_database
from tests.plans.over_cap import DAY, as_file, boards, content, ready


@pytest.fixture
def today(db):
    """A ground that lives now, by the clock that the commands read, and a plan that passes."""
    now = timezone.now().replace(second=0, microsecond=0)
    ground = builders.found_ground(at=now)
    ready(ground, now)
    ground.now, ground.good = now, as_file(content(ground, now))
    return ground


@pytest.fixture
def take(today, tmp_path, capsys):
    """Runs the import on bytes or plans; gives its exit status and what it said."""

    def run(given, *options):
        path = tmp_path / "plans.json"
        path.write_bytes(given if isinstance(given, bytes) else json.dumps(given).encode())
        try:
            call_command("import_plans", str(path), "--by", "test-instructor", *options)
            status = 0
        except SystemExit as ended:
            status = ended.code
        told = capsys.readouterr()
        return status, told.out + told.err

    return run


def refused(take, given, *words, status=2):
    """Refused with these words, and nothing written."""
    before, count = whole_database(), Entry.objects.count()
    found, told = take(given)
    assert found == status, told
    assert all(word in told for word in words), told
    assert whole_database() == before
    assert acts_after(count) == []


FILES = {
    "no JSON": (b"unit: Unit 1", "no JSON file"),
    "cut short": (b'[{"unit": "Unit 1"', "no JSON file"),
    "empty": (b"", "no JSON file"),
    "no text": (b"\xff\xfe\x00\x81", "no JSON file"),
    "a list of numbers": (b"[1, 2]", "mapping"),
    "a list of lists": (b"[[]]", "mapping"),
    "null": (b"null", "mapping"),
    "nested beyond all sense": (b"[" * 100_000 + b"]" * 100_000, "no JSON file"),
    "too large": (b" " * (LARGEST + 1), "larger than 2000000 bytes"),
}


@pytest.mark.parametrize(("given", "word"), FILES.values(), ids=FILES)
def test_what_is_no_file_of_plans_is_refused(take, given, word):
    refused(take, given, word)


def test_a_file_that_is_not_there_exits_2(today, tmp_path, capsys):
    with pytest.raises(SystemExit) as ended:
        call_command("import_plans", str(tmp_path / "none.json"), "--by", "test-instructor")
    assert ended.value.code == 2


FIELDS = {
    "an unknown unit": ({"unit": "Unit 9"}, "unit: Unit 9 is not known"),
    "no unit": ({"unit": None}, "unit"),
    "a unit in a list": ({"unit": ["Unit 1"]}, "unit"),
    "an unknown exercise": ({"exercise": "picnic"}, "exercise: picnic"),
    "a time without zone": ({"starts_at": "2027-05-31T09:30"}, "starts_at", "with its zone"),
    "a day": ({"ends_at": "2027-05-31"}, "ends_at", "with its zone"),
    "a number for a time": ({"starts_at": 1800000000}, "starts_at"),
    "the last year there is": ({"starts_at": "9999-12-31T23:59+00:00"}, "starts_at"),
    "the first year there is": ({"starts_at": "0001-01-01T00:00+12:00"}, "starts_at"),
    "long past": ({"starts_at": "2001-01-01T09:30+00:00", "ends_at": "2001-01-01T10:00+00:00"},),
    "an end before the start": ({"ends_at": "2020-01-01T09:30+00:00"},),
    "words for water": ({"water_l": "much"}, "water_l"),
    "NaN": ({"water_l": float("nan")}, "water_l"),
    "NaN in words": ({"water_l": "NaN"}, "water_l"),
    "endless water": ({"water_l": float("inf")}, "water_l"),
    "a number past all sense": ({"water_l": "1e999999"}, "water_l"),
    "true for a number": ({"water_l": True}, "water_l"),
    "less than no water": ({"water_l": -1},),
    "no objective": ({"objective": None}, "objective"),
    "abort criteria in a list": ({"abort_criteria": ["smoke"]}, "abort_criteria"),
    "an objective beyond its length": ({"objective": "x" * 301},),
    "a charge that is no list": ({"charge": {"position": "Ceiling"}}, "charge"),
    "a charge of numbers": ({"charge": [1]}, "charge"),
    "a crew of names": ({"crew": ["Learner 1"]}, "crew"),
    "stated in a list": ({"stated": ["burn.medic_on_site"]}, "stated"),
    "stated nested": ({"stated": {"burn.medic_on_site": {"yes": "yes"}}}, "burn.medic_on_site"),
    "a fact that no plan states": ({"stated": {"charge.dry_mass": "1"}}, "charge.dry_mass"),
    "a fact that there is not": ({"stated": {"burn.luck": "yes"}}, "burn.luck"),
    "a word that is no answer": ({"stated": {"burn.medic_on_site": "perhaps"}}, "perhaps"),
}  # fmt: skip


@pytest.mark.parametrize("case", FIELDS.values(), ids=FIELDS)
def test_a_field_that_cannot_be_taken_is_refused_by_name(today, take, case):
    change, *words = case
    refused(take, [{**today.good, **change}], *words)


PLACES = {
    "an unknown position": ("charge", {"position": "Roof"}, "position: Roof"),
    "an unknown product": ("charge", {"product": "Old doors"}, "product: Old doors"),
    "an unknown lot": ("charge", {"lot": "L-none"}, "lot: L-none"),
    "a lot that is no name": ("charge", {"lot": 0}, "lot: 0"),
    "less than no boards": ("charge", {"quantity": "-1"}),
    "half a board": ("charge", {"quantity": "0.5"}),
    "NaN boards": ("charge", {"quantity": "NaN"}, "quantity"),
    "an unknown person": ("crew", {"person": "nobody"}, "person: nobody"),
    "a person by number": ("crew", {"person": 1}, "person: 1"),
    "an unknown duty": ("crew", {"duty": "boss"}, "duty: boss"),
    "a learner's duty": ("crew", {"person": "Learner 1", "duty": "safety"}),
}


@pytest.mark.parametrize(("field", "change", "words"), [
    pytest.param(field, change, words, id=what) for what, (field, change, *words) in PLACES.items()
])  # fmt: skip
def test_a_line_or_place_that_cannot_be_taken_is_refused_by_name(today, take, field, change, words):
    first, *others = today.good[field]
    refused(take, [{**today.good, field: [{**first, **change}, *others]}], *words)


@pytest.mark.parametrize("field", ["unit", "exercise", "starts_at", "ends_at", "water_l", "objective"])  # fmt: skip
def test_what_is_left_out_is_refused(today, take, field):
    refused(take, [{key: value for key, value in today.good.items() if key != field}], field)


def test_things_of_another_ground_are_not_known_here(today, other):
    for field, name in (("product", other.board.name), ("lot", builders.deliver(other).code)):
        line = {**today.good["charge"][0], field: name}
        if field == "product":  # both grounds have a board of that name: it is our own
            (found,) = content_from({**today.good, "charge": [line]}, today.site).charge
            assert found.product == today.board
        else:
            with pytest.raises(WrongValue):
                content_from({**today.good, "charge": [line]}, today.site)
    with pytest.raises(WrongValue):
        crew = [{"person": other.instructor.sign_in, "duty": "crew"}]
        content_from({**today.good, "crew": crew}, today.site)


def test_a_name_that_two_people_bear_is_no_name_and_a_sign_in_is(today):
    with opened():
        PersonDetails.objects.filter(person=today.instructor_two).update(name="The safety")
    crew = [{"person": "The safety", "duty": "safety"}]
    with pytest.raises(WrongValue):
        content_from({**today.good, "crew": crew}, today.site)
    crew = [{"person": "test-safety", "duty": "safety"}, {"person": "The setter", "duty": "crew"}]
    found = content_from({**today.good, "crew": crew}, today.site).crew
    assert [place.person for place in found] == [today.safety, today.setter]


def test_the_plan_of_a_file_is_the_plan_that_was_written(today):
    whole = content(today, today.now)
    assert content_from(json.loads(json.dumps(as_file(whole))), today.site) == whole


def test_one_plan_alone_needs_no_list(today):
    assert plans_in(json.dumps(today.good).encode()) == [today.good]


# --- all or none


def third(today):
    """A good plan for a day of its own."""
    later = content(today, today.now)
    return as_file(
        builders.replace(later, starts_at=later.starts_at + DAY, ends_at=later.ends_at + DAY)
    )


def test_several_plans_are_drafted_and_submitted(today, take):
    status, told = take([today.good, third(today)])
    assert (status, told.strip()) == (0, "2 plans drafted and submitted")
    assert list(Plan.objects.values_list("state", flat=True)) == [PlanState.SUBMITTED] * 2


@pytest.mark.parametrize("options", [(), ("--dry-run",)])
def test_with_the_second_past_the_standard_none_is_taken(today, take, options):
    over = as_file(boards(5)(today, content(today, today.now), today.now))
    before, count = whole_database(), Entry.objects.count()
    status, told = take([today.good, over, third(today)], *options)
    assert status == 1
    assert "plan 2 of 3 is refused; none is taken" in told
    assert "Q-1: " in told
    assert whole_database() == before
    assert acts_after(count) == []


def test_with_the_second_unreadable_none_is_taken(today, take):
    refused(take, [today.good, {**today.good, "unit": "Unit 9"}], "plan 2 of 2", "Unit 9")


def test_a_dry_run_writes_nothing(today, take):
    before, count = whole_database(), Entry.objects.count()
    status, told = take([today.good, third(today)], "--dry-run")
    assert (status, told.strip()) == (0, "2 plans would be taken")
    assert whole_database() == before
    assert acts_after(count) == []


@pytest.mark.parametrize(
    "options", [("--by", "nobody"), ("--by", "test-instructor", "--ground", "Nowhere")]
)
def test_an_unknown_author_or_ground_exits_2(today, tmp_path, options):
    path = tmp_path / "plans.json"
    path.write_text(json.dumps(today.good))
    with pytest.raises(CommandError) as caught:
        call_command("import_plans", str(path), *options)
    assert caught.value.returncode == 2


def test_who_may_not_plan_may_not_import(today, tmp_path, capsys):
    path = tmp_path / "plans.json"
    path.write_text(json.dumps(today.good))
    with pytest.raises(SystemExit) as ended:
        call_command("import_plans", str(path), "--by", "test-auditor")
    assert ended.value.code == 2
    assert Plan.objects.count() == 0


@pytest.mark.parametrize("change", [{"unit": "Unit 9"}, {"exercise": "picnic"}, {"stated": {"burn.luck": "yes"}}, {"objective": ""}])  # fmt: skip
def test_what_cannot_be_taken_cannot_be_judged_either(today, tmp_path, capsys, change):
    path = tmp_path / "plans.json"
    path.write_text(json.dumps({**today.good, **change}))
    with pytest.raises(SystemExit) as ended:
        call_command("judge", "--plans", str(path))
    assert ended.value.code == 2
