"""Files into the store: what is taken, and every file that is refused whole.

The corpus is that of trust, section 7, for CSV and XLSX; each case goes through the upload page.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import zipfile
from decimal import Decimal

import openpyxl
import pytest
import xlsxwriter
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from facility.refusals import NotAllowed, WrongValue
from records.audit.models import Entry
from records.stock import counting, files
from records.stock.models import (
    ColumnMapping,
    Delivery,
    Lot,
    MoistureReading,
    Stocktake,
    StoreFile,
)
from records.stock.selectors import sum_of_movements
from tests import builders
from tests.asking import actor, refused_roles, refuses
from tests.builders import NOW
from tests.pages import rows as rows_stored
from tests.spoiled import cells, csv_of, laughing, png, workbook_and, xlsx_of, zipped

LATER = NOW + dt.timedelta(hours=3)
HEADING = ["lot", "moisture_pct", "meter", "read_at"]


def reading(**changes):
    return {"lot": "L-A", "moisture_pct": "8.5", "meter": "meter", "read_at": "2026-02-04 23:00", **changes}  # fmt: skip


def delivery(**changes):
    return {"supplier": "Board yard", "docket": "D-1", "delivered": "2026-02-03", "untreated": "yes",
            "lot": "N-1", "product": "Test board", "received": "40", "bay": "Bay 1",
            "sheet_mass_kg": "25.4", **changes}  # fmt: skip


def count(**changes):
    return {"lot": "L-A", "counted": "39", "reason": "one broke", **changes}


@pytest.fixture
def stocked(ground):
    """A ground with one lot of forty boards, L-A. In its zone NOW is the 4th at 21:00."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(builders, "_lot_codes", iter(["A"]))
        builders.deliver(ground, 40, at=NOW - dt.timedelta(days=2))
    return ground


def judge(ground, kind, data, name="rows.csv", **more):
    return files.judge(ground.site, kind, data, name, now=LATER, **more)


def take(ground, kind, data, name="rows.csv", **more):
    return files.take(ground.site, judge(ground, kind, data, name, **more), by=ground.stores, at=LATER)  # fmt: skip


def told(judged):
    return [(each.row, each.column, each.value) for each in judged.faults]


# What is taken


def test_deliveries_become_dockets_with_their_lots(stocked, log):
    data = csv_of(delivery(), delivery(lot="N-2", received="12", sheet_mass_kg=""), delivery(docket="D-2", lot="N-3"))  # fmt: skip
    log.mark()
    assert take(stocked, "deliveries", data) == 3
    made = {each.docket: each for each in Delivery.objects.filter(docket__startswith="D-").exclude(docket="D-L-A")}  # fmt: skip
    assert {lot.code: lot.received for lot in made["D-1"].lots.all()} == {"N-1": 40, "N-2": 12}
    assert made["D-1"].delivered_at == dt.datetime(2026, 2, 3, tzinfo=stocked.site.zone)
    assert sum_of_movements(Lot.objects.get(code="N-3")) == 40
    assert log.acts == ["stock.delivery_received"] * 2 + ["stock.columns_mapped", "stock.file_taken"]  # fmt: skip
    assert dict(Entry.objects.first().after)["hash"] == StoreFile.objects.get().sha256


def test_readings_are_recorded_by_lot_meter_and_time(stocked, log):
    data = csv_of(
        reading(), reading(moisture_pct="9"), reading(meter="pin meter", moisture_pct="10.25")
    )
    log.mark()
    assert take(stocked, "readings", data) == 3
    kept = MoistureReading.objects.values_list("meter", "moisture_pct")
    assert sorted(kept) == [
        ("meter", Decimal("8.5")),
        ("meter", 9),
        ("pin meter", Decimal("10.25")),
    ]
    assert log.acts[:2] == ["stock.reading_recorded"] * 2


def test_counts_wait_in_a_stocktake_for_a_signature(stocked, log):
    lot = Lot.objects.get(code="L-A")
    log.mark()
    assert take(stocked, "counts", csv_of(count())) == 1
    assert log.acts[:2] == ["stock.stocktake_started", "stock.stock_counted"]
    assert sum_of_movements(lot) == 40
    stocktake = Stocktake.objects.get()
    counting.sign_stocktake(
        stocktake, shown_hash=counting.content_hash(stocktake, "counted"), by=stocked.stores,
        at=LATER,
    )  # fmt: skip
    assert sum_of_movements(lot) == 39
    assert lot.movements.last().reason == "one broke"


def test_meters_that_are_not_listed_or_out_of_calibration_are_named(stocked):
    builders.add_meter(stocked, "old", at=NOW, due_on=NOW.date() - dt.timedelta(days=9))
    judged = judge(stocked, "readings", csv_of(reading(meter="none"), reading(meter="old")))
    assert [(row, column) for row, column, _value in told(judged)] == [(2, "meter"), (3, "meter")]
    assert "calibrat" in judged.faults[1].allowed


def test_a_workbook_with_dates_of_1904_and_numbers_as_text_is_read_as_it_shows(stocked):
    file = io.BytesIO()
    book = xlsxwriter.Workbook(file, {"in_memory": True, "date_1904": True})
    sheet, dated = book.add_worksheet(), book.add_format({"num_format": "yyyy-mm-dd hh:mm"})
    sheet.write_row(0, 0, HEADING)
    sheet.write_row(1, 0, ["L-A", "8.5", "meter"])
    sheet.write_datetime(1, 3, dt.datetime(2026, 2, 4, 23, 0), dated)  # noqa: DTZ001
    book.close()
    (item,) = judge(stocked, "readings", file.getvalue(), "rows.xlsx").items
    assert item.readings == (Decimal("8.5"),)
    assert item.read_at == dt.datetime(2026, 2, 4, 23, 0, tzinfo=stocked.site.zone)


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig"])
def test_commas_semicolons_tabs_and_the_mark_of_utf_8(db, delimiter, encoding):
    opened = files.open_lines(
        csv_of(reading(meter='pin "1"\nnew'), delimiter=delimiter, encoding=encoding), "a.csv", files.LIMITS
    )  # fmt: skip
    lines = [cells for _number, cells in opened.lines]
    assert lines == [HEADING, ["L-A", "8.5", 'pin "1"\nnew', "2026-02-04 23:00"]]
    assert opened.decimal == ("," if delimiter == ";" else ".")


def test_columns_in_another_order_and_words_are_understood(stocked):
    data = b"Date;Pack;MC;Instrument\n4.2.2026 23:00;l-a;8,5;meter\n"
    (item,) = judge(stocked, "readings", data).items
    assert (item.lot.code, item.readings) == ("L-A", (Decimal("8.5"),))


def test_a_column_explained_once_is_remembered_per_supplier(stocked):
    row = {"Palette": "N-9", "Menge": "5", **{k: v for k, v in delivery().items() if k not in ("supplier", "lot", "received")}}  # fmt: skip
    data = csv_of(row)
    first = judge(stocked, "deliveries", data, supplier="Board yard")
    assert {column for _row, column, _value in told(first)} == {"Palette", "Menge", "lot mark", "received"}  # fmt: skip
    chosen = {"Palette": "lot", "Menge": "received"}
    take(stocked, "deliveries", data, supplier="Board yard", chosen=chosen)
    again = csv_of({**row, "Palette": "N-10", "docket": "D-7"})
    assert judge(stocked, "deliveries", again, supplier="board yard").faults == []
    assert judge(stocked, "deliveries", again, supplier="Another").faults
    assert ColumnMapping.objects.get().supplier.name == "Board yard"


def test_text_that_would_run_is_kept_as_text(stocked):
    builders.add_meter(stocked, "=1+1")
    take(stocked, "readings", csv_of(reading(meter="=1+1")))
    assert MoistureReading.objects.get().meter == "=1+1"


def test_ten_thousand_rows_with_one_bad_take_nothing(stocked):
    rows = [reading(moisture_pct=f"{8 + n % 5}.{n % 10}") for n in range(10_000)]
    rows[7000]["moisture_pct"] = "201"
    judged = judge(stocked, "readings", csv_of(*rows))
    assert told(judged) == [(7002, "moisture_pct", "201")]
    assert "at most 200" in judged.faults[0].allowed
    with pytest.raises(WrongValue):
        files.take(stocked.site, judged, by=stocked.stores)
    assert MoistureReading.objects.count() == 0


def test_every_bad_row_is_listed(stocked):
    rows = [reading(moisture_pct="-1", lot=f"X-{n}") for n in range(500)]
    judged = judge(stocked, "readings", csv_of(*rows))
    assert {row for row, _column, _value in told(judged)} == set(range(2, 502))
    assert len(judged.faults) == 1000


def test_what_turns_wrong_on_the_way_undoes_everything(stocked):
    data = csv_of(delivery(docket="D-5", lot="N-5"), delivery(docket="D-6", lot="N-6"))
    judged = judge(stocked, "deliveries", data)
    take(stocked, "deliveries", csv_of(delivery(docket="D-6", lot="N-60")))
    with refuses(WrongValue, "docket"):
        files.take(stocked.site, judged, by=stocked.stores, at=LATER)


def test_whoever_leaves_before_the_end_has_taken_nothing(stocked):
    data = csv_of(delivery(docket="D-5", lot="N-5"), delivery(docket="D-6", lot="N-6"))
    steps = files.taking(
        stocked.site, judge(stocked, "deliveries", data), by=stocked.stores, at=LATER
    )
    before = rows_stored()
    assert next(steps) == 1
    steps.close()
    assert rows_stored() == before


@pytest.mark.parametrize("role", refused_roles("stock.file_taken"))
def test_other_roles_take_no_file(stocked, role):
    judged = judge(stocked, "readings", csv_of(reading()))
    with refuses(NotAllowed, logged=["audit.refused"]):
        files.take(stocked.site, judged, by=actor(stocked, role), at=LATER)


# What is refused, at the page

SOUND = xlsx_of(HEADING, list(reading().values()))
OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600 + "EncryptedPackage".encode("utf-16-le")
SHEET = "xl/worksheets/sheet1.xml"


def sheets(number):
    file = io.BytesIO()
    book = xlsxwriter.Workbook(file, {"in_memory": True})
    for _sheet in range(number):
        book.add_worksheet().write_row(0, 0, HEADING)
    book.close()
    return file.getvalue()


def locked():
    """A zip whose first part says that it is encrypted."""
    data = bytearray(SOUND)
    data[data.index(b"PK\x01\x02") + 8] |= 1
    return bytes(data)


READINGS = {
    "empty": (b"", 422), "white space": (b" \r\n ", 422), "heading alone": (csv_of(columns=HEADING), 422),
    "missing column": (csv_of(reading(), columns=HEADING[:3]), 422),
    "extra column": (csv_of(reading(colour="red")), 422),
    "repeated column": (csv_of(reading()).replace(b"meter", b"lot"), 422),
    "no heading": (csv_of(reading()).split(b"\n", 1)[1], 422),
    "UTF-16": (csv_of(reading(), encoding="utf-16"), 415),
    "UTF-16 without a mark": (csv_of(reading(), encoding="utf-16-le"), 422),
    "another encoding": (csv_of(reading(meter="Größe"), encoding="cp1252"), 422),
    "unclosed quote": (csv_of(reading()) + b'L-A,"8.5,pin 1,2026-02-04 23:00\r\n', 422),
    "line too short": (csv_of(reading()) + b"L-A,8.5\r\n", 422),
    "line too long": (csv_of(reading()) + b"L-A,8.5,pin 1,2026-02-04 23:00,more\r\n", 422),
    "too large": (b"lot,moisture\n" + b"a" * 10_000_001, 413),
    "too many rows": (csv_of(reading()) + b"\r\n" * 100_001, 413),
    "picture called a list": (png(), 415),
    "unknown lot": (csv_of(reading(lot="L-Z")), 422),
    "moisture below zero": (csv_of(reading(moisture_pct="-1")), 422),
    "moisture over 200": (csv_of(reading(moisture_pct="200.1")), 422),
    "moisture that is none": (csv_of(reading(moisture_pct="dry")), 422),
    "too many decimals": (csv_of(reading(moisture_pct="8.123")), 422),
    "another unit": (csv_of(reading(moisture_pct="8 kg")), 422),
    "a thousand or a decimal": (csv_of(reading(moisture_pct="8,125")), 422),
    "31 February": (csv_of(reading(read_at="2026-02-31 10:00")), 422),
    "year 1": (csv_of(reading(read_at="0001-01-01 10:00")), 422),
    "year 9999": (csv_of(reading(read_at="9999-12-31 10:00")), 422),
    "the future": (csv_of(reading(read_at="2126-02-05 10:00")), 422),
    "before it came": (csv_of(reading(read_at="2026-01-05 10:00")), 422),
    "day or month first": (csv_of(reading(read_at="4/2/2026")), 422),
    "control character": (csv_of(reading(meter="pin\x071")), 422),
    "meter of many letters": (csv_of(reading(meter="x" * 41)), 422),
}  # fmt: skip
WORKBOOKS = {
    "no zip": (b"PK" + b"x" * 100, 415), "zip without workbook": (zipped(**{"a.txt": "a"}), 415),
    "password": (OLE, 415), "encrypted part": (locked(), 415), "truncated": (SOUND[: len(SOUND) // 2], 415),
    "macros": (workbook_and(SOUND, **{"xl/vbaProject.bin": b"x"}), 415),
    "links to other files": (workbook_and(SOUND, **{"xl/externalLinks/externalLink1.xml": b"<x/>"}), 422),
    "path tricks": (workbook_and(SOUND, **{"../../etc/cron.d/x": b"x"}), 422),
    "absolute path": (workbook_and(SOUND, **{"/etc/passwd": b"x"}), 422),
    "bomb by size": (workbook_and(SOUND, **{SHEET: b" " * 100_000_001}), 413),
    "bomb by ratio": (workbook_and(SOUND, **{SHEET: b" " * 20_000_000}), 413),
    "empty cells": (workbook_and(SOUND, **{SHEET: cells(7_000_000)}), 413),
    "more than fifty sheets": (sheets(51), 413),
    "entities": (workbook_and(SOUND, **{"xl/sharedStrings.xml": laughing()}), 422),
    "entity in UTF-16": (workbook_and(SOUND, **{"xl/sharedStrings.xml": laughing().replace("<?xml version=\"1.0\"?>", "").encode("utf-16")}), 422),
    "formula": (xlsx_of(HEADING, list(reading().values()), formula=(1, 1, "=4+4", None, 8)), 422),
    "error cell": (xlsx_of(HEADING, ["L-A", float("nan"), "pin 1", "2026-02-04 23:00"]), 422),
}  # fmt: skip
CASES = {name: ("readings", data, "rows.csv", status) for name, (data, status) in READINGS.items()}
CASES |= {name: ("readings", data, "rows.xlsx", status) for name, (data, status) in WORKBOOKS.items()}  # fmt: skip
CASES |= {
    name: ("deliveries", csv_of(*rows), "rows.csv", 422)
    for name, rows in {
        "docket twice": [delivery(), delivery(docket="D-2", lot="N-2"), delivery(lot="N-3")],
        "docket with two dates": [delivery(), delivery(lot="N-2", delivered="2026-02-01")],
        "lot twice": [delivery(), delivery(docket="D-2")],
        "lot in the store": [delivery(lot="l-a")],
        "docket received before": [delivery(docket="D-L-A")],
        "treated": [delivery(untreated="no")],
        "half a board": [delivery(received="2.5")],
        "no boards": [delivery(received="0")],
        "more than a lorry": [delivery(received="5001")],
        "unknown product": [delivery(product="Marble")],
        "unknown bay": [delivery(bay="Bay 9")],
        "a sheet of a tonne": [delivery(sheet_mass_kg="1000")],
    }.items()
}
CASES |= {
    name: ("counts", csv_of(*rows), "rows.csv", 422)
    for name, rows in {
        "lot counted twice": [count(), count(lot="l-a")],
        "half a board counted": [count(counted="1.5")],
        "fewer than none": [count(counted="-1")],
    }.items()
}


def send(client, kind, data, name, **more):
    upload = SimpleUploadedFile(name, data)
    return client.post(f"/store/files/{kind}/", {"file": upload, "once": "k", "do": "take", **more})


def test_every_bad_file_is_refused_whole_by_name(stocked, signed_in, subtests):
    client, before = signed_in(stocked.stores), rows_stored()
    for name, (kind, data, file_name, status) in CASES.items():
        with subtests.test(name):
            response = send(client, kind, data, file_name)
            assert response.status_code == status
            judged = response.context["judged"]
            assert judged.faults and all(each.allowed for each in judged.faults)
            assert "Nothing was taken" in response.text
            assert rows_stored() == before


def test_a_page_without_a_file_says_so(stocked, signed_in):
    response = signed_in(stocked.stores).post("/store/files/readings/", {"once": "k"})
    assert response.status_code == 400
    assert response.context["form"].errors["file"]
    assert signed_in(stocked.stores).get("/store/files/strange/").status_code == 404


def test_the_page_reads_then_takes_then_knows_the_file(stocked, signed_in):
    """The clock of the machine is past the readings of this ground."""
    assert timezone.now() > LATER
    client, data = signed_in(stocked.stores), csv_of(reading(), reading(moisture_pct="9"))
    first = send(client, "readings", data, "rows.csv", do="read")
    assert (first.status_code, MoistureReading.objects.count()) == (200, 0)
    assert "2 rows could be taken" in first.text
    taken = send(client, "readings", data, "rows.csv")
    page = b"".join(taken.streaming_content).decode()
    assert "2 rows are taken." in page and "<progress" in page
    assert MoistureReading.objects.count() == 2
    again = send(client, "readings", data, "other name.csv", once="k2")
    assert again.status_code == 409
    assert f"/store/files/#{StoreFile.objects.get().public_id}" in again.text
    assert MoistureReading.objects.count() == 2


def test_columns_are_explained_on_the_page_and_remembered(stocked, signed_in):
    client = signed_in(stocked.stores)
    data = csv_of(reading()).replace(b"moisture_pct", b"Wert")
    assert send(client, "readings", data, "a.csv", do="read").status_code == 422
    chosen = {"heading_0": "Wert", "column_0": "moisture_pct"}
    kept = send(client, "readings", data, "a.csv", **{**chosen, "do": "remember"})
    assert "These columns are remembered." in kept.text
    assert send(client, "readings", data, "a.csv", do="read").status_code == 200


# What is written


def test_lists_come_as_csv_and_workbook_run_nothing_and_name_the_head(stocked, signed_in):
    builders.add_meter(stocked, '=HYPERLINK("x")')
    take(stocked, "readings", csv_of(reading(meter='=HYPERLINK("x")')))
    client = signed_in(stocked.auditor)
    for what in ("on_hand", "movements", "deliveries", "readings"):
        got = b"".join(client.get(f"/store/lists/{what}.csv?start=2026-01-01").streaming_content)
        lines = list(csv.reader(io.StringIO(got.decode("utf-8-sig"), newline="")))
        assert "L-A" in lines[1]
        assert [line[0] for line in lines[-4:]] == ["log", "entries", "root", "head of"]
        book = client.get(f"/store/lists/{what}.xlsx?start=2026-01-01").content
        with zipfile.ZipFile(io.BytesIO(book)) as archive:
            assert b"<f>" not in archive.read(SHEET)
        about = openpyxl.load_workbook(io.BytesIO(book)).worksheets[1]
        assert [cell.value for cell in about["A"]] == ["log", "entries", "root", "head of"]
    assert "'=HYPERLINK" in got.decode("utf-8-sig")
    assert client.get("/store/lists/on_hand.pdf").status_code == 404
    assert client.get("/store/lists/people.csv").status_code == 404
