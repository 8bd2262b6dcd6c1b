"""Part by part: what was found at each, with its note and photograph, and the defects it opens."""

from __future__ import annotations

import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from facility.refusals import WrongValue
from records.audit.models import Entry
from records.inspections.checklists import LISTS, all_in_order
from records.inspections.looking import Look
from records.inspections.models import Defect, Inspection, InspectionItem, PartLook
from records.inspections.selectors import unit_state
from records.inspections.services import DefectFound
from records.pictures.models import Picture, PictureData
from records.pictures.reading import MOST_BYTES, read_photograph
from tests import builders
from tests.asking import refuses, writes
from tests.builders import NOW
from tests.forms_table import FORMS
from tests.pages import Things, rows
from tests.photographs.drawing import photo

ACT = "inspections.unit_inspected"


def inspect(ground, **changes):
    return builders.inspect(ground, ground.unit, at=NOW, **changes)


def door(ground):
    return ground.unit.openings.get().public_id


def test_a_part_is_kept_with_its_note_and_photograph_and_opens_its_defect(ground):
    shot = read_photograph(photo())
    with writes(ACT, Inspection, InspectionItem, PartLook, Defect, Picture, PictureData):
        inspect(
            ground, outcome="unfit",
            looks={"roof": Look("monitor", "sags"), door(ground): Look("unfit", "hinge torn", shot)},
        )  # fmt: skip
    defect = ground.unit.defects.get()
    assert (defect.part, defect.place, defect.severity) == (door(ground), "door", "unsafe")
    look = PartLook.objects.get(part=door(ground))
    assert (look.defect, look.name) == (defect, "door")
    assert look.picture.kept_sha256 in Entry.objects.latest("seq").body
    assert unit_state(ground.unit, NOW).word == "out_of_service"


def test_a_defect_at_a_part_restricts_and_one_with_more_to_say_is_not_opened_twice(ground):
    inspect(ground, outcome="defect", looks={"roof": Look("defect", "bulge")})
    assert ground.unit.defects.get().severity == "restricts"
    told = DefectFound("unsafe", "", "bulge over the seat", "roof", no_entry=True)
    inspect(ground, outcome="defect", looks={"roof": Look("defect", "bulge")}, defect=told)
    assert ground.unit.defects.count() == 2
    assert PartLook.objects.latest("pk").defect.no_entry


@pytest.mark.parametrize(
    ("field", "given"),
    [
        ("outcome", {"outcome": "good", "looks": {"roof": Look("monitor", "sags")}}),
        ("outcome", {"outcome": "defect", "looks": {"roof": Look("unfit", "open")}}),
        ("part", {"outcome": "monitor", "looks": {"chimney": Look("monitor", "sags")}}),
        ("result_roof", {"outcome": "monitor", "looks": {"roof": Look("awful", "sags")}}),
        ("result_roof", {"outcome": "monitor", "looks": {"roof": Look("", "a note alone")}}),
        ("note_roof", {"outcome": "defect", "looks": {"roof": Look("defect", " ")}}),
        ("note_roof", {"outcome": "monitor", "looks": {"roof": Look("monitor", "x" * 501)}}),
        ("items", {"kind": "lining", "items": all_in_order("structural")}),
    ],
)
def test_what_cannot_be_is_refused_whole(ground, field, given):
    with refuses(WrongValue, field):
        inspect(ground, **given)


@pytest.mark.parametrize("kind", LISTS)
def test_each_kind_has_its_own_list_and_keeps_it(ground, kind):
    inspection = inspect(ground, kind=kind)
    assert [each.item for each in inspection.items.order_by("pk")] == list(all_in_order(kind))


# -- on the page --------------------------------------------------------------------------


@pytest.fixture
def things(db) -> Things:
    return Things()


def send(things, signed_in, data, **more):
    good = FORMS["inspect"].good(things)
    given = {**good, "outcome": "defect", "result_roof": "monitor", "note_roof": "sags",
             "picture_roof": SimpleUploadedFile("roof.jpg", data), **more}  # fmt: skip
    before = rows()
    answer = signed_in(things.ground.inspector).post(things.address("inspections:inspect"), given)
    return answer, rows() == before


def test_a_photograph_taken_at_a_part_is_kept(things, signed_in):
    answer, unchanged = send(things, signed_in, photo(400, 300))
    assert (answer.status_code, unchanged) == (302, False)
    assert PartLook.objects.get().picture.width == 400
    page = signed_in(things.ground.auditor).get(things.address("inspections:unit"))
    assert "sags" in page.text


@pytest.mark.parametrize(
    ("data", "words"),
    [(b"%PDF-1.7 no picture", "cannot be read"), (photo() + bytes(MOST_BYTES), "at most 15 MB")],
)
def test_what_is_no_picture_is_refused_beside_its_part(things, signed_in, data, words):
    answer, unchanged = send(things, signed_in, data)
    assert (answer.status_code, unchanged) == (400, True)
    assert words in str(answer.context["form"].errors["picture_roof"])


def test_a_request_of_200_mb_is_refused_before_it_is_read(things, signed_in):
    """The server refuses by the length it is told; nothing of the body is needed."""
    answer = signed_in(things.ground.inspector).post(
        things.address("inspections:inspect"), b"x", content_type="multipart/form-data; boundary=x",
        CONTENT_LENGTH=str(200 * 1024 * 1024),
    )  # fmt: skip
    assert answer.status_code == 413


def test_every_part_is_in_the_list_beside_the_drawing(things, signed_in):
    text = signed_in(things.ground.inspector).get(things.address("inspections:inspect")).text
    drawn = set(re.findall(r'data-part="(\w+)"', text))
    listed = set(re.findall(r'data-look="(\w+)"', text))
    assert drawn
    assert drawn <= listed
