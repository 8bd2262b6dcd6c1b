"""The photograph of a docket: at the lorry or later, and its absence is said."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from facility.refusals import AlreadyDone
from records.audit.models import Entry
from records.pictures.models import Picture, PictureData
from records.pictures.reading import MOST_BYTES, read_photograph
from records.stock import receipts, receiving
from records.stock.models import Delivery, DocketPicture
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW
from tests.forms_table import FORMS
from tests.pages import Things, rows
from tests.photographs.drawing import photo, png_of_size

ACT = "stock.docket_photographed"


def photograph(ground, lot, **changes):
    given = {"by": ground.stores, "at": NOW, **changes}
    return receiving.photograph_docket(lot.delivery, read_photograph(photo()), **given)


def test_a_photograph_is_added_to_a_docket_that_has_none(ground, signed_in):
    lot = builders.deliver(ground)
    pages = [f"/store/lots/{lot.public_id}/", f"/store/deliveries/{lot.delivery.public_id}/", "/store/deliveries/"]  # fmt: skip
    reader = signed_in(ground.auditor)
    assert all("no photograph" in reader.get(page).text for page in pages)
    with writes(ACT, Picture, PictureData, DocketPicture):
        picture = photograph(ground, lot)
    assert not any("no photograph" in reader.get(page).text for page in pages)
    assert f'"picture_sha256":"{picture.kept_sha256}"' in Entry.objects.latest("seq").body


def test_a_docket_has_several_pages(ground):
    lot = builders.deliver(ground)
    photograph(ground, lot)
    photograph(ground, lot)
    assert len(receipts.pictures_of(lot.delivery)) == 2


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not(ground, role):
    lot = builders.deliver(ground)
    with refuses_role():
        photograph(ground, lot, by=actor(ground, role))


def test_the_same_form_sent_twice_keeps_one(ground):
    lot = builders.deliver(ground)
    photograph(ground, lot, once="k")
    with refuses(AlreadyDone):
        photograph(ground, lot, once="k")


# -- the upload itself, on both pages that take one ----------------------------------------


@pytest.fixture
def things(db) -> Things:
    return Things()


def sent(things, signed_in, data: bytes, page: str, name: str = "docket.jpg"):
    """Send a file as a browser would; says the answer and whether nothing was written."""
    given = {"once": "k", "picture": SimpleUploadedFile(name, data)}
    if page == "stock:delivery_new":
        given |= FORMS["delivery"].good(things)
    address, before = things.address(page), rows()
    answer = signed_in(things.ground.stores).post(address, given)
    return answer, rows() == before


PAGES = ["stock:delivery_new", "stock:docket_picture"]


@pytest.mark.parametrize("page", PAGES)
def test_a_photograph_sent_is_kept_with_its_docket(things, signed_in, page):
    answer, unchanged = sent(things, signed_in, photo(400, 300), page)
    assert (answer.status_code, unchanged) == (302, False)
    kept = DocketPicture.objects.get()
    assert (kept.picture.width, kept.picture.height) == (400, 300)
    docket = "D-900" if page == "stock:delivery_new" else things.lot.delivery.docket
    assert kept.delivery.docket == docket
    entry = Entry.objects.latest("seq")
    assert kept.picture.kept_sha256 in entry.body


REFUSED = {
    "no picture": (b"%PDF-1.7 a docket", "cannot be read"),
    "nothing": (b"", "cannot be read"),
    "cut short": (photo(800, 600)[:-900], "cannot be read"),
    "heic": (b"\x00\x00\x00\x18ftypheic" + bytes(50), "HEIC"),
    "too large": (photo() + bytes(MOST_BYTES), "15.0 MB; at most 15 MB"),
    "a bomb": (png_of_size(12_000, 12_000), "50 million pixels"),
}


@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize("case", REFUSED)
def test_what_is_no_picture_is_refused_beside_its_field_and_nothing_is_stored(
    things, signed_in, page, case
):
    data, words = REFUSED[case]
    answer, unchanged = sent(things, signed_in, data, page)
    assert answer.status_code == 400
    assert unchanged
    assert words in str(answer.context["form"].errors["picture"])
    if page == "stock:delivery_new":
        assert "Take or choose the photograph again" in answer.text
        assert "D-900" in answer.text


def test_without_a_photograph_a_delivery_is_taken_all_the_same(things, signed_in):
    answer = signed_in(things.ground.stores).post(
        "/store/deliveries/new/", FORMS["delivery"].good(things) | {"once": "k"}
    )
    assert answer.status_code == 302
    made = Delivery.objects.get(docket="D-900")
    assert receipts.pictures_of(made) == []
    assert made.recorded_at <= timezone.now()
