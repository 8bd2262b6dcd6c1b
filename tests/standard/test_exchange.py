"""A standard written to a file and read back, and every kind of file that is not to be taken."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import random
import re
import zipfile
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from hypothesis import example, given
from hypothesis import strategies as st

from facility.refusals import NotHere, WrongState, WrongValue
from facility.rulebook.checks import FIELDS, check_row
from facility.rulebook.models import BurnSequence, BurnSequenceStep, Edition, LimitRow
from facility.rulebook.selectors import chart_values, row_values
from records.standard import services
from records.standard.exchange import FORMS, read_rows, write_rows
from records.standard.selectors import with_units
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW
from tests.spoiled import cells, csv_of, laughing, png, workbook_with, xlsx_of, zipped

ACT = "ground.rows_imported"
FIXTURE = Path(__file__).parents[2] / "fixtures" / "rulebook.json"
STARTER = json.loads(FIXTURE.read_text())["rows"]
CLEAN = [check_row(row).values for row in STARTER]
EVERY_FORM = pytest.mark.parametrize("form", FORMS)

GOOD = {
    "code": "F-07", "title": "Energy in the charge", "fact": "charge.energy", "comparison": "<=",
    "limit": "2000", "unit": "MJ", "severity": "block", "clause": "7.2", "basis": "local",
}  # fmt: skip
MOISTURE = {
    **GOOD, "code": "F-15", "fact": "charge.moisture_highest", "comparison": "between",
    "limit": "6", "limit_high": "12", "unit": "%",
}  # fmt: skip


def faults(data, name="rows.csv"):
    return [(each.row, each.column, each.value) for each in read_rows(data, name).faults]


def only_fault(data, name="rows.csv"):
    sheet = read_rows(data, name)
    (fault,) = sheet.faults
    assert fault.allowed
    with pytest.raises(WrongValue):
        _ = sheet.rows
    return fault


# Round trips


@EVERY_FORM
def test_the_starter_rulebook_comes_back_as_it_was(form):
    sheet = read_rows(write_rows(CLEAN, form), f"rows.{form}")
    assert sheet.faults == ()
    assert sheet.rows == CLEAN


def test_the_starter_file_itself_is_read():
    sheet = read_rows(FIXTURE.read_bytes(), FIXTURE.name)
    assert (sheet.faults, sheet.rows) == ((), CLEAN)


@EVERY_FORM
def test_the_form_is_seen_in_the_file_whatever_its_name(form):
    assert read_rows(write_rows(CLEAN, form), "upload").rows == CLEAN


printable = st.characters(exclude_categories=["Cs", "Cc", "Cn", "Co", "Cf", "Zl", "Zp"]).filter(
    str.isprintable
)
odd = st.text(printable, min_size=1, max_size=60).filter(lambda text: text.strip())
runs = st.builds("".join, st.tuples(st.sampled_from(["=", "+", "-", "@", "'=", "''@", "'", '"', '="', "＝"]), odd))  # fmt: skip


@given(st.lists(st.tuples(odd | runs, runs | st.just("")), min_size=1, max_size=5))
def test_odd_texts_come_back_as_they_were(texts):
    rows = [
        check_row({**GOOD, "code": f"X-{number}", "title": title, "why": why}).values
        for number, (title, why) in enumerate(texts)
    ]
    for form in FORMS:
        assert read_rows(write_rows(rows, form), f"rows.{form}").rows == rows


@given(st.decimals(0, 10**9, places=3), st.booleans(), st.booleans())
def test_numbers_and_yes_or_no_come_back_exactly(limit, two_people, on):
    row = {**GOOD, "limit": limit, "two_people": two_people, "on": on, "waivable_by": "manager"}
    values = check_row(row).values
    assert (values["limit"], values["two_people"], values["on"]) == (limit, two_people, on)
    for form in FORMS:
        assert read_rows(write_rows([values], form), f"rows.{form}").rows == [values]


def test_charts_and_the_name_of_the_edition_travel_in_json(ground):
    charts = chart_values(ground.edition)
    named = {"code": "T-1", "title": "Edition T-1", "jurisdiction": ""}
    data = write_rows(row_values(ground.edition), "json", edition=named, charts=charts)
    assert json.loads(data)["charts"][0] == {
        "unit": "Unit 1", "caps_dry_kg": [100, 75], "burns_before_cooling": 2, "cooling_min": 60,
        "wait_min": 30, "trial_on": "2026-01-28", "trial_note": "trial",
    }  # fmt: skip
    sheet = read_rows(data, "edition.json")
    assert (sheet.edition, sheet.charts) == (named, charts)
    assert sheet.rows == row_values(ground.edition)


# What is written


def test_a_csv_opens_in_a_spreadsheet_and_runs_nothing():
    """OWASP ASVS 5.0, 1.2.10: = + - @ and tab at the start of a field take a single quote."""
    titles = ["=1+1", "+1", "-1", "@SUM(A1)", "＝1", "plain", "'=1"]
    rows = [{**GOOD, "code": f"X-{n}", "title": title} for n, title in enumerate(titles)]
    data = write_rows([*rows, {**GOOD, "title": "\t=1"}], "csv")
    assert data.startswith(b"\xef\xbb\xbfcode,jurisdiction,title,fact,")
    lines = list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"), newline="")))
    assert [line["title"] for line in lines] == [
        "'=1+1", "'+1", "'-1", "'@SUM(A1)", "'＝1", "plain", "''=1", "'\t=1",
    ]  # fmt: skip
    assert {line["limit"] for line in lines} == {"2000"}


def test_numbers_are_written_plain():
    rows = [{**GOOD, "limit": Decimal("2E+3")}, {**GOOD, "limit": Decimal("0.500")}]
    lines = list(csv.DictReader(io.StringIO(write_rows(rows, "csv").decode("utf-8-sig"))))
    assert [line["limit"] for line in lines] == ["2000", "0.5"]
    sheet = openpyxl.load_workbook(io.BytesIO(write_rows(rows, "xlsx"))).worksheets[0]
    assert [sheet.cell(line, 1 + FIELDS.index("limit")).value for line in (2, 3)] == [2000, 0.5]


def test_a_workbook_holds_text_and_no_formula():
    data = write_rows([{**GOOD, "title": '=HYPERLINK("x")', "why": "https://x"}], "xlsx")
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert b"<f>" not in archive.read("xl/worksheets/sheet1.xml")
        assert b"hyperlink" not in archive.read("xl/worksheets/sheet1.xml")
        assert b'quotePrefix="1"' in archive.read("xl/styles.xml")
    cell = openpyxl.load_workbook(io.BytesIO(data)).worksheets[0]["C2"]
    assert (cell.value, cell.data_type) == ('=HYPERLINK("x")', "s")
    assert cell.quotePrefix


# What is read


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig"])
def test_semicolons_and_a_decimal_comma(encoding):
    row = {**MOISTURE, "title": "Größte Feuchte", "limit": "6,5", "limit_high": "12,125"}
    data = csv_of(row, GOOD, delimiter=";", encoding=encoding)
    first, second = read_rows(data, "rows.csv").rows
    assert (first["limit"], first["limit_high"]) == (Decimal("6.5"), Decimal("12.125"))
    assert (first["title"], second["limit"]) == ("Größte Feuchte", Decimal(2000))


@pytest.mark.parametrize(
    ("delimiter", "limit", "either"), [(",", "2,000", "2000 or 2.000"), (";", "2.000", "2000 or 2,000")]
)  # fmt: skip
def test_a_number_that_may_mean_a_thousand_is_not_guessed(delimiter, limit, either):
    fault = only_fault(csv_of({**GOOD, "limit": limit}, delimiter=delimiter))
    assert (fault.row, fault.column, fault.value) == (2, "limit", limit)
    assert either in fault.allowed


def test_a_spreadsheet_s_own_true_and_blank_rows_are_understood():
    row = {**GOOD, "fact": "unit.in_service", "comparison": "TRUE", "limit": "", "unit": ""}
    data = csv_of(row, {}, {**row, "code": "F-08", "two_people": "TRUE"}, columns=[*GOOD, "on"])
    sheet = read_rows(data, "rows.csv")
    assert [each["comparison"] for each in sheet.rows] == ["true", "true"]
    cells = [[True if name == "comparison" else row[name] for name in row]]
    (read,) = read_rows(xlsx_of(list(row), *cells), "rows.xlsx").rows
    assert read["comparison"] == "true"


def test_rows_are_numbered_as_the_person_sees_them():
    """The heading is row 1 and a blank row counts."""
    bad = {**GOOD, "code": "F-08", "limit": "-5"}
    cells = [[row.get(name, "") for name in GOOD] for row in (GOOD, {}, bad)]
    assert faults(csv_of(GOOD, {}, bad, columns=list(GOOD))) == [(4, "limit", "-5")]
    assert faults(xlsx_of(list(GOOD), *cells), "rows.xlsx") == [(4, "limit", "-5")]
    assert faults(json.dumps([GOOD, bad]).encode()) == [(2, "limit", "-5")]


def broken(**changes):
    return {**GOOD, **changes}


BAD_ROWS = {
    "unknown fact": (broken(fact="charge.colour"), "fact", "charge.colour"),
    "wrong unit": (broken(unit="kg"), "unit", "kg"),
    "negative limit": (broken(limit="-1"), "limit", "-1"),
    "high below low": ({**MOISTURE, "limit_high": "5"}, "limit_high", "5"),
    "missing clause": (broken(clause=""), "clause", ""),
    "memory that blocks": (broken(basis="memory"), "severity", "block"),
    "no number": (broken(limit="NaN"), "limit", "NaN"),
    "endless": (broken(limit="Infinity"), "limit", "Infinity"),
    "too large": (broken(limit="1e400"), "limit", "1e400"),
    "far too large": (broken(limit="1e999999999999999999999"), "limit", "1e999999999999999999999"),
    "NUL": (broken(title="a\0b"), "title", repr("a\0b")),
    "line end": (broken(why="one\ntwo"), "why", repr("one\ntwo")),
    "a formula for a code": (broken(code="=1+1"), "code", "=1+1"),
}  # fmt: skip
bad_row = pytest.mark.parametrize(("row", "column", "value"), BAD_ROWS.values(), ids=list(BAD_ROWS))


@bad_row
def test_a_bad_row_is_named_with_column_and_value_in_csv_and_json(row, column, value):
    other = broken(code="Z-1")
    fault = only_fault(csv_of(other, row))
    assert (fault.row, fault.column, fault.value) == (3, column, value)
    fault = only_fault(json.dumps([other, row]).encode(), "rows.json")
    assert (fault.row, fault.column, fault.value) == (2, column, value)


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e400", "-0.5"])
def test_json_s_own_numbers_are_no_way_round(number):
    data = json.dumps([GOOD]).replace('"2000"', number).encode()
    assert faults(data) == [(1, "limit", number)]


def test_every_fault_of_a_row_is_named():
    row = broken(unit="kg", limit="-1", clause="", basis="hearsay")
    assert {column for _, column, _ in faults(csv_of(row))} == {"unit", "limit", "clause", "basis"}


def test_an_unknown_column_is_named_once():
    assert faults(csv_of(broken(limt="5"), broken(code="F-08", limt="6"))) == [(1, "limt", "limt")]
    assert faults(json.dumps([broken(limt="5")]).encode()) == [(1, "limt", "5")]


def test_a_column_stands_once():
    data = csv_of(GOOD).replace(b"title,fact", b"title,title")
    assert (1, "title", "title") in faults(data)


@EVERY_FORM
def test_a_code_stands_once(form):
    rows = [GOOD, broken(code="F-08"), GOOD]
    fault = only_fault(write_rows(rows, form), f"rows.{form}")
    first, last = (1, 3) if form == "json" else (2, 4)
    assert (fault.row, fault.column, fault.value) == (last, "code", "F-07")
    assert f"row {first}" in fault.allowed


def test_a_name_stands_once_in_an_object_of_json():
    data = b'[{"code": "A", "limit": 5, "limit": 500}]'
    assert only_fault(data).value == "limit"


@pytest.mark.parametrize("line", [b"F-08,Short", b"F-08" + b",x" * 20])
def test_a_ragged_line_is_named(line):
    fault = only_fault(csv_of(GOOD) + line + b"\r\n")
    assert (fault.row, fault.column) == (3, "")
    assert fault.value == f"{line.count(b',') + 1} cells"


def test_a_cell_in_another_encoding_is_named():
    data = csv_of(GOOD, broken(code="F-08", title="Größe"), encoding="cp1252")
    fault = only_fault(data)
    assert (fault.row, fault.column, fault.value) == (3, "title", "Gr\ufffd\ufffde")
    assert "UTF-8" in fault.allowed


def test_quotes_that_do_not_pair_are_named():
    fault = only_fault(csv_of(GOOD) + b'F-08,"never ends\r\n')
    assert fault.row == 3


@pytest.mark.parametrize("cached", [0, 5])
def test_a_formula_in_a_workbook_is_no_value(cached):
    data = xlsx_of(list(GOOD), list(GOOD.values()), formula=(1, 4, "=2*1000", None, cached))
    fault = only_fault(data, "rows.xlsx")
    assert (fault.row, fault.column, fault.value) == (2, "limit", "=2*1000")


def test_an_endless_number_in_a_workbook_is_no_value():
    cells = [float("inf") if name == "limit" else value for name, value in GOOD.items()]
    assert faults(xlsx_of(list(GOOD), cells), "rows.xlsx")[0][:2] == (2, "limit")


# Files that are none


SOUND = write_rows(CLEAN[:3], "xlsx")
BOMB = workbook_with(
    SOUND, "xl/worksheets/sheet1.xml", b" " * 10**8
)  # 100 kB that unpack to 100 MB
NO_FILES = {
    "empty": (b"", "rows.csv"),
    "cells of white space": (b" , ,\n , ,", "rows.csv"),
    "white space": (b"\r\n \r\n", "rows.csv"),
    "picture": (png(), "rows.csv"),
    "picture called a workbook": (png(), "rows.xlsx"),
    "UTF-16": (csv_of(GOOD, encoding="utf-16"), "rows.csv"),
    "no heading": (csv_of(GOOD).split(b"\n", 1)[1], "rows.csv"),
    "heading alone": (csv_of(columns=list(FIELDS)), "rows.csv"),
    "too large": (b"code\n" + b"a" * 5_000_000, "rows.csv"),
    "endless cell": (b"code,title\n" + b"a" * 1_000_000, "rows.csv"),
    "truncated workbook": (SOUND[: len(SOUND) // 2], "rows.xlsx"),
    "workbook without its end": (SOUND[:-30], "rows.xlsx"),
    "zip of something else": (zipped(**{"a.txt": "a"}), "rows.xlsx"),
    "bomb": (BOMB, "rows.xlsx"),
    "bomb in the styles": (workbook_with(SOUND, "xl/styles.xml", b" " * 10**7), "rows.xlsx"),
    "bomb of empty cells": (
        workbook_with(SOUND, "xl/worksheets/sheet1.xml", cells(3_000_000)),
        "rows.xlsx",
    ),
    "more charts than units": (
        b'{"rows": [%s], "charts": [%s{}]}' % (json.dumps(GOOD).encode(), b"{}," * 10**5),
        "rows.json",
    ),
    "billion laughs": (workbook_with(SOUND, "xl/sharedStrings.xml", laughing()), "rows.xlsx"),
    "broken sheet": (
        workbook_with(SOUND, "xl/worksheets/sheet1.xml", b"<worksheet><row>"),
        "rows.xlsx",
    ),
    "no texts": (workbook_with(SOUND, "xl/sharedStrings.xml", b""), "rows.xlsx"),
    "deep list": (b"[" * 10_000 + b"]" * 10_000, "rows.json"),
    "deep object": (b'{"rows":' * 10_000 + b"1" + b"}" * 10_000, "rows.json"),
    "deep and never closed": (b'[{"code":' * 10_000, "rows.json"),
    "no JSON": (b"{rows: 1}", "rows.json"),
    "JSON that ends early": (b'{"rows": [', "rows.json"),
    "JSON without rows": (b'{"edition": {}}', "rows.json"),
    "JSON of one word": (b'"rows"', "rows.json"),
    "JSON in another encoding": ('[{"code": "ö"}]'.encode("cp1252"), "rows.json"),
}


@pytest.mark.parametrize(("data", "name"), NO_FILES.values(), ids=list(NO_FILES))
def test_a_file_that_is_none_is_one_fault_of_the_file(data, name):
    assert len(data) < 5_100_000
    fault = only_fault(data, name)
    assert fault.row == (2 if data.startswith(b"code,title\n") else 0)


def test_a_bomb_is_not_unpacked(monkeypatch):
    monkeypatch.setattr(openpyxl, "load_workbook", lambda *_, **__: pytest.fail("unpacked"))
    assert only_fault(BOMB, "rows.xlsx").value == "100.0 MB"


def test_a_workbook_far_too_wide_is_named_by_its_row():
    far = cells(1).replace("<c/>", '<c r="ZZZ1"/>')
    fault = only_fault(workbook_with(SOUND, "xl/worksheets/sheet1.xml", far), "rows.xlsx")
    assert (fault.row, fault.value) == (1, "18278 cells")  # Z, ZZ, ZZZ: 26 + 26^2 + 26^3


def test_a_workbook_that_lies_about_its_size_is_read_to_its_real_end():
    data = write_rows(CLEAN[:3], "xlsx")
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        xml = archive.read("xl/worksheets/sheet1.xml")
    lying = re.sub(rb'<dimension ref="[^"]*"/>', b'<dimension ref="A1:XFD1048576"/>', xml)
    assert lying != xml
    assert (
        read_rows(workbook_with(SOUND, "xl/worksheets/sheet1.xml", lying), "x.xlsx").rows
        == CLEAN[:3]
    )


@example(b" , \0,", "")
@example(b"\x0c,", "")
@given(st.binary(max_size=300), st.sampled_from(["a.csv", "a.xlsx", "a.json", ""]))
def test_no_bytes_raise_anything(data, name):
    assert read_rows(data, name).faults


def test_no_spoiled_file_raises_anything():
    """One byte changed, at 100 places chosen by a fixed seed, in each form."""
    chance = random.Random(7)
    for form in FORMS:
        sound = write_rows(CLEAN[:5], form)
        for place in chance.sample(range(len(sound)), 100):
            spoiled = bytearray(sound)
            spoiled[place] ^= chance.randrange(1, 256)
            sheet = read_rows(bytes(spoiled), f"rows.{form}")
            assert sheet.faults or len(sheet.rows) == 5


# Many rows


@EVERY_FORM
def test_ten_thousand_rows_with_one_bad_are_read_and_that_one_is_named(form):
    """The edition holds at most 2,000; that is said as well."""
    rows = [broken(code=f"X-{number}") for number in range(10_000)]
    rows[7_000]["unit"] = "kg"
    sheet = read_rows(write_rows(rows, form), f"rows.{form}")
    whole, bad = sheet.faults
    assert (whole.row, whole.value) == (0, "10000 rows")
    row = 7_001 if form == "json" else 7_002
    assert (bad.row, bad.column, bad.value) == (row, "unit", "kg")
    assert "MJ" in bad.allowed
    with pytest.raises(WrongValue):
        _ = sheet.rows


def test_ten_thousand_bad_rows_are_all_listed():
    rows = [broken(code=f"X-{number}", limit="-1") for number in range(10_000)]
    found = faults(csv_of(*rows))
    assert found[1:] == [(number, "limit", "-1") for number in range(2, 10_002)]


# Charts of a file


CHART = {
    "unit": "Unit 1", "caps_dry_kg": [90, 60.5], "burns_before_cooling": 1, "cooling_min": 90,
    "wait_min": 45, "trial_on": "2026-02-01", "trial_note": "trial",
}  # fmt: skip


def with_charts(*charts):
    return json.dumps({"rows": [GOOD], "charts": charts}).encode()


@pytest.mark.parametrize(
    ("field", "value"),
    [("unit", ""), ("unit", True), ("caps_dry_kg", []), ("caps_dry_kg", ["x"]), ("caps_dry_kg", 90),
     ("caps_dry_kg", [90.55]), ("cooling_min", "soon"), ("wait_min", -1), ("wait_min", 1.5),
     ("trial_on", "yesterday"), ("trial_on", None), ("trial_note", "a\0")],
)  # fmt: skip
def test_a_chart_that_cannot_be_read_is_named(field, value):
    fault = only_fault(with_charts({**CHART, field: value}), "rows.json")
    assert (fault.row, fault.column) == (0, f"chart 1 {field}")


def test_a_chart_has_its_fields_and_no_others():
    assert only_fault(with_charts({**CHART, "colour": "red"})).column == "chart 1"
    assert only_fault(with_charts(CHART, CHART)).column == "chart 2"


# Taken into a draft


def drafted(ground):
    return services.draft_edition(
        ground.site, code="T-2", title="Second", copy_of=ground.edition, by=ground.safety, at=NOW
    )


def take(ground, edition, data, name="rows.json", **changes):
    sheet = read_rows(data, name)
    charts = with_units(ground.site, sheet.charts)
    given = {"charts": charts, "by": ground.safety, "at": NOW, **changes}
    return services.import_rows(edition, sheet.rows, **given)


@EVERY_FORM
def test_rows_the_file_leaves_out_are_switched_off(ground, form):
    edition = drafted(ground)
    rows = [row for row in row_values(edition) if row["code"] != "F-15"]
    with writes(ACT, alters=[LimitRow]):
        assert take(ground, edition, write_rows(rows, form), f"a.{form}") == 11
    off = edition.rows.filter(on=False).values_list("code", flat=True)
    assert list(off) == ["F-15"]


def test_a_chart_is_taken_with_the_rows(ground):
    edition = drafted(ground)
    data = json.dumps({"rows": [GOOD], "charts": [CHART]}).encode()
    with writes(ACT, alters=[LimitRow, BurnSequence, BurnSequenceStep]):
        take(ground, edition, data)
    (chart,) = chart_values(edition)
    day = dt.date(2026, 2, 1)
    assert chart == {**CHART, "caps_dry_kg": [90, Decimal("60.5")], "trial_on": day}


def test_a_chart_that_is_refused_takes_the_rows_with_it(ground):
    edition = drafted(ground)
    for wrong in ({"cooling_min": 5000}, {"trial_on": "2026-02-05"}):
        with refuses(WrongValue, next(iter(wrong))):
            take(ground, edition, with_charts({**CHART, **wrong}))
    with refuses(NotHere):
        take(ground, edition, with_charts({**CHART, "unit": "Unit 9"}))


def test_nothing_is_taken_of_a_file_with_a_fault(ground):
    edition = drafted(ground)
    with refuses(WrongValue, "limit"):
        take(ground, edition, csv_of(GOOD, broken(code="F-08", limit="-1")), "rows.csv")


def test_more_rows_than_an_edition_holds_are_refused(ground):
    edition = drafted(ground)
    rows = [broken(code=f"X-{number}") for number in range(2001)]
    with refuses(WrongValue, "rows"):
        services.import_rows(edition, rows, by=ground.safety, at=NOW)


def test_an_import_of_nothing_does_not_empty_the_edition(ground):
    edition = drafted(ground)
    with refuses(WrongValue, "rows"):
        services.import_rows(edition, [], by=ground.safety, at=NOW)


def test_an_edition_in_force_takes_nothing(ground):
    with refuses(WrongState):
        take(ground, ground.edition, csv_of(GOOD), "rows.csv")


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_import(ground, role):
    edition = drafted(ground)
    with refuses_role():
        take(ground, edition, csv_of(GOOD), "rows.csv", by=actor(ground, role))


def test_spaces_around_a_fact_are_not_kept(ground):
    """The engine looks a fact up by its key."""
    edition = drafted(ground)
    take(ground, edition, csv_of(broken(fact=" charge.energy ")), "rows.csv")
    assert edition.rows.get(code="F-07").fact == "charge.energy"


# The commands


def importing(path, *more, ground="Test ground", edition="T-2", by="test-safety"):
    out, err = io.StringIO(), io.StringIO()
    call_command("import_edition", str(path), f"--ground={ground}", f"--edition={edition}",
                 f"--by={by}", *more, stdout=out, stderr=err)  # fmt: skip
    return out.getvalue()


def test_an_edition_is_exported_and_imported_by_command(ground, tmp_path):
    path = tmp_path / "edition.json"
    call_command("export_edition", "T-1", str(path), stdout=io.StringIO())
    edition = services.draft_edition(ground.site, code="T-2", title="Two", by=ground.safety)
    assert importing(path) == "12 rows and 1 charts taken into T-2.\n"
    assert row_values(edition) == row_values(ground.edition)
    assert chart_values(edition) == chart_values(ground.edition)


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_an_edition_is_exported_for_a_spreadsheet(ground, tmp_path, form):
    path = tmp_path / f"edition.{form}"
    call_command("export_edition", "T-1", str(path), "--ground=Test ground", stdout=io.StringIO())
    assert read_rows(path.read_bytes(), path.name).rows == row_values(ground.edition)


def test_a_dry_run_says_what_would_change_and_writes_nothing(ground, tmp_path, log):
    edition = drafted(ground)
    before = row_values(edition)
    path = tmp_path / "rows.csv"
    path.write_bytes(csv_of(broken(limit="1500", clause="test standard"), broken(code="N-1")))
    log.mark()
    told = importing(path, "--dry-run")
    assert told.startswith("rows: 1 added, 11 dropped, 1 changed\ncharts: 0 added, 0 dropped, 0 ")
    assert (row_values(edition), log.acts) == (before, [])


def test_bad_rows_are_listed_a_line_each_and_end_with_2(ground, tmp_path, log):
    drafted(ground)
    path = tmp_path / "rows.csv"
    path.write_bytes(csv_of(GOOD, broken(code="X-1", limit="-1", clause=""), broken(code="X-2", unit="kg")))  # fmt: skip
    log.mark()
    err = io.StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command("import_edition", str(path), "--ground=Test ground", "--edition=T-2",
                     "--by=test-safety", stderr=err)  # fmt: skip
    assert ended.value.code == 2
    first, second = err.getvalue().splitlines()
    assert first.startswith("row 3: clause: ")
    assert "limit -1: " in first
    assert second.startswith("row 4: unit kg: ")
    assert log.acts == []


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"edition": "T-1"}, "in force"),
        ({"edition": "T-9"}, "No such edition"),
        ({"ground": "Nowhere"}, "No such edition"),
        ({"by": "nobody"}, "Nobody signs in"),
        ({"by": "test-stores"}, "needs the role"),
    ],
)
def test_the_command_ends_with_2_on_a_refusal(ground, tmp_path, changes, said):
    drafted(ground)
    path = tmp_path / "rows.csv"
    path.write_bytes(csv_of(GOOD))
    with pytest.raises(CommandError, match=said) as refused:
        importing(path, **changes)
    assert refused.value.returncode == 2


def test_the_command_ends_with_2_without_a_file(ground, tmp_path):
    drafted(ground)
    for run in (lambda: importing(tmp_path / "none.csv"),
                lambda: call_command("export_edition", "T-1", str(tmp_path / "rows.pdf")),
                lambda: call_command("export_edition", "T-9", str(tmp_path / "rows.csv"))):  # fmt: skip
        with pytest.raises(CommandError) as refused:
            run()
        assert refused.value.returncode == 2


def test_a_code_of_two_grounds_needs_the_ground(ground, other, tmp_path):
    path = tmp_path / "rows.csv"
    with pytest.raises(CommandError, match="--ground"):
        call_command("export_edition", "T-1", str(path))
    assert not path.exists()
    assert Edition.objects.filter(code="T-1").count() == 2
