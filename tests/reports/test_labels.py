"""Labels for the packs of a lot: where they sit, what they say, and what their code holds."""

from __future__ import annotations

import html
import io
import re

import pikepdf
import pytest
import segno
from django.template.loader import render_to_string

from records.reports.labels import SHEETS, code_of, drawn, mark_size_pt, placed
from tests import builders


@pytest.mark.parametrize("key", SHEETS)
def test_labels_lie_on_their_sheet_and_apart_from_one_another(key):
    sheet = SHEETS[key]
    corners = [sheet.corner_mm(place) for place in range(sheet.places)]
    for number, (left, top) in enumerate(corners):
        assert -0.001 <= left <= sheet.page_mm[0] - sheet.width_mm + 0.001
        assert -0.001 <= top <= sheet.page_mm[1] - sheet.height_mm + 0.001
        for other_left, other_top in corners[:number]:
            aside = abs(left - other_left) >= sheet.width_mm - 0.001
            assert aside or abs(top - other_top) >= sheet.height_mm - 0.001


def test_the_measures_are_those_of_the_names():
    """Three of 70 mm are the width of A4 and eight of 37 mm its height but 1 mm: ISO 216."""
    assert SHEETS["70x37"].corner_mm(0) == (0, 0.5)
    assert SHEETS["70x37"].corner_mm(23) == (140, 259.5)
    assert SHEETS["99x38"].corner_mm(1)[0] == pytest.approx(4.75 + 99 + 2.5)


@pytest.mark.parametrize(
    ("packs", "start", "pages"),
    [
        (1, 1, [1]),
        (24, 1, [24]),
        (25, 1, [24, 1]),
        (3, 23, [2, 1]),
        (1, 24, [1]),
        (200, 1, [24] * 8 + [8]),
    ],
)
def test_a_used_sheet_is_begun_at_its_first_free_label(packs, start, pages):
    laid = placed(SHEETS["70x37"], packs, start)
    assert [len(page) for page in laid] == pages
    first = SHEETS["70x37"].corner_mm(start - 1)
    assert (laid[0][0].left_mm, laid[0][0].top_mm) == first
    assert [each.pack for page in laid for each in page] == list(range(1, packs + 1))


@pytest.mark.parametrize("key", SHEETS)
def test_a_long_mark_is_set_smaller_and_a_short_one_not_without_bound(key):
    sheet = SHEETS[key]
    assert mark_size_pt(sheet, "W" * 20) < mark_size_pt(sheet, "L-1")
    assert mark_size_pt(sheet, "L") * 25.4 / 72 <= sheet.height_mm / 4 + 0.1


def test_the_code_is_the_one_of_the_address():
    """ISO/IEC 18004 has one drawing for a text, level and mask; made here by another call."""
    address = "https://burns.example.org/store/lots/abcdefghjk/"
    code = code_of(address)
    assert (code.error, code.is_micro) == ("M", False)
    other = segno.make_qr(address, error="m", boost_error=False, version=code.version)
    assert (
        code.matrix == segno.make_qr(address, error="m", boost_error=False, mask=code.mask).matrix
    )
    assert other.designator == code.designator


def sheet_of(client, lot, **query) -> bytes:
    answer = client.get(f"/store/lots/{lot.public_id}/labels.pdf", query)
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    return answer.content


def test_each_label_says_lot_product_docket_and_which_pack(ground, signed_in, monkeypatch):
    """What goes to the printer, before it becomes a PDF."""
    monkeypatch.setattr(
        "records.reports.pdf.render_pdf",
        lambda name, context: render_to_string(name, context).encode(),
    )
    lot = builders.deliver(ground, emission_class="E1")
    page = sheet_of(signed_in(ground.stores), lot, size="70x37", packs="26", start="24").decode()
    words = html.unescape(re.sub(r"<[^>]+>", "", page))
    for said in (
        lot.code,
        "Test board",
        "E1",
        f"docket {lot.delivery.docket}",
        "20\u202fmm",
        "2.50",
    ):
        assert words.count(said) >= 26
    assert [words.count(f"pack {number} of 26") for number in range(28)] == [0, *[1] * 26, 0]
    address = f"http://testserver/store/lots/{lot.public_id}/"
    assert page.count(str(drawn(code_of(address)))) == 26


def test_a_sheet_that_was_begun_goes_on_over_three_pages(ground, signed_in):
    lot = builders.deliver(ground)
    pdf = sheet_of(signed_in(ground.stores), lot, size="70x37", packs="26", start="24")
    assert len(pikepdf.open(io.BytesIO(pdf)).pages) == 3


@pytest.mark.parametrize(
    ("key", "points"),
    [("70x37", (595.3, 841.9)), ("102x51", (612, 792)), ("a5", (595.3, 419.5))],
)
def test_the_page_has_the_size_of_the_sheet(ground, signed_in, key, points):
    """In points of 1/72 inch: A4, Letter and A5 across."""
    pdf = sheet_of(signed_in(ground.stores), builders.deliver(ground), size=key, packs="1", start="1")  # fmt: skip
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        box = [float(each) for each in opened.pages[0].mediabox]
    assert (box[2], box[3]) == pytest.approx(points, abs=0.5)


BAD = [
    {"size": "80x80", "packs": "1", "start": "1"}, {"size": "70x37", "packs": "0", "start": "1"},
    {"size": "70x37", "packs": "201", "start": "1"}, {"size": "70x37", "packs": "-3", "start": "1"},
    {"size": "70x37", "packs": "1e9", "start": "1"}, {"size": "70x37", "packs": "2.5", "start": "1"},
    {"size": "70x37", "packs": "1", "start": "0"}, {"size": "70x37", "packs": "1", "start": "25"},
    {"size": "a5", "packs": "1", "start": "2"}, {"size": "70x37"},
]  # fmt: skip


@pytest.mark.parametrize("query", BAD)
def test_what_makes_no_sheet_is_refused(ground, signed_in, query):
    lot = builders.deliver(ground)
    answer = signed_in(ground.stores).get(f"/store/lots/{lot.public_id}/labels.pdf", query)
    assert answer.status_code == 400
    assert answer.context["form"].errors


def test_scanning_leads_through_signing_in_to_the_lot(ground, client):
    lot = builders.deliver(ground)
    address = f"/store/lots/{lot.public_id}/"
    first = client.get(address)
    assert first["Location"] == f"/sign-in/?next={address}"
    given = {"sign_in": "test-stores", "password": builders.PASSWORD}
    assert client.post(first["Location"], given)["Location"] == address
