"""A picture is kept by an act, shown on its own ground, and never to anybody else."""

from __future__ import annotations

import hashlib

import pytest
from django.test import Client

from records.audit.middleware import MOST_SENT
from records.pictures.models import Picture, PictureData
from records.pictures.reading import read_photograph
from records.pictures.selectors import bytes_of
from records.pictures.services import keep_picture
from records.stock import receiving
from tests.builders import NOW, deliver
from tests.photographs.drawing import photo


def photographed(ground) -> Picture:
    lot = deliver(ground)
    return receiving.photograph_docket(
        lot.delivery, read_photograph(photo()), by=ground.stores, at=NOW
    )


def test_nothing_is_kept_without_an_open_door(ground):
    with pytest.raises(AssertionError):
        keep_picture(ground.site, read_photograph(photo()), by=ground.stores, at=NOW)
    assert not Picture.objects.exists()
    assert not PictureData.objects.exists()


def test_what_is_kept_is_what_is_shown(ground, signed_in):
    picture = photographed(ground)
    assert hashlib.sha256(bytes_of(picture)).hexdigest() == picture.kept_sha256
    answer = signed_in(ground.auditor).get(f"/pictures/{picture.public_id}/")
    assert (answer.status_code, answer.content) == (200, bytes_of(picture))
    assert answer["Content-Type"] == "image/jpeg"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Disposition"] == f'inline; filename="picture-{picture.public_id}.jpg"'
    assert answer["Cache-Control"] == "private, no-cache"
    assert answer["Cross-Origin-Resource-Policy"] == "same-origin"
    assert "default-src 'none'" in answer["Content-Security-Policy"]


def test_a_picture_seen_before_is_asked_for_but_not_sent_again(ground, signed_in):
    picture = photographed(ground)
    client, address = signed_in(ground.auditor), f"/pictures/{picture.public_id}/"
    mark = client.get(address)["ETag"]
    again = client.get(address, headers={"If-None-Match": mark})
    assert (again.status_code, again.content) == (304, b"")
    assert Client().get(address, headers={"If-None-Match": mark}).status_code == 302


def test_a_picture_of_another_ground_is_not_here(ground, other, signed_in):
    address = f"/pictures/{photographed(other).public_id}/"
    for person in (ground.stores, ground.auditor):
        assert signed_in(person).get(address).status_code == 404


class Endless:
    """A request's body that must not be read."""

    def read(self, *_size):
        raise AssertionError("the body was read")

    readline = read


FORM = {"wsgi.input": Endless(), "CONTENT_TYPE": "multipart/form-data; boundary=x"}


def test_a_request_of_200_mb_is_refused_before_it_is_read(ground, signed_in):
    client = signed_in(ground.stores)
    length = str(200 * 1024**2)
    answer = client.generic("POST", "/store/deliveries/new/", CONTENT_LENGTH=length, **FORM)
    assert answer.status_code == 413
    assert "200 MB were sent at once; at most 32 MB are taken." in answer.text


def test_a_request_of_the_most_that_is_taken_is_read(ground, signed_in):
    """The control: at the limit itself the body is asked for."""
    client = signed_in(ground.stores)
    with pytest.raises(AssertionError, match="was read"):
        client.generic("POST", "/store/deliveries/new/", CONTENT_LENGTH=str(MOST_SENT), **FORM)
