"""The burn on one page: what it tells, and that the window and the groups are asked of the server."""

from __future__ import annotations

import base64
import datetime as dt
import re

import pytest
from django.urls import reverse

from facility.calc.fitting import Factors
from records.burns import services as burns
from records.capture.comparing import Compared, compared, errors_over
from records.capture.fitting import evidence_of, fit_unit
from records.capture.measuring import measured_of
from records.capture.page import noted, phases, recording_of
from records.capture.selectors import files_of
from records.capture.series import groups_of
from records.ground.services import choose_units
from tests import builders
from tests.builders import NOW
from tests.capture.burning import column, recorded_burn


@pytest.fixture
def burn(ground):
    builders.accepted_lot(ground)
    return recorded_burn(ground, column(ground), factors=Factors(1.0, 1.0, 0.6))


def address(burn, query=""):
    return reverse("capture:recorded", args=[burn.public_id]) + query


def picture_in(text):
    return base64.b64decode(re.search(r"data:image/svg\+xml;base64,([^\"]+)", text)[1]).decode()


def fresh(burn):
    from records.burns.selectors import burn_here

    return burn_here(burn.site, burn.public_id)


def test_the_page_tells_layer_forecast_dose_and_time_above(burn, ground, signed_in):
    page = signed_in(ground.instructor).get(address(burn)).text
    for words in ("Hot layer up to", "Forecast and recording", "Heat where people work",
                  "standing", "kneeling", "Time above", "min:s"):  # fmt: skip
        assert words in page
    assert 'class="u">s<' not in page.split("Time above")[1].split("</table>")[0]


def test_a_layer_made_by_the_model_is_measured_as_the_model_made_it(ground):
    """The column is cut from the forecast's own course, so the comparison must find little between
    them: 5 % of the peak and 0.25 m, for thermocouples that stand 0.4 m apart."""
    builders.accepted_lot(ground)
    burn = fresh(recorded_burn(ground, column(ground)))
    told = recording_of(burn, files_of(burn))
    rows = {row.key: row for row in compared(told.measured, told.forecast)}
    assert abs(rows["peak"].error) < 0.05 * rows["peak"].raw
    assert abs(rows["half"].error) < 15
    assert abs(rows["growing"].error) < 15
    assert abs(rows["lowest"].error) < 0.25


def test_zoom_and_groups_are_answered_with_the_picture_alone(burn, ground, signed_in):
    reader = signed_in(ground.instructor)
    whole = picture_in(reader.get(address(burn)).text)
    part = reader.get(address(burn, "?since=2&until=4"), headers={"HX-Request": "true"}).text
    assert "<html" not in part
    assert picture_in(part) != whole
    off = reader.get(address(burn, "?groups=boxes"), headers={"HX-Request": "true"}).text
    assert picture_in(off).count("<path") < whole.count("<path")


@pytest.mark.parametrize("query", ["?since=x&until=1e99", "?since=5&until=5", "?since=9&until=2", "?since=nan&until=inf", "?show=magic"])  # fmt: skip
def test_a_strange_window_is_no_error(burn, ground, signed_in, query):
    assert signed_in(ground.instructor).get(address(burn, query)).status_code == 200


def test_events_of_any_kind_are_numbered_and_phases_follow_the_stages(ground):
    builders.accepted_lot(ground)
    lit = builders.lit(ground)

    def note(minute, kind, **seen):
        when = lit.ignited_at + dt.timedelta(minutes=minute)
        burns.note_event(lit, kind=kind, happened_at=when, by=ground.instructor, at=when, **seen)

    note(2, "stage", stage="growth")
    note(3, "neutral_plane", height_m=1)
    note(6, "stage", stage="decay")
    told = fresh(lit)
    assert [(each.number, each.after_s) for each in noted(told)] == [("1", 120), ("2", 180), ("3", 360)]  # fmt: skip
    assert [(each.start, each.end) for each in phases(told, 10.0)] == [(2, 6), (6, 10)]


def test_us_readers_see_their_units(burn, ground, signed_in):
    reader = signed_in(ground.instructor)
    metric = reader.get(address(burn)).text
    choose_units(ground.site, ground.instructor, system="US")
    us = reader.get(address(burn)).text
    assert "°F" not in metric
    assert "°F" in us
    assert "°F" in picture_in(us)


def test_headings_tell_group_and_height_where_no_sensor_does(ground):
    builders.accepted_lot(ground)
    burn = builders.closed(ground)
    data = b"Time,Quadrant A Temperature 0.3 m Below Ceiling,Quadrant A Temperature 0.9 m Below Ceiling,Quadrant A Temperature 1.5 m Below Ceiling,TC_B_1\n0,20,20,20,20\n60,400,300,30,20\n120,500,400,40,20\n"
    builders.logged(ground, burn, data=data)
    files = files_of(burn)
    assert groups_of(files, "temperature", 2.4) == ["Quadrant A Temperature", "TC_B"]
    measured = measured_of(burn, files)
    assert measured.column == "Quadrant A Temperature"
    assert measured.heights.tolist() == pytest.approx([0.9, 1.5, 2.1], abs=0.11)


def test_errors_over_burns_by_hand():
    rows = [
        [Compared("peak", "peak", "degC", 500.0, 520.0, 505.0)],
        [Compared("peak", "peak", "degC", 540.0, 520.0, 535.0)],
        [Compared("peak", "peak", "degC", None, 520.0)],
    ]
    (found,) = errors_over(rows)
    assert (found.burns, found.bias, found.scatter) == (2, 0.0, 20.0)
    assert (found.fitted_bias, found.fitted_scatter) == (0.0, 5.0)


def test_the_units_page_has_factors_errors_and_burns(burn, ground, signed_in):
    reader = signed_in(ground.instructor)
    page = reverse("capture:fires", args=[ground.unit.public_id])
    assert "No factors yet" in reader.get(page).text
    fit_unit(ground.unit, by=ground.instructor, at=NOW + dt.timedelta(days=1))
    text = reader.get(page).text
    for words in ("Factors rest on 1 burn", "fewer than 5 burns", "heat taken by the walls",
                  "How far the forecast is off"):  # fmt: skip
        assert words in text
    assert evidence_of(ground.unit)[0].left_out == ""


def test_the_button_fits_anew(burn, ground, signed_in):
    reader = signed_in(ground.instructor)
    sent = reader.post(reverse("capture:fit", args=[ground.unit.public_id]), {"once": "fit-1"})
    assert sent.status_code == 302
    again = reader.post(reverse("capture:fit", args=[ground.unit.public_id]), {"once": "fit-1"})
    assert again.status_code < 500
    from records.ground.models import UnitFit

    assert UnitFit.objects.count() == 1


def test_the_page_as_a_document(burn, ground, signed_in):
    answer = signed_in(ground.instructor).get(
        reverse("reports:recorded_pdf", args=[burn.public_id])
    )
    assert answer.status_code == 200
    assert answer.content.startswith(b"%PDF")
